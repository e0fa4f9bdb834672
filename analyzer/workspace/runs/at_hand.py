"""The runs that a workspace has, found by their names; a name from elsewhere never becomes part of a path."""

from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.cells import tables_of
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.folder import parse_run, run_folders, track_file
from analyzer.files.hashes import hash_now
from analyzer.files.log_table import has_column
from analyzer.files.log_words import MARK, READING
from analyzer.files.names import DRILL_FILE, LOG_FILES, MARKS_FILES, READINGS_FILES, RUN_FILE
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import read_bytes, regular_bytes, sha256_hex
from analyzer.model.drill import Drill
from analyzer.model.recording import RunInfo
from analyzer.workspace.intake.store import drill_paths

READ = (RUN_FILE, *LOG_FILES)
"""Files of a run, beside its track, that people add and replace."""
IN_THE_BIN = "open the page Bin: a run that was deleted or moved can be put back from there"


@dataclass(frozen=True, slots=True)
class RunAtHand:
    """A run of a workspace. `folder`: where it lies. `info`: what its run.toml says; `sha256`: of that file, "" where
    there is none. `files`: names of its files that are read. `problem`: why run.toml cannot be used, or ""."""

    drill: str
    run: str
    folder: Path
    info: RunInfo
    sha256: str
    files: tuple[str, ...]
    problem: str = ""

    @property
    def track_sha256(self) -> str:
        """SHA-256 of its track as it is now, "" where it has none that can be read."""
        return hash_now(track_file(self.folder))


def run_at_hand(workspace: Path, drill: str, run: str) -> RunAtHand:
    """Return a run.

    Raises
    ------
    InputError
        Where the workspace has no such run, or it is only a link to one elsewhere.
    """
    folder = next((path for path in _runs(workspace, drill) if path.name == run), None)
    if folder is None:
        raise InputError(where=f"{drill}/{run}", what="this run is not in the workspace (any more)", do=IN_THE_BIN)
    if folder.is_symlink() or folder.parent.is_symlink():
        raise InputError(where=f"{drill}/{run}", what="this run is a link to another folder", do="change it there")
    data = file_bytes(folder / RUN_FILE)
    try:
        info, problem = (RunInfo() if data is None else parse_run_toml(data)), ""
    except AnalyzerError as error:
        info, problem = RunInfo(), str(error)
    track = track_file(folder)
    names = tuple(name for name in READ if (folder / name).is_file())
    return RunAtHand(
        drill, run, folder, info, "" if data is None else sha256_hex(data), (*([track.name] if track else []), *names),
        problem,
    )  # fmt: skip


def same_log(name: str, other: str) -> bool:
    """Return whether two names of files are of one kind of log, of which a run has one."""
    return any(name in files and other in files for files in (READINGS_FILES, MARKS_FILES, (RUN_FILE,)))


def check_kinds_stay(found: RunAtHand, new: dict[str, bytes | None]) -> None:
    """Let files of a run be replaced only where it has readings and marks afterwards if it had them before.

    One workbook may hold both: readings that take its place would take the marks away unseen.

    Raises
    ------
    InputError
        Where a kind of log would be gone.
    """
    there = {name: file_bytes(found.folder / name) for name in found.files if name in LOG_FILES}
    after = there | {name: data for name, data in new.items() if name in LOG_FILES}
    for column, what in ((MARK, "marks"), (READING, "readings")):
        holding = [name for name, data in there.items() if _holds(name, data, column)]
        if holding and not any(_holds(name, data, column) for name, data in after.items()):
            raise InputError(
                where=f"{found.drill}/{found.run}",
                what=f"{holding[0]}, which this would replace, holds the {what} of the run as well",
                do=f"put the {what} in with it, in a file of their own or in the same workbook",
            )


def _holds(name: str, data: bytes | None, column: str) -> bool:
    try:
        return data is not None and has_column(tables_of(data, name=name), column)
    except AnalyzerError:  # nothing can be read of it, now as before
        return False


def run_names(workspace: Path, drill: str) -> tuple[str, ...]:
    """Return the names of a drill's runs, none where there is no such drill."""
    return tuple(path.name for path in _runs(workspace, drill))


def drill_at_hand(workspace: Path, drill: str) -> tuple[Path, Drill]:
    """Return the folder of a drill and what it is.

    Raises
    ------
    InputError
        Where the workspace has no such drill, or its file cannot be used.
    """
    folder = drill_paths(workspace).get(drill)
    if folder is None:
        raise InputError(where=drill, what="this drill is not in the workspace (any more)", do="choose another one")
    return folder, read_drill_toml(folder / DRILL_FILE)


def file_bytes(path: Path) -> bytes | None:
    """Return the bytes of a file of a run, None where there is none.

    Raises
    ------
    InputError
        Where it is larger than is read, or cannot be read.
    """
    return read_bytes(path) if path.is_file() and (regular_bytes(path) or b"").strip() else None


def check_fits(found: RunAtHand, drill: Drill, new: dict[str, bytes | None], *, before: Drill) -> None:
    """Let a run be changed only to what its drill's reader takes; one that is refused as it is may be mended in steps.

    `new`: name of a file -> its bytes, None where it goes. `before`: the drill that it is in; `drill`: the one to fit.

    Raises
    ------
    InputError
        With the reader's line.
    """
    there = {name: read_bytes(found.folder / name) for name in found.files}
    after = {name: data for name, data in (there | new).items() if data is not None}
    try:
        _parse(found.run, after, drill)
    except AnalyzerError:
        try:
            _parse(found.run, there, before)
        except AnalyzerError:
            return
        raise


def _parse(run: str, data: dict[str, bytes], drill: Drill) -> None:
    if not any(name not in READ for name in data):
        raise InputError(where=run, what="there is no track in the run's folder", do="load it as a new run")
    parse_run(run, data, drill)


def _runs(workspace: Path, drill: str) -> tuple[Path, ...]:
    folder = drill_paths(workspace).get(drill)
    try:
        return () if folder is None else run_folders(folder)
    except InputError:  # it has none
        return ()
