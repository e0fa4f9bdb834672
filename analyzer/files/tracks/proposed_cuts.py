"""Where one long recording may be cut into runs: proposals from marks, gaps, halts and ways back; pure.

What is proposed covers the whole recording without gap or overlap, and each piece says why it begins and whether it
seems to be a run. Nothing here is certain: a person sees the pieces on a time line and moves them.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analyzer.model.arrays import FloatArray, freeze_fields

STEP_S = 1.0
GAP_S = 120.0
"""Without a fix for so long, a recording was switched off or lost the sky: our choice, far above what a phone skips."""
HALT_WINDOW_S, HALT_SIDE_M = 41, 9.0
"""Who stays in a square of this side for so long stands, or searches finely: three times the noise of a phone."""
LONG_HALT_S = 60.0
"""A halt that may lie between runs; whoever searches rarely stands so long. Our choice."""
WAIT_S = 120.0
"""Where no drill tells what a halt was, only one as long as this lies between runs: probing takes a minute."""
AT_SPOT_M = 15.0
"""From a transmitter: a phone's error of 2 to 5 m, its survey's, and the fine search round it."""
AWAY_M = 22.0
"""From every transmitter: who was so far off between two halts at them went back. Our choice."""
AT_START_M = 30.0
"""From where the first run set out: who waits there is between runs."""
LEFT_M = 4.0
"""Away from where one stood: the halt is over."""
MOST_S = 172_800.0
"""Two days: nothing longer is looked through."""
LEAST_S, LEAST_M = 20.0, 20.0
"""Of a run: what is shorter is none."""
MARK_SLACK_S = 20.0
"""After the last mark of a run, for what its clock may be off."""


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """A recording: `time_s` (n,) seconds since 1970 UTC, increasing; `place_m` (n, 2) east, north in metres from any
    one point."""

    time_s: FloatArray
    place_m: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        freeze_fields(self, time_s=(None,), place_m=(None, 2))


@dataclass(frozen=True, slots=True)
class Moments:
    """Marks of a day on the recording's clock, seconds since 1970 UTC: `starts` of runs, and `ends`: probe hits, finish
    marks and what is noted after a hit."""

    starts: tuple[float, ...] = ()
    ends: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a recording. `take`: whether it seems to be a run; `why`: what it seems to be, in words."""

    begin_s: float
    end_s: float
    take: bool
    why: str = ""


@dataclass(frozen=True, slots=True)
class _Halt:
    """A halt in seconds of the grid; `spot`: the transmitter it was at, -1 for none."""

    first: int
    last: int
    middle: tuple[float, float]
    spot: int = -1


def proposed(recorded: Recorded, moments: Moments, spots_m: FloatArray) -> tuple[Piece, ...]:
    """Return the pieces of a recording: one where nothing says that there are several runs in it.

    Parameters
    ----------
    recorded : Recorded
    moments : Moments
    spots_m : (k, 2)
        Places of the drill's transmitters in the metres of the recording; none where no drill is known.
    """
    begin, end = float(recorded.time_s[0]), float(recorded.time_s[-1])
    if end - begin > MOST_S:
        return (Piece(begin, end, True, "It is longer than two days; cut it by hand, or load it in parts."),)
    inside = tuple(sorted(t for t in moments.starts if begin <= t <= end))
    if inside:
        runs = _by_marks(recorded, inside, moments.ends)
    else:
        runs, place = [], None
        for section in _sections(recorded):
            found, place = _by_halts(section, spots_m, place)
            runs += found
    if sum(run.take for run in runs) < 2:
        return (Piece(begin, end, True, "Nothing in it says that it holds several runs."),)
    return tuple(covering(sorted(runs, key=lambda run: run.begin_s), begin, end))


def covering(runs: Iterable[Piece], begin: float, end: float) -> list[Piece]:
    """Return pieces with what lies between them as pieces of their own."""
    covered: list[Piece] = []
    at = begin
    for run in runs:
        if run.begin_s > at:
            covered.append(Piece(at, run.begin_s, False, "Before it, between runs." if covered else "Before the runs."))
        covered.append(replace(run, begin_s=max(run.begin_s, at)))
        at = run.end_s
    return [*covered, Piece(at, end, False, "After the runs.")] if end > at else covered


