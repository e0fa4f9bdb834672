"""What the searcher did, phase by phase, as episodes for the timeline; earlier entries of a list go first."""

from collections.abc import Sequence

import numpy as np

from analyzer.engine.measures.accounting.shares import Spell
from analyzer.engine.measures.coarse_search import BESIDE_M, offsets_draws
from analyzer.engine.measures.legs import Lines
from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import Excursion, runs
from analyzer.model.account import CROSS_LINES, Episode
from analyzer.model.arrays import FloatArray

LEAST_SPELL_S = 2.0
TURN_S = 2.0
"""Longer between two lines is more than a turn; our choice."""


def _whole(window: Window, activity: str) -> Episode:
    return _episode(window, activity, window.span.start_s, window.span.end_s)


def _episode(window: Window, activity: str, a: float, b: float) -> Episode:
    span = window.span
    a, b = max(a, span.start_s), max(min(b, span.end_s), max(a, span.start_s))
    return Episode(activity, span.phase, span.transmitter, a, b)


def _pauses(window: Window, stops: Sequence[Stop], holes: Sequence[Spell]) -> list[Episode]:
    found = [_episode(window, "not_recorded", a, b) for a, b in holes]
    return found + [_episode(window, "standing", s.from_s, s.to_s) for s in stops]


def _kept(episodes: Sequence[Episode]) -> tuple[Episode, ...]:
    return tuple(e for e in episodes if e.to_s > e.from_s)


def signal_activities(
    window: Window, stops: Sequence[Stop], holes: Sequence[Spell], *, area: bool
) -> tuple[Episode, ...]:
    """Return what was done in a signal search: strips where the drill has an area, else walking."""
    return _kept([*_pauses(window, stops, holes), _whole(window, "strips" if area else "walking")])


def coarse_activities(
    window: Window,
    events: Sequence[Excursion],
    stops: Sequence[Stop],
    holes: Sequence[Spell],
    off_line: Sequence[Spell],
) -> tuple[Episode, ...]:
    """Return what was done in a coarse search."""
    ways = [
        _episode(window, name, a, b)
        for e in (one.event for one in events)
        for name, a, b in (("wrong_way", e.from_s, e.turn_s), ("way_back", e.turn_s, e.to_s))
    ]
    aside = [_episode(window, "off_line", a, b) for a, b in off_line]
    return _kept([*_pauses(window, stops, holes), *ways, *aside, _whole(window, "along_line")])


def off_line_spells(window: Window, line_m: FloatArray | None) -> tuple[Spell, ...]:
    """Return from when to when the best estimate was beside the ideal line by more than BESIDE_M."""
    if line_m is None or len(line_m) < 2 or np.isnan(window.range_m).any():
        return ()
    t, off = window.time_s, offsets_draws(window, line_m)[0]
    spells = [(float(t[lo]), float(t[min(hi, len(t) - 1)])) for lo, hi in runs((off > BESIDE_M) & _within(window))]
    return tuple(s for s in spells if s[1] - s[0] >= LEAST_SPELL_S)


def _within(window: Window) -> FloatArray:
    mask = np.zeros(len(window.time_s), bool)
    mask[window.best] = True
    return mask


def lines_told_apart(window: Window, lines: Lines | None) -> tuple[Spell, ...]:
    """Return from when to when each line of a fine search was walked; none where a cross cannot be made out."""
    if lines is None or lines.crossing_axis is None or lines.count < CROSS_LINES:
        return ()
    t, span = window.time_s, window.span
    spells = [(max(float(t[a]), span.start_s), min(float(t[b]), span.end_s)) for a, b in lines.lines]
    return tuple(s for s in spells if s[1] > s[0])


def fine_activities(
    window: Window, lines_s: Sequence[Spell], stops: Sequence[Stop], holes: Sequence[Spell]
) -> tuple[Episode, ...]:
    """Return what was done in a fine search."""
    names = ("first_line", "crossing_line")
    closed = _closed(window, lines_s)
    told = [_episode(window, names[i] if i < len(names) else "extra_line", a, b) for i, (a, b) in enumerate(closed)]
    return _kept([*_pauses(window, stops, holes), *told, _whole(window, "bracketing")])


def _closed(window: Window, lines_s: Sequence[Spell]) -> list[Spell]:
    """Return the lines with the turns between them, each up to TURN_S, shared by halves: a turn is no activity."""
    bounds = [window.span.start_s, *(t for line in lines_s for t in line), window.span.end_s]
    for i in range(0, len(bounds), 2):
        a, b = bounds[i], bounds[i + 1]
        if 0.0 < b - a <= TURN_S:
            # Before the first line and after the last one the turn is all theirs.
            middle = a if i == 0 else b if i == len(bounds) - 2 else (a + b) / 2.0
            bounds[i] = bounds[i + 1] = middle
    return list(zip(bounds[1:-1:2], bounds[2:-1:2], strict=True))


def pinpoint_activities(window: Window, holes: Sequence[Spell]) -> tuple[Episode, ...]:
    """Return what was done in a pinpoint: probing up to the hit, then marking."""
    span = window.span
    done = [_whole(window, "probing")]
    if span.hit_s is not None:
        done = [
            _episode(window, "probing", span.start_s, span.hit_s),
            _episode(window, "marking", span.hit_s, span.end_s),
        ]
    return _kept([*_pauses(window, (), holes), *done])
