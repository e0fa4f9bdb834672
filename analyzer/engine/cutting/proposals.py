"""Pieces of a recording that may be runs. What the marks say comes first; then how often the start was left."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.cutting.day import STEP_S, Day, day_of
from analyzer.engine.cutting.outings import LEAST_OUT_S, Outing, outings
from analyzer.engine.cutting.stands import stands
from analyzer.model.arrays import FloatArray

ENDS = ("finish", "probe_hit", "marking_end")
AFTER_END_S = 5.0
"""Kept after the last mark of a run, so that the mark lies well inside its piece."""
READING_SILENCE_S = 60.0
"""Our choice: a log that says nothing for so long has left its run."""
CLOCK_SLACK_S = 30.0
"""Our choice, told on the page: the clock of the readings may be early."""
LONG_GAP_S = 600.0
"""Our choice: a recorder that stood still for so long recorded two things."""
FEWEST_FIXES = 20
ONE = "Nothing in the recording speaks for several runs: one run."


@dataclass(frozen=True, slots=True)
class Note:
    """A mark with a time of day: seconds since 1970 UTC, and which."""

    time_s: float
    mark: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a recording: from when to when, seconds since 1970 UTC on the track's clock, and why it may be a run;
    `begins`, `ends`: what tells its borders."""

    from_s: float
    to_s: float
    begins: str
    ends: str


def propose(
    time_s: FloatArray,
    east_m: FloatArray,
    north_m: FloatArray,
    *,
    marks: Sequence[Note] = (),
    readings_s: Sequence[float] = (),
    drill_m: FloatArray | None = None,
) -> tuple[Piece, ...]:
    """Return the runs that a recording may hold, in order, without overlap; one for the whole where nothing tells more.

    Parameters
    ----------
    time_s, east_m, north_m : array, shape (n,)
        Of the fixes, times rising in seconds since 1970 UTC, horizontal metres of any origin.
    marks, readings_s : sequence
        Of the same day, in seconds since 1970 UTC.
    drill_m : array, shape (k, 2), optional
        Corners of the area and places of transmitters in the same metres: what lies far from all is no run.
    """
    whole = (Piece(float(time_s[0]), float(time_s[-1]), ONE, "The recording ends."),)
    if len(time_s) < FEWEST_FIXES:
        return whole
    day = day_of(time_s, east_m, north_m)
    found = outings(day, stands(day), drill_m)
    readings = np.sort(np.asarray(readings_s, float))
    starts = [n.time_s for n in sorted(marks, key=lambda n: n.time_s) if n.mark == "start"]
    starts = [at for at in starts if day.first_s <= at <= day.last_s]
    from_track = [_of_outing(o, day, marks, readings) for o in found]
    if starts:
        return _by_starts(starts, day, marks, from_track, replace(whole[0], begins="The start mark."))
    if len(from_track) > 1:
        return tuple(_apart(from_track))
    return _by_gaps(day) or whole


def _of_outing(outing: Outing, day: Day, marks: Sequence[Note], readings: FloatArray) -> Piece:
    """Return the piece of one way out, its end moved to a mark or to the last reading where there is one."""
    begin, back = float(day.time_s[outing.out]), float(day.time_s[outing.back])
    hits = [n for n in marks if n.mark in ENDS and begin < n.time_s <= back]
    if hits:
        return Piece(begin, hits[-1].time_s + AFTER_END_S, outing.begins, _marked(hits[-1]))
    end, why = min(float(day.time_s[outing.end]) + STEP_S, day.last_s), outing.ends  # a row stands for its two seconds
    last = _last_reading(readings, begin, back)
    if last > begin + LEAST_OUT_S:
        end, why = (
            min(last + CLOCK_SLACK_S, back),
            f"The readings fall silent; {CLOCK_SLACK_S:.0f} s are kept after them.",
        )
    return Piece(begin, end, outing.begins, why)


def _last_reading(readings: FloatArray, begin: float, back: float) -> float:
    """Return the last reading between two times before a long silence, 0 where there is none."""
    inside = readings[(readings >= begin) & (readings <= back)]
    if not len(inside):
        return 0.0
    silent = np.flatnonzero(np.diff(inside) > READING_SILENCE_S)
    return float(inside[silent[-1]] if len(silent) else inside[-1])


def _by_starts(
    starts: list[float], day: Day, marks: Sequence[Note], from_track: list[Piece], whole: Piece
) -> tuple[Piece, ...]:
    """Return a piece for each start mark, and for ways out that lie between them."""
    pieces = []
    for number, begin in enumerate(starts):
        until = starts[number + 1] if number + 1 < len(starts) else day.last_s + 1.0
        pieces.append(_from_start(begin, until, marks, from_track, whole))
    if len(pieces) == 1 and len(from_track) < 2:
        return (replace(whole, from_s=min(whole.from_s, starts[0])),)
    spare = [p for p in from_track if all(p.to_s < q.from_s or p.from_s > q.to_s for q in pieces)]
    spare = [replace(p, begins=f"{p.begins} No start mark lies here.") for p in spare]
    return tuple(_apart(sorted([*pieces, *spare], key=lambda p: p.from_s)))


def _from_start(begin: float, until: float, marks: Sequence[Note], from_track: list[Piece], whole: Piece) -> Piece:
    ends = [n for n in marks if n.mark in ENDS and begin < n.time_s < until]
    if ends:
        return Piece(begin, min(ends[-1].time_s + AFTER_END_S, until), whole.begins, _marked(ends[-1]))
    # The way out that this mark begins: most of it lies after the mark and before the next one.
    own = [p for p in from_track if begin < p.to_s <= until]
    if own:
        return Piece(begin, own[0].to_s, whole.begins, own[0].ends)
    return Piece(begin, min(until - 1.0, whole.to_s), whole.begins, "The next start mark, or the end of the recording.")


def _by_gaps(day: Day) -> tuple[Piece, ...]:
    """Return a piece for each part between long stops of the recorder, none where there is no such stop."""
    edges = np.flatnonzero(np.diff(day.time_s) > LONG_GAP_S)
    firsts, lasts = [0, *(edges + 1)], [*edges, len(day.time_s) - 1]
    pieces = []
    for first, last in zip(firsts, lasts, strict=True):
        begins = "The recording begins." if first == 0 else _after_gap(day, first)
        ends = "The recording ends." if last == len(day.time_s) - 1 else "The recording stops here."
        pieces.append(Piece(float(day.time_s[first]), float(day.time_s[last]), begins, ends))
    long = [p for p in pieces if p.to_s - p.from_s >= LEAST_OUT_S]
    return tuple(long) if len(long) > 1 else ()


def _after_gap(day: Day, row: int) -> str:
    return f"The recording goes on after a gap of {(day.time_s[row] - day.time_s[row - 1]) / 60.0:.0f} min."


def _marked(note: Note) -> str:
    words = {"finish": "finish mark", "probe_hit": "probe hit", "marking_end": "mark of the end of marking"}
    return f"The {words[note.mark]}."


def _apart(pieces: Sequence[Piece]) -> list[Piece]:
    """Return pieces none of which begins before the last one has ended."""
    kept: list[Piece] = []
    for piece in pieces:
        if kept and piece.from_s < kept[-1].to_s:
            kept[-1] = replace(kept[-1], to_s=piece.from_s)
        kept.append(piece)
    return [p for p in kept if p.to_s > p.from_s]
