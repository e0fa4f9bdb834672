"""Puts track, readings and marks of one run on one time: seconds from the start mark, else from the first fix."""

import math
from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError
from analyzer.files.marks_csv import MarkRow
from analyzer.files.readings_csv import ReadingLog, ReadingRow
from analyzer.files.toml_table import nearest
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.track import Counts, place, timed, to_track
from analyzer.model.drill import Drill
from analyzer.model.recording import Mark, Readings, Track

MAX_CLOCK_OFFSET_S = 600.0
"""Reading and track clocks may differ by so much; beyond it the log belongs to another run."""


@dataclass(frozen=True, slots=True)
class RunParts:
    """A run's parts from time zero. `dropped`: fixes set aside here, by reason."""

    time_zero_s: float
    track: Track
    readings: Readings | None
    marks: tuple[Mark, ...]
    dropped: Counts


def assemble(fixes: Fixes, log: ReadingLog | None, marks: tuple[MarkRow, ...], drill: Drill) -> RunParts:
    """Return the parts of a run on one time.

    Time zero is the start mark that has a time of day, else the first usable fix. Elapsed times count from that
    start mark; without one from the drill's start where the track covers it; else from the first fix.

    Raises
    ------
    InputError
        Where the track cannot be used in this drill, or readings or marks do not belong to it.
    """
    with_time, untimed = timed(fixes)
    placed, strays = place(with_time, drill)
    first, last = float(placed.time_s[0]), float(placed.time_s[-1])
    start = next((m for m in marks if m.mark == "start" and not m.elapsed), None)
    zero = start.time_s if start is not None else first
    if start is not None:
        _check_start(start, first, last)
    elapsed_zero = zero
    if start is None and drill.start is not None and first <= drill.start.timestamp() <= last:
        elapsed_zero = drill.start.timestamp()
    track, early = to_track(placed, time_zero_s=zero, degrees_step=fixes.step if fixes.geographic else 0.0)
    _check_transmitters(log, marks, drill)
    return RunParts(
        time_zero_s=zero,
        track=track,
        dropped=untimed + strays + early,
        readings=_readings(log, elapsed_zero - zero, zero, track) if log is not None else None,
        marks=_marks(marks, elapsed_zero - zero, zero, track),
    )


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
                what=f"the transmitter {row.transmitter!r} is not in drill.toml",
                do=nearest(row.transmitter, ids),
            )


def _readings(log: ReadingLog, shift_s: float, zero: float, track: Track) -> Readings:
    times = np.array([r.time_s for r in log.readings]) + (shift_s if log.elapsed else -zero)
    gap = max(float(track.time_s[0] - times[-1]), float(times[0] - track.time_s[-1]))
    if gap > MAX_CLOCK_OFFSET_S:
        raise InputError(
            where=log.name,
            what=f"the readings lie {gap / 60.0:.0f} min from the track",
            do="check the day, the offset from UTC and the run of the log; clocks may differ by 10 min",
        )
    return Readings(
        time_s=times,
        reading_m=np.array([r.reading_m for r in log.readings]),
        transmitter=tuple(r.transmitter for r in log.readings),
        steer_deg=np.array([r.steer_deg for r in log.readings]),
        heading_deg=np.array([r.heading_deg for r in log.readings]),
        by_hand=log.elapsed,
    )


def _marks(rows: tuple[MarkRow, ...], shift_s: float, zero: float, track: Track) -> tuple[Mark, ...]:
    marks = [(row, row.time_s + (shift_s if row.elapsed else -zero)) for row in rows]
    for row, at in marks:
        if at < -MAX_CLOCK_OFFSET_S or at > track.time_s[-1] + MAX_CLOCK_OFFSET_S:
            raise InputError(
                where=row.where,
                what=f"the mark {row.mark!r} lies {_away(at, track):.0f} min from the track",
                do="check its day and its offset from UTC",
            )
    ordered = sorted(marks, key=lambda pair: pair[1])
    _check_holds([row for row, _ in ordered])
    return tuple(Mark(time_s=at, mark=row.mark, transmitter=row.transmitter, note=row.note) for row, at in ordered)


def _away(at: float, track: Track) -> float:
    return (at - float(track.time_s[-1]) if at > 0.0 else math.fabs(at)) / 60.0


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
