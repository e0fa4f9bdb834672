"""Puts track, readings and marks of one run on one time: seconds from the start mark, else from the first fix."""

from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError, quoted
from analyzer.files.marks_csv import MarkRow
from analyzer.files.names import RUN_FILE
from analyzer.files.readings_csv import ReadingLog, ReadingRow
from analyzer.files.run_window import OUTSIDE, Span, fixes_inside, marks_inside, moments_of, span_of
from analyzer.files.settle_times import settled, settled_log
from analyzer.files.toml_table import nearest
from analyzer.files.tracks.day import on_day
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.several import of_several
from analyzer.files.tracks.track import Counts, place, timed, to_track
from analyzer.model.drill import Drill
from analyzer.model.recording import READINGS_CLOCK, Mark, Readings, RunInfo, Track
from analyzer.model.settings import CLOCK_REACH_S

MAX_CLOCK_OFFSET_S = 600.0
"""Reading and track clocks may differ by so much; beyond it the log belongs to another run."""
DIGGING, DIGGING_S = ("dig_begin", "airway_free"), 3600.0
"""Marks of what goes on when the recorder has been put away, and how long after the track they may lie. Our choice."""


@dataclass(frozen=True, slots=True)
class RunParts:
    """A run's parts from time zero. `dropped`: fixes set aside here, by reason; likewise of readings and marks."""

    time_zero_s: float
    track: Track
    readings: Readings | None
    marks: tuple[Mark, ...]
    dropped: Counts
    dropped_readings: Counts = ()
    dropped_marks: Counts = ()


def assemble(
    fixes: Fixes, log: ReadingLog | None, marks: tuple[MarkRow, ...], drill: Drill, info: RunInfo | None = None
) -> RunParts:
    """Return the parts of a run on one time; of `info`, its window and the clock of marks count here.

    Time zero is the start mark that has a time of day and lies in the window, else the first usable fix there. Elapsed
    times count from that start mark, be it in the window or not; without one from the drill's start where the track
    and the window cover it; else from the first fix of the window.

    Raises
    ------
    InputError
        Where the track cannot be used in this drill, or readings or marks do not belong to it.
    """
    info = info or RunInfo()
    start = next((m for m in marks if m.mark == "start" and not m.elapsed), None)
    fixes, undated = on_day(fixes, drill.date, _begun_s(start, drill))
    with_time, untimed = timed(fixes, [m.time_s for m in marks if not m.elapsed] + moments_of(info.window))
    placed, strays = place(with_time, drill)
    first, last = float(placed.time_s[0]), float(placed.time_s[-1])
    span = span_of(info.window, first)
    placed, outside = fixes_inside(placed, span)
    several = of_several(placed, chosen=span is not None or any(not m.elapsed for m in marks))
    if several is not None:
        raise several
    zero = float(placed.time_s[0])
    if start is not None:
        _check_start(start, first, last)
        zero = start.time_s if span is None or span[0] <= start.time_s <= span[1] else zero
    within = (first, last) if span is None else (max(first, span[0]), min(last, span[1]))
    elapsed_zero = _elapsed_zero(start, drill, zero, within)
    log, marks = settled_log(log, within[1] - elapsed_zero), settled(marks, within[1] - elapsed_zero)
    track, early = to_track(placed, time_zero_s=zero, degrees_step=fixes.step if fixes.geographic else 0.0)
    _check_transmitters(log, marks, drill)
    _check_clock(marks, log, info)
    check_receiver(info, drill)
    whole = (first - zero, last - zero)
    readings = _readings(log, elapsed_zero - zero, zero, whole, span) if log is not None else None
    all_marks = _marks(marks, elapsed_zero - zero, zero, whole, info.clock)
    kept_marks = marks_inside(all_marks, span, zero)
    unread = 0 if log is None or readings is None else len(log.readings) - readings.time_s.size
    return RunParts(
        time_zero_s=zero,
        track=track,
        dropped=undated + untimed + strays + _outside(outside) + early,
        readings=readings,
        marks=kept_marks,
        dropped_readings=_outside(unread),
        dropped_marks=_outside(len(all_marks) - len(kept_marks)),
    )


def _begun_s(start: MarkRow | None, drill: Drill) -> float | None:
    """Return when the run began as far as its files alone say, seconds since 1970 UTC."""
    if start is not None:
        return start.time_s
    return drill.start.timestamp() if drill.start is not None else None


def _elapsed_zero(start: MarkRow | None, drill: Drill, zero: float, within: Span) -> float:
    """Return when elapsed times begin, seconds since 1970 UTC; `within`: what the track and the window cover."""
    if start is not None:
        return start.time_s
    begun = zero if drill.start is None else drill.start.timestamp()
    return begun if within[0] <= begun <= within[1] else zero


def _outside(count: int) -> Counts:
    return ((OUTSIDE, count),) if count else ()


def check_receiver(info: RunInfo, drill: Drill) -> None:
    """Raise `InputError` where a run names a receiver that the drill does not have."""
    if info.receiver and drill.receiver(info.receiver) is None:
        raise InputError(
            where=f"{RUN_FILE}, receiver",
            what=f"the receiver {quoted(info.receiver)} is not in drill.toml",
            do=nearest(info.receiver, [item.name for item in drill.receivers])
            if drill.receivers
            else "add it to drill.toml as [[receiver]], or take the key away",
        )


