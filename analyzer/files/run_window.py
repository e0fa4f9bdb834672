"""Which part of the files a run is: the window of its run.toml, and what lies outside it."""

import datetime as dt
import math
import re
from typing import Any

import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.files.names import RUN_FILE
from analyzer.files.times import parse_elapsed, posix_of
from analyzer.files.toml_table import TomlTable
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.track import MIN_FIXES, subset
from analyzer.model.recording import MARK_STEP_S, Bound, Mark
from analyzer.model.settings import CLOCK_REACH_S

OUTSIDE = "outside the window"

Span = tuple[float, float]
_DAY = re.compile(r"\d{4}-")


def window_in(table: TomlTable, zone: dt.tzinfo | None) -> tuple[Bound, Bound] | None:
    """Return the window of a table with `window = [from, to]`, None where there is none or a problem is noted."""
    if not table.has("window"):
        return None
    value = table.values["window"]
    do = "write [from, to]: ISO 8601 times, or seconds or mm:ss since the first fix of the track"
    if not isinstance(value, list) or len(value) != 2:
        table.report("window", f"{quoted(value)} is not a pair of times", do)
        return None
    try:
        begin, end = (_bound(item, f"{table.where}, window", zone) for item in value)
    except InputError as error:
        table.report("window", error.what, do if "elapsed" in error.what else error.do)
        return None
    if begin.elapsed == end.elapsed and not begin.at_s < end.at_s:
        table.report("window", "the window ends before it begins", do)
        return None
    return begin, end


def _bound(value: Any, where: str, zone: dt.tzinfo | None) -> Bound:
    if isinstance(value, str) and _DAY.match(value.strip()):
        try:
            value = dt.datetime.fromisoformat(value.strip())
        except ValueError:
            value = None
    if isinstance(value, dt.datetime):
        return Bound(posix_of(value, where=where, zone=zone), elapsed=False)
    number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and value >= 0.0
    if number or isinstance(value, str):
        return Bound(parse_elapsed(str(value), where=where), elapsed=True)
    raise InputError(
        where=where,
        what="an end of the window is no time",
        do="write an ISO 8601 time, or seconds or mm:ss since the first fix of the track",
    )


def moments_of(window: tuple[Bound, Bound] | None) -> list[float]:
    """Return the times of day, seconds since 1970 UTC, that a window names."""
    return [bound.at_s for bound in window or () if not bound.elapsed]


def span_of(window: tuple[Bound, Bound] | None, first_s: float) -> Span | None:
    """Return from when to when a window lies, seconds since 1970 UTC; `first_s`: time of the first fix of the track.

    Raises
    ------
    InputError
        Where it ends before it begins.
    """
    if window is None:
        return None
    begin, end = (bound.at_s + (first_s if bound.elapsed else 0.0) for bound in window)
    if not begin < end:
        raise InputError(
            where=f"{RUN_FILE}, window",
            what="the window ends before it begins",
            do="mend it; times without a day count from the first fix of the track",
        )
    return begin, end


def fixes_inside(fixes: Fixes, span: Span | None) -> tuple[Fixes, int]:
    """Return the fixes inside a span, and how many lie outside.

    Raises
    ------
    InputError
        Where too few lie inside.
    """
    if span is None:
        return fixes, 0
    inside = (fixes.time_s >= span[0]) & (fixes.time_s <= span[1])
    count = int(np.count_nonzero(inside))
    if count < MIN_FIXES:
        raise InputError(
            where=f"{RUN_FILE}, window",
            what=f"only {count} of the {inside.size} fixes of {fixes.name} lie in the window, {MIN_FIXES} are needed",
            do=f"check its day and its offset from UTC; the track begins at {_clock(fixes.time_s[0])} and ends at "
            f"{_clock(fixes.time_s[-1])}",
        )
    return subset(fixes, inside), inside.size - count


def _clock(posix_s: float) -> str:
    return dt.datetime.fromtimestamp(float(posix_s), tz=dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def marks_inside(marks: tuple[Mark, ...], span: Span | None, zero_s: float) -> tuple[Mark, ...]:
    """Return the marks inside a span; those on the readings' clock may lie outside by what a clock may be off."""
    if span is None:
        return marks
    kept = []
    for mark in marks:
        slack = CLOCK_REACH_S if mark.on_readings_clock else MARK_STEP_S
        if span[0] - slack <= mark.time_s + zero_s <= span[1] + slack:
            kept.append(mark)
    return tuple(kept)
