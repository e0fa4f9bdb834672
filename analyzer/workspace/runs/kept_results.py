"""The result of a run that is taken out of use: it goes into the bin with the run, and comes back with it as it was."""

import contextlib
import shutil
from pathlib import Path
from typing import Any

from analyzer.workspace.drill_key import change_entry, read_index
from analyzer.workspace.layout import EARLIER_ENDING
from analyzer.workspace.runs.bin import kept_result


def result_path(out: Path, drill: str, run: str) -> Path:
    """Return where the result of a run is in a folder of results."""
    return out / drill / f"{run}.json"


def index_of(out: Path, drill: str, run: str) -> dict[str, Any]:
    """Return what the index of a folder of results has of a run, nothing where it has none."""
    entry = read_index(out).get(drill, {})
    kept = entry.get("runs", {}).get(run)
    row = next((row for row in entry.get("rows", []) if row["run"] == run), None)
    return {} if kept is None else {"kept": kept, "row": row}


def copy_result(out: Path, drill: str, run: str, folder: Path) -> None:
    """Put a copy of a run's result into its folder of the bin, where there is one; results may lie on another disk."""
    path = result_path(out, drill, run)
    if path.is_file():
        shutil.copyfile(path, kept_result(folder))


def drop_result(out: Path, drill: str, run: str) -> None:
    """Take a run's result away, which the bin has a copy of, and the run out of the index.

    Where the disk does not let it go, the next measuring sets it aside, and tells what the disk says.
    """
    with contextlib.suppress(OSError):
        result_path(out, drill, run).unlink(missing_ok=True)
        _drop_from_index(out, drill, run)


def _drop_from_index(out: Path, drill: str, run: str) -> None:
    def without(entry: dict[str, Any]) -> dict[str, Any]:
        rows = [row for row in entry["rows"] if row["run"] != run]
        runs = {name: kept for name, kept in entry.get("runs", {}).items() if name != run}
        return entry | {"key": "", "rows": rows, "runs": runs}

    change_entry(out, drill, without)


def give_result_back(out: Path, drill: str, run: str, folder: Path, index: dict[str, Any]) -> None:
    """Put a run's result back where it was, so that it is not measured again, unless there is another one by now."""
    path, kept, row = result_path(out, drill, run), index.get("kept"), index.get("row")
    if not kept_result(folder).is_file() or path.exists() or not isinstance(kept, dict) or not isinstance(row, dict):
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(kept_result(folder), path)

    def with_it(entry: dict[str, Any]) -> dict[str, Any]:
        return entry | {"key": "", "rows": [*entry["rows"], row], "runs": entry.get("runs", {}) | {run: kept}}

    change_entry(out, drill, with_it)


def set_all_aside(out: Path, drill: str) -> None:
    """Set the results of a drill aside that has no run any more."""
    for row in read_index(out).get(drill, {}).get("rows", []):
        path = result_path(out, drill, row["run"])
        if path.is_file():
            path.replace(path.with_name(path.name + EARLIER_ENDING))
    change_entry(out, drill, lambda _: None)