def _by_marks(recorded: Recorded, starts: tuple[float, ...], ends: tuple[float, ...]) -> list[Piece]:
    """Return a run from each start mark to its last mark, else to where its way back ends or the next one starts."""
    runs = []
    for number, start in enumerate(starts):
        stop = starts[number + 1] if number + 1 < len(starts) else float(recorded.time_s[-1])
        own = [t for t in ends if start < t <= stop]
        if own:
            end, words = min(max(own) + MARK_SLACK_S, stop), "from its start mark to its last mark"
        else:
            end, words = _last_halt_end(recorded, start, stop), "from its start mark to the end of its last halt"
        runs.append(Piece(start, end, True, f"A run {words}."))
    return runs


def _last_halt_end(recorded: Recorded, start: float, stop: float) -> float:
    """Return when the last long halt between two start marks ends that is not the wait for the second; else `stop`."""
    inside = (recorded.time_s >= start) & (recorded.time_s <= stop)
    if np.count_nonzero(inside) < HALT_WINDOW_S:
        return stop
    part = Recorded(recorded.time_s[inside], recorded.place_m[inside])
    grid, place = _grid(part)
    waits = [halt for halt in _halts(place, np.empty((0, 2))) if grid[halt.last] < stop - HALT_WINDOW_S]
    long = [halt for halt in waits if halt.last - halt.first >= LONG_HALT_S]
    return float(grid[long[-1].last]) if long else stop


def _sections(recorded: Recorded) -> list[Recorded]:
    """Return the parts of a recording between its gaps."""
    cuts = np.flatnonzero(np.diff(recorded.time_s) > GAP_S) + 1
    parts = zip(np.split(recorded.time_s, cuts), np.split(recorded.place_m, cuts), strict=True)
    return [Recorded(time_s, place_m) for time_s, place_m in parts if time_s.size > 1]


def _grid(part: Recorded) -> tuple[FloatArray, FloatArray]:
    """Return times a second apart and the places then, (n,) and (n, 2)."""
    grid = np.arange(part.time_s[0], part.time_s[-1] + 1e-6, STEP_S)
    return grid, np.column_stack([np.interp(grid, part.time_s, part.place_m[:, axis]) for axis in (0, 1)])


def _by_halts(
    part: Recorded, spots_m: FloatArray, start: tuple[float, float] | None
) -> tuple[list[Piece], tuple[float, float] | None]:
    """Return the runs of a section without gaps, and where its first one set out. `start`: that of earlier sections."""
    grid, place = _grid(part)
    halts = _halts(place, spots_m)
    if not len(spots_m):
        return _between_waits(grid, place, halts), start
    runs: list[Piece] = []
    begin: int | None = 0
    reached: list[_Halt] = []
    for halt in [*halts, None]:
        if halt is not None and halt.spot >= 0:
            again = any(own.spot == halt.spot for own in reached)
            turn = _turn(place, reached[-1], halt, spots_m, None if again else begin) if reached else None
            if turn is not None and begin is not None:
                runs.append(_run(grid, place, begin, reached[-1], "to a transmitter; then back, and to it once more"))
                begin, reached = turn, []
            begin = begin if begin is not None else halt.first
            reached.append(halt)
            continue
        waits = halt is not None and halt.last - halt.first >= LONG_HALT_S
        if begin is not None and reached and (halt is None or waits):
            runs.append(_run(grid, place, begin, reached[-1], "from a halt, or the begin, to a transmitter"))
            start = start or (float(place[begin, 0]), float(place[begin, 1]))
            begin, reached = None, []
        if halt is not None and waits and (begin is None or begin == 0 or _near(halt.middle, start)):
            begin = _left(place, halt)
    return [run for run in runs if _is_run(grid, place, run)], start


def _near(place: tuple[float, float], start: tuple[float, float] | None) -> bool:
    return start is not None and float(np.hypot(place[0] - start[0], place[1] - start[1])) <= AT_START_M


def _run(grid: FloatArray, place: FloatArray, begin: int, last: _Halt, words: str) -> Piece:
    return Piece(float(grid[begin]), float(grid[_left(place, last)]), True, f"A run {words}.")


