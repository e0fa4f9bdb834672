"""Elapsed times that may mean two things: the length of the track decides where one alone can be; else it is asked."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from analyzer.errors import InputError
from analyzer.files.marks_csv import MarkRow
from analyzer.files.readings_csv import ReadingLog, ReadingRow
from analyzer.model.settings import CLOCK_REACH_S

R = TypeVar("R", ReadingRow, MarkRow)


def settled_log(log: ReadingLog | None, last_s: float) -> ReadingLog | None:
    """Return a log whose elapsed times mean one thing; `last_s`: when the track ends, from where elapsed times count.

    Raises
    ------
    InputError
        Where both meanings lie within the track, or neither.
    """
    return None if log is None else replace(log, readings=settled(log.readings, last_s))


def settled(rows: Sequence[R], last_s: float) -> tuple[R, ...]:
    """Return rows whose elapsed times mean one thing; see `settled_log`."""
    doubtful = [row for row in rows if not math.isnan(row.other_s)]
    if not doubtful:
        return tuple(rows)
    last = max(doubtful, key=lambda row: max(row.time_s, row.other_s))
    fits, other_fits = (at <= last_s + CLOCK_REACH_S for at in (last.time_s, last.other_s))
    if fits == other_fits:
        hours = last.time_s > last.other_s
        written = f"{last.time_s // 3600:.0f}:{last.time_s % 3600 / 60:02.0f}:00" if hours else f"{last.time_s:.2f}"
        as_written = _hours(last.time_s) if hours else f"{last.time_s:.2f} s"
        long = "" if fits else f", and the track ends after {_minutes(last_s)} in either case"
        write = f"write {_clock(last.other_s)} for minutes and seconds"
        raise InputError(
            where=last.where,
            what=f"the elapsed time {written} may be {as_written} or {_minutes(last.other_s)}{long}",
            do=f"{write}, or say what it is in the heading: elapsed ({'h:mm:ss' if hours else 's'}) or elapsed (mm:ss)",
        )
    return tuple(row if fits or math.isnan(row.other_s) else replace(row, time_s=row.other_s) for row in rows)


def _hours(seconds: float) -> str:
    return f"{seconds // 3600:.0f} h {seconds % 3600 // 60:.0f} min"


def _minutes(seconds: float) -> str:
    return f"{seconds // 60:.0f} min {seconds % 60:.0f} s"


def _clock(seconds: float) -> str:
    """Return minutes and seconds as no spreadsheet takes them for hours."""
    return f"0:{seconds // 60:02.0f}:{seconds % 60:02.0f}"
