"""The only door from the pages to the engine: which runs there are, and the result of one.

Results are read from a folder, `<results>/<drill>/<run>.json`, every time their file changes; what was read is
kept under the file's name, time and size, and is never altered. Keys in an address are compared with the folder's
own names and never become part of a path.
"""

import functools
import os
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import unquote

from analyzer.errors import AnalyzerError
from analyzer.files.names import RUN_FILE, RUNS
from analyzer.files.results.result_json import read_result
from analyzer.files.run_toml import read_run_toml
from analyzer.files.source import file_stamp
from analyzer.model.recording import NO_WORDS, RunWords, words_of
from analyzer.model.result import RunResult
from analyzer.workspace.intake.store import drill_paths
from analyzer.workspace.layout import EVERY_RESULT
from analyzer.workspace.unforeseen import unforeseen_line
from dashboard.services.reference import reference_walk
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.view_models.reference_stretch import ReferenceStretch
from dashboard.view_models.run_summary import run_entry

KEPT_RESULTS, KEPT_ENTRIES = 64, 16384
Stamp = tuple[str, int, int]
"""A file's path, time and size."""


class RunMissingError(LookupError):
    """There is no such run in the results folder."""


@dataclass(frozen=True, slots=True)
class Service:
    """The results in one folder. `drill_folders`, `workspace`: where the files are that they are of, if at hand."""

    results: Path
    drill_folders: tuple[Path, ...] = ()
    workspace: Path | None = None

    def drills(self) -> tuple[DrillEntry, ...]:
        """Return every drill of the folder with its runs."""
        found: dict[str, list[RunEntry]] = {}
        folders = self._folders()
        for (drill, run), path in self._files().items():
            words = words_at(folders.get(drill), run)
            found.setdefault(drill, []).append(_entry(drill, run, words, *file_stamp(path)))
        return tuple(
            DrillEntry(key, next((e.drill_name for e in runs if e.drill_name), key), tuple(runs))
            for key, runs in found.items()
        )

    def result(self, drill: str, run: str) -> RunResult:
        """Return the result of one run, with what people say of it now.

        Parameters
        ----------
        drill, run : str
            Names as in the folder, or as they stand in an address.

        Raises
        ------
        RunMissingError
            Where the folder has no such run.
        AnalyzerError
            Where the file cannot be used.
        """
        files = self._files()
        path = files.get((drill, run)) or files.get((unquote(drill), unquote(run)))
        if path is None:
            raise RunMissingError(f"{unquote(drill)}/{unquote(run)}")
        run_file = self._folders().get(path.parent.name, Path()) / RUNS / path.stem / RUN_FILE
        return _with_words(file_stamp(path), file_stamp(run_file))

    def others(self, drill: str, run: str) -> tuple[RunEntry, ...]:
        """Return the other runs of a drill whose results can be shown; names as in `result`."""
        files = {place: path for place, path in self._files().items() if place[0] in (drill, unquote(drill))}
        places = [place for place in files if place[1] not in (run, unquote(run))]
        found = (_entry(*place, NO_WORDS, *file_stamp(files[place])) for place in places)
        return tuple(entry for entry in found if entry.problem is None)

    def reference(self, result: RunResult) -> tuple[ReferenceStretch, ...]:
        """Return the reference searcher of a run in time."""
        return reference_walk(result)

    def _folders(self) -> dict[str, Path]:
        own = {} if self.workspace is None else drill_paths(self.workspace)
        return {folder.resolve().name: folder for folder in self.drill_folders} | own

    def _files(self) -> dict[tuple[str, str], Path]:
        if not self.results.is_dir():
            return {}
        return {(path.parent.name, path.stem): path for path in sorted(self.results.glob(EVERY_RESULT))}


@functools.lru_cache(maxsize=KEPT_RESULTS)
def _result(path: str, modified_ns: int, size: int) -> RunResult:
    """Return a result file's content; the time and size of the file are part of the key only."""
    del modified_ns, size
    return read_result(Path(path))


@functools.lru_cache(maxsize=KEPT_RESULTS)
def _with_words(result: Stamp, run_file: Stamp) -> RunResult:
    """Return a result with the words of its run's run.toml; the same object while neither file changes."""
    return replace(_result(*result), words=_words(*run_file))


def words_at(folder: Path | None, run: str) -> RunWords:
    """Return what people say of a run in the folder of its drill, nothing where that is not there or cannot be read."""
    if folder is None:
        return NO_WORDS
    # Asked for every run of the list: a text for a path takes half as long as one built of parts.
    path = f"{folder}/{RUNS}/{run}/{RUN_FILE}"
    try:
        status = os.stat(path)  # noqa: PTH116 - called for each of 10,000 runs
    except OSError:
        return NO_WORDS
    return _words(path, status.st_mtime_ns, status.st_size)


@functools.lru_cache(maxsize=KEPT_ENTRIES)
def _words(path: str, modified_ns: int, size: int) -> RunWords:
    del modified_ns
    if size < 0:
        return NO_WORDS
    try:
        return words_of(read_run_toml(Path(path)))
    except AnalyzerError:  # the run's own page says what is wrong with it
        return NO_WORDS


@functools.lru_cache(maxsize=KEPT_ENTRIES)
def _entry(drill: str, run: str, words: RunWords, path: str, modified_ns: int, size: int) -> RunEntry:
    """Return the line of a run; a file that cannot be used becomes a line that says why."""
    try:
        result = _result(path, modified_ns, size)
    except AnalyzerError as error:
        return RunEntry(drill, run, problem=str(error))
    except Exception as error:
        return RunEntry(drill, run, problem=unforeseen_line(f"{run}.json", "reading", error))
    return run_entry(drill, run, replace(result, words=words))