def _is_run(grid: FloatArray, place: FloatArray, run: Piece) -> bool:
    inside = (grid >= run.begin_s) & (grid <= run.end_s)
    if np.count_nonzero(inside) < LEAST_S:
        return False
    return float(np.hypot(*np.ptp(place[inside], axis=0))) >= LEAST_M


def _turn(place: FloatArray, before: _Halt, after: _Halt, spots_m: FloatArray, begin: int | None) -> int | None:
    """Return where somebody turned who left the transmitters for another run: farthest from all of them; None where
    they only stepped aside, or went on to the next. `begin`: of the run, where the halt is at a transmitter that it
    had not reached: only who passed its start went back then."""
    between = place[before.last : after.first + 1]
    if not len(between):
        return None
    away = np.hypot(*(between[:, None, :] - spots_m[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    turn = int(np.argmax(away))
    if begin is not None:
        from_start = np.hypot(*(between - place[begin]).T)
        turn = int(np.argmin(from_start))
        if float(from_start[turn]) > AT_START_M:
            return None
    return before.last + turn if float(away[turn]) > AWAY_M else None


def _between_waits(grid: FloatArray, place: FloatArray, halts: list[_Halt]) -> list[Piece]:
    """Return what lies between long halts, each with the halt at its end: no drill says which ways lead back."""
    waits = [halt for halt in halts if halt.last - halt.first >= WAIT_S]
    begins = [0, *(_left(place, halt) for halt in waits)]
    ends = [*(halt.last for halt in waits), len(grid) - 1]
    words = "Between two long halts; without its drill it cannot be told from a way back."
    found = [Piece(float(grid[a]), float(grid[b]), True, words) for a, b in zip(begins, ends, strict=True) if b > a]
    return [piece for piece in found if _is_run(grid, place, piece)]


def _halts(place: FloatArray, spots_m: FloatArray) -> list[_Halt]:
    """Return where somebody stayed within a few metres, in the order of time; halts at one transmitter are joined."""
    if len(place) < HALT_WINDOW_S:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(place, HALT_WINDOW_S, axis=0)
    still = (np.ptp(windows, axis=2) <= HALT_SIDE_M).all(axis=1)
    stays = np.zeros(len(place), bool)
    for first in np.flatnonzero(still):
        stays[first : first + HALT_WINDOW_S] = True
    edges = np.flatnonzero(np.diff(np.concatenate([[False], stays, [False]]).astype(int)))
    halts = [_halt(place, int(a), int(b) - 1, spots_m) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return _joined(halts, place)


def _halt(place: FloatArray, first: int, last: int, spots_m: FloatArray) -> _Halt:
    east, north = np.median(place[first : last + 1], axis=0)
    away = np.hypot(*(spots_m - [east, north]).T) if len(spots_m) else np.empty(0)
    spot = int(np.argmin(away)) if away.size and float(away.min()) <= AT_SPOT_M else -1
    return _Halt(first, last, (float(east), float(north)), spot)


def _joined(halts: list[_Halt], place: FloatArray) -> list[_Halt]:
    """Return halts, those in a row at one transmitter as one, where nobody went far in between."""
    joined: list[_Halt] = []
    for halt in halts:
        before = joined[-1] if joined else None
        if before is not None and before.spot == halt.spot:
            between = place[before.last : halt.first + 1] - before.middle
            near = AT_SPOT_M if halt.spot >= 0 else HALT_SIDE_M
            if float(np.hypot(*between.T).max()) <= near:
                joined[-1] = replace(before, last=halt.last)
                continue
        joined.append(halt)
    return joined


def _left(place: FloatArray, halt: _Halt) -> int:
    """Return when somebody set out from a halt: the last moment near the place of its end."""
    stood = np.median(place[max(halt.first, halt.last - HALT_WINDOW_S) : max(halt.last - 9, halt.first + 1)], axis=0)
    until = min(halt.last + HALT_WINDOW_S, len(place))
    near = np.hypot(*(place[halt.first : until] - stood).T) <= LEFT_M
    first_away = np.flatnonzero(~near[halt.last - halt.first :])
    end = halt.last - halt.first + (int(first_away[0]) if first_away.size else len(near) - (halt.last - halt.first))
    inside = np.flatnonzero(near[:end])
    return halt.first + (int(inside[-1]) if inside.size else halt.last - halt.first)
