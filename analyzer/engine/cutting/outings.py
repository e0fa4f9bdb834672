"""Ways out from the start and back: each may be a run.

The start is a place near that of the first fix that was come back to. A way out counts where it leads away far enough
for long enough, and where it ended in a stand, at the start or in the field: a zigzag that passes the start goes on.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.cutting.day import STEP_S, Day
from analyzer.engine.cutting.stands import Stand
from analyzer.geometry.polyline import cumulative_length
from analyzer.model.arrays import FloatArray

NEAR_M, AWAY_M = 10.0, 15.0
"""Our choice: within the first one is at the start, beyond the second is away; between them nothing changes."""
LEAST_OUT_S = 45.0
MOSTLY = 0.6
"""A start is come back to so often at least, compared with the place that is passed most often."""
FARTHEST_M = 500.0
"""Our choice: who goes farther from the start than this is on a walk, and searches no drill."""
DRILL_REACH_M = 60.0
"""Our choice: farther than this from the drill's area and transmitters, nobody searches in it."""
STRAIGHT = 1.25
"""Our choice: a way back is at most so much longer than the straight line."""
SETTLED_M, SETTLED_S = 2.0, 20.0
"""Our choice: who gets no farther than this in this time has come to where they probe."""
PROBING_S = 120.0
"""Our choice, told on the page: where a stand's beginning alone is known, so much of it is kept for probing."""
AFTER_TURN_S = 10.0
"""Our choice: kept after the last turn, so that nothing of a run is cut off."""
BEGUN_M = 30.0
"""Our choice: the recorder is switched on this near to the start. A place farther off that is come back to may as well
be where the transmitter lies, and each way back would be taken for a run."""
LEFT = "The start is left"
BEFORE_S, LEFT_BY_M = 40.0, 3.0
"""Our choice: so long before somebody is away the start was left, by so many metres from where they stood."""


@dataclass(frozen=True, slots=True)
class Outing:
    """Rows of a day: when the start is left, when the run seems to end, when the start is reached again; and why."""

    out: int
    end: int
    back: int
    begins: str
    ends: str


def outings(day: Day, found: Sequence[Stand], drill_m: FloatArray | None = None) -> tuple[Outing, ...]:
    """Return the ways out that may be runs, in order; none where no place was come back to.

    `drill_m` (k, 2): places of the drill, east and north.
    """
    start = _start_of(day, found, drill_m)
    if start is None:
        return ()
    spans = [span for span in _joined(_away(day, start), day, found, start) if _counts(day, span, drill_m)]
    if any(_wandering(day, span, found, start) for span in spans):
        return ()
    return tuple(_outing(day, out, back, found, start, number) for number, (out, back) in enumerate(spans))


def _wandering(day: Day, span: tuple[int, int], found: Sequence[Stand], start: FloatArray) -> bool:
    """Return whether one way out holds stands with a way between them that leads far from the first and is straight:
    runs that begin in different places, of which a start in one place knows nothing."""
    inside = [s for s in found if span[0] < s.first and s.last < span[1]]
    field = [s for s in inside if np.hypot(*(s.place_m - start)) > AWAY_M]
    for one, other in itertools.pairwise(field):
        away = day.place_m[one.last : other.first + 1]
        if len(away) > 1 and float(np.max(np.hypot(*(away - one.place_m).T))) > BEGUN_M:
            return True
    return False


def _start_of(day: Day, found: Sequence[Stand], drill_m: FloatArray | None) -> FloatArray | None:
    """Return the place from which the runs begin: of those where somebody stood, the first that is passed often."""
    first = Stand(0, 0, *day.place_m[0])
    near = [s for s in (first, *found) if np.hypot(*(s.place_m - first.place_m)) <= BEGUN_M]
    places = [s.place_m for s in near if drill_m is None or _within(s.place_m[None, :], drill_m)[0]]
    if not places:
        return None
    visits = [len(_away(day, place)) for place in places]
    most = max(visits)
    if most < 2:
        return None
    often = [p for p, n in zip(places, visits, strict=True) if n >= max(2.0, MOSTLY * most)]
    return often[0]


def _within(points: FloatArray, drill_m: FloatArray) -> FloatArray:
    """Return (n,) whether points lie near the box around a drill's places."""
    low, high = drill_m.min(axis=0) - DRILL_REACH_M, drill_m.max(axis=0) + DRILL_REACH_M
    return np.asarray(np.all((points >= low) & (points <= high), axis=1))


