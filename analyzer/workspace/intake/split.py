"""A recording with several tracks, opened into one table for each, so that each can become its own run."""

import datetime as dt

import numpy as np

from analyzer.errors import InputError
from analyzer.files.times import ZoneAsked
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.formats import read_track
from analyzer.files.tracks.part_table import write_part

ANOTHER_ZONE = dt.timezone(dt.timedelta(hours=1))
MAX_TRACKS = 200
"""Our own limit: tracks of one recording that are proposed as runs."""


def split_tracks(data: bytes, *, name: str, ending: str) -> tuple[list[tuple[str, str, bytes]], tuple[str, ...]]:
    """Return path, title and bytes (a `track.csv`) of each track of a recording, and a line for what was set aside.

    Nothing is returned of a recording with one track, or with more than are proposed as runs.

    Times without a zone stay so in the tables: the zone of the drill, or of run.toml, is known later.

    Raises
    ------
    InputError
        Where it cannot be read, or only some of its times bear a zone.
    """
    asked = ZoneAsked()
    fixes = read_track(data, name=f"{name}{ending}", zone=asked)
    if asked.asked:
        _check_none_bears_a_zone(fixes, read_track(data, name=f"{name}{ending}", zone=ANOTHER_ZONE))
    if not 1 < len(fixes.parts) <= MAX_TRACKS:
        return [], ()
    tables = []
    for number, part in enumerate(fixes.parts, start=1):
        title = " ".join(part.title.replace("/", " ").replace("\\", " ").split())[:80]
        remark = f"track {number} of {len(fixes.parts)} of {name}"
        path = f"{name}/{' '.join(filter(None, ('track', str(number), title)))}.csv"
        tables.append((path, title, write_part(fixes, part, remark, local=asked.asked)))
    aside = ", ".join(f"{count} {reason}" for reason, count in fixes.dropped)
    return tables, ((f"{name}: of its {fixes.rows} points were set aside: {aside}",) if aside else ())


def _check_none_bears_a_zone(fixes: Fixes, elsewhere: Fixes) -> None:
    """Let a recording be split whose times all lack a zone; `elsewhere`: the same, read in another zone."""
    there = np.sort(np.asarray(fixes.time_s)) - np.sort(np.asarray(elsewhere.time_s))
    stays = int(np.count_nonzero(there == 0.0))
    if stays:
        raise InputError(
            where=fixes.name,
            what=f"{stays} of its {len(there)} times bear a zone and the others do not",
            do="export it again, with an offset from UTC in each time",
        )
