"""The only door from the pages to the engine: which runs there are, and the result of one.

Results are read from a folder, `<results>/<drill>/<run>.json`, every time their file changes; what was read is
kept under the file's name, time and size, and is never altered. Keys in an address are compared with the folder's
own names and never become part of a path.
"""

import functools
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

from analyzer.errors import AnalyzerError
from analyzer.files.results.result_json import read_result
from analyzer.files.source import file_stamp
from analyzer.model.result import RunResult
from analyzer.workspace.layout import EVERY_RESULT
from analyzer.workspace.unforeseen import unforeseen_line
from dashboard.services.reference import reference_walk
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.view_models.reference_stretch import ReferenceStretch
from dashboard.view_models.run_summary import run_entry

KEPT_RESULTS, KEPT_ENTRIES = 64, 16384


class RunMissingError(LookupError):
    """There is no such run in the results folder."""


@dataclass(frozen=True, slots=True)
class Service:
    """The results in one folder."""

    results: Path

    def drills(self) -> tuple[DrillEntry, ...]:
        """Return every drill of the folder with its runs."""
        found: dict[str, list[RunEntry]] = {}
        for (drill, run), path in self._files().items():
            found.setdefault(drill, []).append(_entry(drill, run, *file_stamp(path)))
        return tuple(
            DrillEntry(key, next((e.drill_name for e in runs if e.drill_name), key), tuple(runs))
            for key, runs in found.items()
        )

    def result(self, drill: str, run: str) -> RunResult:
        """Return the result of one run.

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
        return _result(*file_stamp(path))

    def reference(self, result: RunResult) -> tuple[ReferenceStretch, ...]:
        """Return the reference searcher of a run in time."""
        return reference_walk(result)

    def _files(self) -> dict[tuple[str, str], Path]:
        if not self.results.is_dir():
            return {}
        return {(path.parent.name, path.stem): path for path in sorted(self.results.glob(EVERY_RESULT))}


@functools.lru_cache(maxsize=KEPT_RESULTS)
def _result(path: str, modified_ns: int, size: int) -> RunResult:
    """Return a result file's content; the time and size of the file are part of the key only."""
    del modified_ns, size
    return read_result(Path(path))


@functools.lru_cache(maxsize=KEPT_ENTRIES)
def _entry(drill: str, run: str, path: str, modified_ns: int, size: int) -> RunEntry:
    """Return the line of a run; a file that cannot be used becomes a line that says why."""
    try:
        result = _result(path, modified_ns, size)
    except AnalyzerError as error:
        return RunEntry(drill, run, problem=str(error))
    except Exception as error:
        return RunEntry(drill, run, problem=unforeseen_line(f"{run}.json", "reading", error))
    return run_entry(drill, run, result)