def _away(day: Day, place: FloatArray) -> list[tuple[int, int]]:
    """Return (first row, last row) of each time away from a place, the rows near it at both ends included."""
    metres = day.near(place)
    state = np.where(metres > AWAY_M, 1, np.where(metres < NEAR_M, -1, 0))
    known = np.maximum.accumulate(np.where(state != 0, np.arange(len(state)), -1))
    away = np.where(known >= 0, state[np.maximum(known, 0)], 0) > 0
    edges = np.flatnonzero(np.diff(np.concatenate([[0], away.astype(int), [0]])))
    return [(max(int(a) - 1, 0), min(int(b), len(away) - 1)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _counts(day: Day, span: tuple[int, int], drill_m: FloatArray | None) -> bool:
    out, back = span
    if day.time_s[back] - day.time_s[out] < LEAST_OUT_S:
        return False
    if float(np.max(day.near(day.place_m[out])[out : back + 1])) > FARTHEST_M:
        return False
    return drill_m is None or float(np.mean(_within(day.place_m[out : back + 1], drill_m))) > 0.5


def _joined(spans: list[tuple[int, int]], day: Day, found: Sequence[Stand], start: FloatArray) -> list[tuple[int, int]]:
    """Return times away, those joined between which nobody stopped: a search that passes the start goes on."""
    kept: list[tuple[int, int]] = []
    for span in spans:
        if kept and not _stopped(kept[-1], span, day, found, start):
            kept[-1] = (kept[-1][0], span[1])
        else:
            kept.append(span)
    return kept


def _stopped(one: tuple[int, int], other: tuple[int, int], day: Day, found: Sequence[Stand], start: FloatArray) -> bool:
    """Return whether a run can have ended between two times away: a stand in the field, at the start, or a gap."""
    gap = day.stretch[one[1]] != day.stretch[other[0]] or day.stretch[one[0]] != day.stretch[one[1]]
    at_start = day.time_s[other[0]] - day.time_s[one[1]] >= 2.0 * SETTLED_S
    field = any(one[0] < s.first and s.last < one[1] and np.hypot(*(s.place_m - start)) > AWAY_M for s in found)
    return bool(gap or at_start or field)


def _outing(day: Day, out: int, back: int, found: Sequence[Stand], start: FloatArray, number: int) -> Outing:
    begin = _left(day, out, found, start)
    end, why = _ended(day, begin, back, found, start)
    again = "" if number == 0 else " again, after coming back"
    return Outing(begin, end, back, f"{LEFT}{again}.", why)


def _left(day: Day, out: int, found: Sequence[Stand], start: FloatArray) -> int:
    """Return the row at which the start is left: where the stand there is left, else where it is passed."""
    reach = int(BEFORE_S / STEP_S)
    low = max(out - reach, int(np.argmax(day.stretch == day.stretch[out])))
    stood = next((s for s in reversed(found) if s.first < out and s.last >= low), None)
    place = start if stood is None else stood.place_m
    metres = np.hypot(*(day.place_m[low : out + 1] - place).T)
    near = np.flatnonzero(metres <= LEFT_BY_M)
    return low + (int(near[-1]) if len(near) else int(np.argmin(metres)))


def _ended(day: Day, begin: int, back: int, found: Sequence[Stand], start: FloatArray) -> tuple[int, str]:
    """Return the row at which a run seems to end, and why."""
    gap = np.flatnonzero(np.diff(day.stretch[begin : back + 1]))
    if len(gap) and begin + int(gap[-1]) + 1 >= back:
        return begin + int(gap[-1]), "The recording stops here, and goes on at the start."
    inside = [s for s in found if begin < s.first and s.first < back and np.hypot(*(s.place_m - start)) > AWAY_M]
    if inside:
        last = inside[-1]
        settled = _settled(day, last)
        end = min(settled + int(PROBING_S / STEP_S), last.last)
        minutes = (day.time_s[last.last] - day.time_s[settled]) / 60.0
        return end, (
            f"A stand of {minutes:.1f} min begins, and of it {PROBING_S:.0f} s are kept for probing."
            if end < last.last
            else "The last place where somebody stood is left."
        )
    if back == len(day.time_s) - 1:
        return back, "The recording ends."
    turned = min(_turned(day, begin, back) + int(AFTER_TURN_S / STEP_S), back)
    return turned, "From here on it goes straight back to the start."


def _settled(day: Day, stand: Stand) -> int:
    """Return the row from which a stand's places hardly move any more."""
    reach = int(SETTLED_S / STEP_S)
    rows = np.arange(stand.first, max(stand.last - reach, stand.first) + 1)
    ahead = np.minimum(rows + reach, stand.last)
    moved = np.hypot(*(day.place_m[ahead] - day.place_m[rows]).T)
    moving = np.flatnonzero(moved > SETTLED_M)
    # Whoever leaves moves too: only what lies in the first half of the stand is still the search.
    search = moving[moving <= len(rows) // 2]
    return int(rows[search[-1]]) + reach if len(search) else stand.first


def _turned(day: Day, begin: int, back: int) -> int:
    """Return the row from which the way back is nearly straight."""
    path = day.place_m[begin : back + 1]
    walked = cumulative_length(path)
    left = walked[-1] - walked
    straight = np.hypot(*(path - path[-1]).T)
    bent = np.flatnonzero(left > STRAIGHT * straight + NEAR_M)
    return begin + (int(bent[-1]) if len(bent) else 0)
