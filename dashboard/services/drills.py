"""The files of the drills that can be laid out: which there are, opening one, and saving it. Nothing else of the page
touches files."""

import datetime as dt
import errno
import os
import re
import shutil
import tempfile
import unicodedata
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.names import DRILL_FILE, RUNS, check_new_name
from analyzer.files.source import read_bytes, sha256_hex, write_atomic, write_new
from analyzer.files.writers import write_drill_toml
from analyzer.model.drill import Drill
from analyzer.workspace.intake.originals import keep
from analyzer.workspace.intake.store import drill_paths
from analyzer.workspace.layout import DRILLS
from analyzer.workspace.lock import locked
from analyzer.workspace.unforeseen import unforeseen_line
from dashboard.services.laying_plan import laying_plan
from dashboard.view_models.drill_form import Form, example, form_of
from dashboard.view_models.laying_plan import LayingPlan

SAVING = f"{DRILLS}/.saving-lock"
"""Held while a drill is compared with what was opened and then replaced: of two who save at once, one comes second."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A drill to edit. `key`: its folder's name, empty for a new one. `sha256`: of its file. `runs`: how many it has.
    `problem`: why it cannot be opened, empty where it can. `start_known`: its file says where the search begins."""

    key: str
    name: str
    sha256: str = ""
    runs: int = 0
    problem: str = ""
    start_known: bool = True


@dataclass(frozen=True, slots=True)
class Saved:
    """What saving came to. `question`: what has to be answered first, empty where the drill was saved."""

    key: str
    sha256: str
    question: str = ""


