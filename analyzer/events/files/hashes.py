"""Hashes of the files that an event rests on; a file is read again only where its time or size differs."""

import os
from collections.abc import Iterable
from pathlib import Path

from analyzer.files.hashes import file_hash, hash_of
from analyzer.files.names import DRILL_FILE, RUNS
from analyzer.files.source import disk_error
from analyzer.files.tracks.formats import WAYPOINT_ENDINGS, is_run_input
from analyzer.workspace.layout import DRILLS


def input_hashes(workspace: Path, drills: Iterable[str], files: Iterable[Path]) -> dict[str, str]:
    """Return the SHA-256 of `files` and of every file that the drills are measured from, by path from the workspace.

    A file that is not there any more is left out. All runs of a drill count, for they decide which run is whose.
    """
    found = {path.relative_to(workspace).as_posix(): file_hash(path) for path in files if path.is_file()}
    for drill in drills:
        place = f"{DRILLS}/{drill}"
        for item in _listed(workspace / place):
            if item.name == DRILL_FILE or item.name.lower().endswith(WAYPOINT_ENDINGS):
                found[f"{place}/{item.name}"] = hash_of(item)
        for run in _listed(workspace / place / RUNS):
            if run.is_dir() and run.name[0] != ".":
                found |= {
                    f"{place}/{RUNS}/{run.name}/{item.name}": hash_of(item)
                    for item in _listed(Path(run.path))
                    if is_run_input(item.name)
                }
    return dict(sorted(found.items()))


def _listed(folder: Path) -> list[os.DirEntry[str]]:
    """Return what is in a folder, nothing where there is no such folder; thousands of files are looked at at once."""
    if not folder.is_dir():
        return []
    try:
        with os.scandir(folder) as found:
            return list(found)
    except OSError as error:
        raise disk_error(error, where=str(folder)) from None
