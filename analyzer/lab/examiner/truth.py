"""One whole run from start to last strike, and what is true of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from analyzer.lab.examiner.bracket import fine
from analyzer.lab.examiner.field import Transmitter, along_reading, ideal_line, shown_distance
from analyzer.lab.examiner.person import DT, STILL, Habits, Person, Shown, draw_habits
from analyzer.lab.examiner.scene import OF_STRIPS, Choices, Scene
from analyzer.lab.examiner.search import Found, LostError, follow, probe, strips
from analyzer.lab.examiner.streams import Lots

FINE_M = 3.0
OF_THE_PERSON = ("rushed_bracketing", "narrow_bracketing", "late_slow_down")  # at every transmitter


@dataclass(frozen=True)
class Run:
    """A finished run: ``trace`` columns are time, c, u, height, pointing, speed every 0.05 s."""

    habits: Habits
    trace: np.ndarray
    shown: list[Shown]
    found: list[Found]
    lead_s: float
    finish_s: float


def perform(scene: Scene, ask: Choices, lead_s: float, lots: Lots) -> Run:
    """Send one person in. Raises `LostError` where the draw is unusable."""
    rushed, late = ask.fault == "rushed_bracketing", ask.fault == "late_slow_down"
    habits = draw_habits(ask.antennas, scene.range_m, rushed, late, lots("habits"))
    _check_depth(scene, habits)
    route = scene.route if ask.fault == "missed_strip" else scene.thorough
    start, first = route[0], route[1]
    person = Person(habits, scene.transmitters, start, lots)
    rng = lots("habits", 2)
    person.heading = math.atan2(first[1] - start[1], first[0] - start[0])
    person.stand(lead_s + rng.uniform(0.0, 2.0))
    found: list[Found] = []
    corner = 1
    while person.active:
        fault = ask.fault if not found or ask.fault in OF_THE_PERSON else "none"
        person.pointing, person.aim_height, person.drop_s = None, habits.carry_m, 1.5
        if found:
            person.stand(rng.uniform(2.0, 6.0))
        person.begin()
        again = lots("mistake").uniform(0.4, 0.9) if fault == "covered_twice" else 0.0
        if not found or person.last(person.pick) is None:
            corner = strips(person, route, corner, again)
        name = person.pick
        if name is None:
            raise LostError("nothing chosen")
        note = Found(name, planted=[fault] if fault in OF_STRIPS else [])
        for act in (follow, fine, probe):
            person.begin()
            act(person, name, fault, note)
        found.append(note)
        if person.time > 1500:
            raise LostError("too long")
    finish = person.time + rng.uniform(0.0, 4.0)
    person.stand(rng.uniform(5.0, 12.0))
    return Run(habits, np.array(person.trace), person.shown, found, lead_s, finish)


def _check_depth(scene: Scene, habits: Habits) -> None:
    """The fine radius must be reached well before the ground is."""
    for tx in scene.transmitters:
        ring = [(tx.c + 1.6 * math.cos(a), tx.u + 1.6 * math.sin(a)) for a in np.arange(0, 6.28, 0.4)]
        read = [along_reading(tx, c, u, habits.carry_m, habits.antennas, habits.scale) for c, u in ring]
        if max(read) > FINE_M - 0.15:
            raise LostError("too deep for this receiver")


def measure(run: Run, scene: Scene, ask: Choices, hit_marks: list[float]) -> list[dict[str, Any]]:
    """The true figures of each search, times since time zero. ``hit_marks`` close the searches."""
    out, opened = [], run.lead_s
    for number, note in enumerate(run.found):
        rows = [s.time for s in run.shown if s.name == note.name]
        pairs = [a for a, b in pairwise(rows) if b - a <= 5.0 and a >= opened - 3.0]
        heard = pairs[0] if pairs else opened
        # A further one that is shown at once has no signal search.
        begin = opened if number and heard - opened <= 3.0 else max(heard, opened)
        out.append(
            _one(run, scene, ask, note, begin)
            | {
                "signal_start_s": opened - run.lead_s,
                "first_reading_s": rows[0] - run.lead_s,  # may be an isolated flicker at the edge of the range
                "probe_hit_s": hit_marks[number] - run.lead_s,
            }
        )
        opened = hit_marks[number]
    return out


def _one(run: Run, scene: Scene, ask: Choices, note: Found, begin: float) -> dict[str, Any]:
    tx = next(t for t in scene.transmitters if t.name == note.name)
    hb, tr = run.habits, run.trace
    away = np.hypot(tr[:, 1] - tx.c, tr[:, 2] - tx.u)
    i0 = round(begin / DT)
    near = None
    for i in range(i0, len(tr)):
        at = (tr[i, 1], tr[i, 2], tr[i, 3])
        if away[i] < 6 and shown_distance(tx, at, ask.antennas, tr[i, 4], hb.scale) <= FINE_M:
            near = i
            break
    ground = i0 + int(np.argmax(away[i0:] <= FINE_M))
    if near is None or near <= i0 + 20 or tr[near, 0] >= note.settled_s - 1:
        raise LostError("no coarse search")
    end = near if ask.readings else ground
    part = tr[i0 : end + 1 : 2]
    walked = float(np.hypot(*np.diff(part[:, 1:3], axis=0).T).sum())

    line_m = _line(tx, (float(tr[i0, 1]), float(tr[i0, 2])), hb, ask)
    z = run.lead_s
    return {
        "transmitter": note.name,
        "coarse_start_s": begin - z,
        "fine_start_s": float(tr[end, 0]) - z,
        "fine_start_by_reading_s": float(tr[near, 0]) - z,
        "fine_start_by_ground_s": float(tr[ground, 0]) - z,
        "bracket_start_s": note.bracket_s - z,
        "settled_s": note.settled_s - z,
        "strike_s": note.strike_s - z,
        "walked_m": walked,
        "field_line_m": line_m,
        "path_ratio": walked / line_m,
        "wrong_way": wrong_ways(part[:, 0] - z, part[:, 1:3], away[i0 : end + 1 : 2]),
        "standing_s": standing(part[:, 5], 2 * DT),
        "speed_at_10_m": pace_when(10.0, tr[i0 : end + 40], away[i0 : end + 40]),
        "speed_at_3_m": pace_when(3.0, tr[i0 : end + 40], away[i0 : end + 40]),
        "planted": note.planted,
        "planted_s": note.planted_s,
        **_bracket(run, tx, ask, note, end),
    }


def _line(tx: Transmitter, start: tuple[float, float], hb: Habits, ask: Choices) -> float:
    """Length of the field line from ``start`` to the fine radius: of the figure, or over ground without readings."""

    def shown(c: float, u: float) -> float:
        return along_reading(tx, c, u, hb.carry_m, ask.antennas, hb.scale)

    def arrived(c: float, u: float) -> bool:
        if ask.readings:
            return shown(c, u) <= FINE_M
        return math.hypot(c - tx.c, u - tx.u) <= FINE_M

    line = ideal_line(tx, start, hb.carry_m, arrived, shown)
    if line is None:
        raise LostError("the field line does not arrive")
    return line[0]


def pace_when(metres: float, part: np.ndarray, away: np.ndarray) -> float | None:
    """Speed over ground where the range first falls to ``metres``; None where it began nearer or never does."""
    below = np.flatnonzero(away <= metres)
    if not len(below) or below[0] < 2 or below[0] + 2 >= len(part):
        return None
    a, b = part[below[0] - 2], part[below[0] + 2]
    return float(math.hypot(b[1] - a[1], b[2] - a[2]) / (b[0] - a[0]))


def _bracket(run: Run, tx: Transmitter, ask: Choices, note: Found, end: int) -> dict[str, Any]:
    """Figures of the fine search, from row ``end`` of the trace to the settling."""
    tr, z = run.trace, run.lead_s

    def figures(a: int, b: int) -> list[float]:
        rows = range(a, b + 1, 2)
        return [shown_distance(tx, tuple(tr[i, 1:4]), ask.antennas, tr[i, 4], run.habits.scale) for i in rows]

    low = figures(end, round(note.settled_s / DT))
    first = next(leg for leg in note.legs if leg["what"] == "first")
    entry = figures(end, max(round(first["to_s"] / DT), end + 2))
    crossing = [leg["length_m"] for leg in note.legs if leg["what"] == "cross"][:2]
    return {
        "crossing_angle_deg": note.crossing_deg,
        "reach_m": 0.5 * crossing[-1],
        "overshoot_m": entry[-1] - min(entry),
        "legs": [{k: (v - z if k.endswith("_s") else v) for k, v in leg.items()} for leg in note.legs],
        "lowest_reading_m": min(low),
        "ended_on_lowest_m": low[-1] - min(low),
        "final_offset_m": math.hypot(note.settled[0] - tx.c, note.settled[1] - tx.u),
        "probe_offset_m": math.hypot(note.probe[0] - tx.c, note.probe[1] - tx.u),
    }


def standing(speed: np.ndarray, dt: float, least_s: float = 1.0) -> float:
    """Sum of the stops of a second and more."""
    still = np.concatenate([[False], speed < STILL, [False]])
    edges = np.flatnonzero(np.diff(still.astype(int)))
    spans = (edges[1::2] - edges[::2]) * dt
    return float(spans[spans >= least_s].sum())


def wrong_ways(t: np.ndarray, place: np.ndarray, away: np.ndarray, least_m: float = 0.5) -> list[dict[str, float]]:
    """Stretches where the true range over ground rises by ``least_m`` and more above the lowest so far.

    ``from_s``: the lowest range before it; ``turn_s``: the furthest; ``to_s``: the lost range is
    regained (or the coarse search ends); ``metres``: walked on the way out; ``rise_m``: range lost.
    """
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(place, axis=0).T))])
    out, i = [], 0
    while i < len(t) - 1:
        after = np.flatnonzero(away[i + 1 :] <= away[i])
        back = i + 1 + int(after[0]) if len(after) else len(t) - 1
        top = i + int(np.argmax(away[i : back + 1]))
        if away[top] - away[i] >= least_m:
            out.append(
                {
                    "from_s": float(t[i]),
                    "turn_s": float(t[top]),
                    "to_s": float(t[back]),
                    "metres": float(walked[top] - walked[i]),
                    "rise_m": float(away[top] - away[i]),
                }
            )
        i = back
    return out