@dataclass(frozen=True, slots=True)
class Drills:
    """The drills at hand, and the workspace that new ones are saved in."""

    folders: tuple[Path, ...] = ()
    workspace: Path | None = None

    def _places(self) -> dict[str, Path]:
        own = {} if self.workspace is None else drill_paths(self.workspace)
        return {folder.resolve().name: folder for folder in self.folders} | own

    def entries(self) -> tuple[Opened, ...]:
        """Return the drills that can be opened, by name of their folder; one that cannot be read says why."""
        return tuple(self._entry(key, folder) for key, folder in sorted(self._places().items()))

    def _entry(self, key: str, folder: Path) -> Opened:
        try:
            drill = read_drill_toml(folder / DRILL_FILE)
            known = drill.start_m is not None
            sha256 = sha256_hex(read_bytes(folder / DRILL_FILE))
            return Opened(key, drill.name, sha256, _runs(folder), start_known=known)
        except AnalyzerError as error:
            return Opened(key, key, problem=str(error))
        except Exception as error:
            return Opened(key, key, problem=unforeseen_line(f"{key}/{DRILL_FILE}", "reading", error))

    def opened(self, key: str) -> tuple[Opened, Form] | None:
        """Return a drill and its form, None where there is no drill of that name.

        Raises
        ------
        InputError
            Where its file cannot be read.
        """
        folder = self._places().get(key)
        if folder is None:
            return None
        entry = self._entry(key, folder)
        if entry.problem:
            raise InputError(where=key, what=entry.problem, do="mend the file in the drill's folder")
        return entry, form_of(read_drill_toml(folder / DRILL_FILE))

    def plan(self, key: str) -> LayingPlan | None:
        """Return the laying plan of a drill as it is saved, None where there is no drill of that name.

        Raises
        ------
        FileError, InputError
            Where its file cannot be read.
        """
        folder = self._places().get(key)
        return None if folder is None else laying_plan(key, read_drill_toml(folder / DRILL_FILE))

    def new(self) -> tuple[Opened, Form]:
        """Return an invented drill to begin with."""
        return Opened("", ""), example(dt.datetime.now(dt.UTC).astimezone().date().isoformat())

    def save(self, drill: Drill, opened: Opened, *, sure: bool = False) -> Saved:
        """Save a drill: a new one in a folder of its name, an opened one in its own folder.

        A drill that has runs is replaced only where `sure`; what it replaces is kept under its hash in `originals`.

        Raises
        ------
        InputError
            Where there is no workspace, the name is taken, the file was changed since it was opened, or the place is
            read-only or full. Nothing is changed then.
        """
        if self.workspace is None:
            raise InputError(where="drill", what="no workspace is open to save in", do="download the file instead")
        try:
            with locked(self.workspace / SAVING):  # what was read is still so when it is replaced
                return self._save(self.workspace, drill, opened, sure=sure)
        except OSError as error:
            raise _unwritten(opened.key or "drill", error) from None

    def _save(self, workspace: Path, drill: Drill, opened: Opened, *, sure: bool) -> Saved:
        if not opened.key:
            return self._save_new(drill.name, write_drill_toml(drill))
        folder = drill_paths(workspace).get(opened.key)
        if folder is None:
            raise InputError(
                where=opened.key,
                what="this drill is not in the workspace (any more)",
                do="save it as a new drill, or download the file",
            )
        before = read_bytes(folder / DRILL_FILE)
        if sha256_hex(before) != opened.sha256:
            raise InputError(
                where=opened.key,
                what="the drill was changed by someone else since this page opened it",
                do="save yours as a new drill under another name, or reload the page to see theirs",
            )
        data = write_drill_toml(with_unasked(drill, read_drill_toml(folder / DRILL_FILE)))
        runs = _runs(folder)
        if runs and not sure and before != data:
            count = "a run" if runs == 1 else f"{runs} runs"
            return Saved(
                opened.key,
                opened.sha256,
                f"This drill has {count} already. If you change where things "
                "lie, they are measured against the new layout at once. Change it all the same?",
            )
        keep(workspace, f"{opened.key}/drill.toml", [before], most=len(before))
        write_atomic(folder / DRILL_FILE, data)
        return Saved(opened.key, sha256_hex(data))

    def _save_new(self, name: str, data: bytes) -> Saved:
        drills = (self.workspace or Path()) / DRILLS
        key = folder_name(name)
        check_new_name(key, where="drill")
        if key in self._places() or os.path.lexists(drills / key):
            raise _taken(key)
        try:
            _new_folder(drills, key, data)
        except OSError as error:
            if error.errno in (errno.ENOTEMPTY, errno.EEXIST):  # a load put one there in the meantime
                raise _taken(key) from None
            raise
        return Saved(key, sha256_hex(data))


def with_unasked(drill: Drill, before: Drill) -> Drill:
    """Return a drill out of a form with what its file holds and no field of the form asks for."""
    return replace(drill, team=before.team, receivers=before.receivers)


def folder_name(name: str) -> str:
    """Return a folder's name for a drill: letters, digits and underscores."""
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "_", letters).strip("_")[:60].strip("_") or "drill"


def _runs(folder: Path) -> int:
    runs = folder / RUNS
    return sum(path.is_dir() for path in runs.iterdir()) if runs.is_dir() else 0


def _new_folder(drills: Path, key: str, data: bytes) -> None:
    """Put a folder with its file in place at once: a reader sees it whole or not at all."""
    drills.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(dir=drills, prefix=".new-"))
    try:
        write_new(made / DRILL_FILE, data)
        made.chmod(0o755)
        made.rename(drills / key)  # refuses where there is a folder with something in it by now
    except BaseException:
        shutil.rmtree(made, ignore_errors=True)
        raise


def _taken(key: str) -> InputError:
    return InputError(
        where="drill",
        what=f"there is a drill in the folder {key!r} already",
        do="give this one another name; the other drill was not touched, the fields are still here",
    )


def _unwritten(where: str, error: OSError) -> InputError:
    return InputError(
        where=where,
        what=f"the drill cannot be written ({error.strerror})",
        do="make room, or allow writing to the workspace; nothing was changed, the fields are still here",
    )