def _check_clock(marks: tuple[MarkRow, ...], log: ReadingLog | None, info: RunInfo) -> None:
    """Raise `InputError` where marks share the clock of readings that there are none of, or that have a time of day."""
    shared = next((m for m in marks if _on_readings_clock(m, info.clock)), None)
    if shared is None or (log is not None and log.elapsed):
        return
    what = "there are no readings" if log is None else f"{log.name} has times of day"
    raise InputError(
        where=shared.where,
        what=f"the mark's elapsed time shares the clock of the readings, and {what}",
        do="take the clock away: the mark then counts on the track's clock",
    )


def _on_readings_clock(row: MarkRow, clock: str) -> bool:
    return row.elapsed and row.mark != "start" and (row.clock or clock) == READINGS_CLOCK


def _check_start(start: MarkRow, first: float, last: float) -> None:
    if start.time_s < first - MAX_CLOCK_OFFSET_S or start.time_s > last:
        side = (
            f"{first - start.time_s:.0f} s before the first fix"
            if start.time_s < first
            else (f"{start.time_s - last:.0f} s after the last fix")
        )
        raise InputError(
            where=start.where,
            what=f"the start mark lies {side}",
            do="check the day, the offset from UTC and the run of the mark",
        )


def _check_transmitters(log: ReadingLog | None, marks: tuple[MarkRow, ...], drill: Drill) -> None:
    ids = [t.id for t in drill.transmitters]
    rows: list[ReadingRow | MarkRow] = [*(log.readings if log is not None else ()), *marks]
    for row in rows:
        if row.transmitter is not None and row.transmitter not in ids:
            raise InputError(
                where=row.where,
                what=f"the transmitter {quoted(row.transmitter)} is not in drill.toml",
                do=nearest(row.transmitter, ids),
            )


def _readings(log: ReadingLog, shift_s: float, zero: float, whole: tuple[float, float], span: Span | None) -> Readings:
    """Return the readings from time zero; `whole`: when the track begins and ends, `span`: the window."""
    times = np.array([r.time_s for r in log.readings]) + (shift_s if log.elapsed else -zero)
    gap = max(whole[0] - float(times[-1]), float(times[0]) - whole[1])
    if gap > MAX_CLOCK_OFFSET_S:
        raise InputError(
            where=log.name,
            what=f"the readings lie {gap / 60.0:.0f} min from the track",
            do="check the day, the offset from UTC and the run of the log; clocks may differ by 10 min",
        )
    near = np.ones(times.size, bool)
    if span is not None:
        # The clock offset that is searched for may bring them into the window.
        near = (times >= span[0] - zero - CLOCK_REACH_S) & (times <= span[1] - zero + CLOCK_REACH_S)
    if not near.any():
        raise InputError(
            where=log.name,
            what="no reading lies in the window of run.toml",
            do="check the window and the times of the log; clocks may differ by 90 s",
        )
    rows = [row for row, kept in zip(log.readings, near, strict=True) if kept]
    return Readings(
        time_s=times[near],
        reading_m=np.array([r.reading_m for r in rows]),
        transmitter=tuple(r.transmitter for r in rows),
        steer_deg=np.array([r.steer_deg for r in rows]),
        heading_deg=np.array([r.heading_deg for r in rows]),
        by_hand=log.elapsed,
    )


def _marks(
    rows: tuple[MarkRow, ...], shift_s: float, zero: float, whole: tuple[float, float], clock: str
) -> tuple[Mark, ...]:
    marks = [(row, row.time_s + (shift_s if row.elapsed else -zero)) for row in rows]
    for row, at in marks:
        after_s = DIGGING_S if row.mark in DIGGING else MAX_CLOCK_OFFSET_S
        if at < min(whole[0], 0.0) - MAX_CLOCK_OFFSET_S or at > whole[1] + after_s:
            raise InputError(
                where=row.where,
                what=f"the mark {quoted(row.mark)} lies {_away(at, whole):.0f} min from the track",
                do="check its day and its offset from UTC",
            )
    ordered = sorted(marks, key=lambda pair: pair[1])
    _check_holds([row for row, _ in ordered])
    return tuple(Mark(at, row.mark, row.transmitter, row.note, _on_readings_clock(row, clock)) for row, at in ordered)


def _away(at: float, whole: tuple[float, float]) -> float:
    return (at - whole[1] if at > 0.0 else min(whole[0], 0.0) - at) / 60.0


def _check_holds(rows: list[MarkRow]) -> None:
    open_hold: MarkRow | None = None
    for row in rows:
        if row.mark == "hold_begin":
            if open_hold is not None:
                raise InputError(where=row.where, what="a hold begins before the last one ended", do="add its hold_end")
            open_hold = row
        elif row.mark == "hold_end":
            if open_hold is None:
                raise InputError(where=row.where, what="a hold ends that did not begin", do="add its hold_begin")
            open_hold = None
    if open_hold is not None:
        raise InputError(where=open_hold.where, what="the hold does not end", do="add its hold_end")
