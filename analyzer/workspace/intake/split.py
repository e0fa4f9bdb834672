"""A recording with several tracks, opened into one table for each, so that each can become its own run."""

from analyzer.files.tracks.formats import read_track
from analyzer.files.tracks.part_table import write_part

MAX_TRACKS = 200
"""Our own limit: tracks of one recording that are proposed as runs."""


def split_tracks(data: bytes, *, name: str, ending: str) -> tuple[list[tuple[str, str, bytes]], tuple[str, ...]]:
    """Return path, title and bytes (a `track.csv`) of each track of a recording, and a line for what was set aside.

    Nothing is returned of a recording with one track, or with more than are proposed as runs.

    Raises
    ------
    InputError
        Where it cannot be read.
    """
    fixes = read_track(data, name=f"{name}{ending}")
    if not 1 < len(fixes.parts) <= MAX_TRACKS:
        return [], ()
    tables = []
    for number, part in enumerate(fixes.parts, start=1):
        title = " ".join(part.title.replace("/", " ").replace("\\", " ").split())[:80]
        path = f"{name}/{' '.join(filter(None, ('track', str(number), title)))}.csv"
        tables.append((path, title, write_part(fixes, part, f"track {number} of {len(fixes.parts)} of {name}")))
    aside = ", ".join(f"{count} {reason}" for reason, count in fixes.dropped)
    return tables, ((f"{name}: of its {fixes.rows} points were set aside: {aside}",) if aside else ())
