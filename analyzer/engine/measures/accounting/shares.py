"""What the phases of the account have in common: a cause's seconds in every draw, and the free part of a window.

In every draw the shares of a phase add up to its length there, so the account adds up to the run in every draw.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.time_loss import gaps
from analyzer.engine.measures.window import Window, overlap
from analyzer.model.arrays import FloatArray

Spell = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Share:
    """What one cause cost in a phase: `seconds` and `metres` (S,), signed; `windows`: where to look, seconds."""

    cause: str
    seconds: FloatArray
    metres: FloatArray
    windows: tuple[Spell, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """What is left of a window once windows of known causes came out: per draw and piece of path (S, m - 1).

    `seconds`, `metres`: of the pieces. `spells`: the free time of the best estimate.
    """

    seconds: FloatArray
    metres: FloatArray
    spells: tuple[Spell, ...]


def inside(window: Window, from_s: FloatArray, to_s: FloatArray) -> FloatArray:
    """Return (S, m - 1): the share of each piece of path inside [from_s, to_s] of each draw (S,) and the phase."""
    return overlap(window.time_s, np.maximum(from_s, window.start_s), np.minimum(to_s, window.end_s))


def taken_out(
    window: Window, ways: Sequence[tuple[str, FloatArray, FloatArray]], stops: Sequence[Stop], holes: Sequence[Spell]
) -> tuple[list[Share], Rest]:
    """Return the shares of windows, in the order of the account, and what is left.

    Parameters
    ----------
    window : Window
    ways : sequence of (cause, from_s, to_s)
        Windows of other causes than standing; bounds (S,) per draw.
    stops : sequence of Stop
        Outside those windows they are standing; the metres of a stop's window stay in the rest, at own pace.
    holes : sequence of (from_s, to_s)
        Unrecorded time, which comes out first.
    """
    rows, dt, step = len(window.start_s), np.diff(window.time_s)[None, :], window.step_m()
    free = window.share.copy()
    shares: list[Share] = []
    lost = np.zeros_like(free)
    for a, b in holes:
        lost += np.minimum(inside(window, np.full(rows, a), np.full(rows, b)), free - lost)
    if lost.any():
        shares.append(_share("not_recorded", lost, dt, step, tuple(_clipped(window, holes))))
        free = free - lost
    for cause in dict.fromkeys(way[0] for way in ways):
        own = [(start, end) for name, start, end in ways if name == cause]
        part = np.zeros_like(free)
        for start, end in own:
            part += np.minimum(inside(window, start, end), free - part)
        shares.append(
            _share(cause, part, dt, step, tuple(_clipped(window, [(float(x[0]), float(z[0])) for x, z in own])))
        )
        free = free - part
    busy = [*holes, *((float(a[0]), float(b[0])) for _, a, b in ways)]
    seconds = free * dt
    halted, windows = np.zeros(rows), []
    for stop in stops:
        begin, end = stop.lost_between_s
        for a, b in gaps(max(begin, window.span.start_s), min(end, window.span.end_s), busy):
            part = np.minimum(inside(window, np.full(rows, a), np.full(rows, b)), free)
            whole = (part * dt).sum(axis=1)
            spent = np.minimum(stop.cost_s * (b - a) / max(end - begin, 1e-9), whole)
            seconds = seconds - part * dt * (spent / np.maximum(whole, 1e-9))[:, None]
            halted = halted + spent
            windows.append((a, b))
    if windows:
        shares.append(Share("standing", halted, np.zeros(rows), tuple(windows)))
    spells = gaps(window.span.start_s, window.span.end_s, [*busy, *windows])
    return shares, Rest(seconds, free * step, tuple(spells))


def _share(cause: str, part: FloatArray, dt: FloatArray, step: FloatArray, windows: tuple[Spell, ...]) -> Share:
    return Share(cause, (part * dt).sum(axis=1), (part * step).sum(axis=1), windows)


def _clipped(window: Window, spells: Sequence[Spell]) -> list[Spell]:
    low, high = window.span.start_s, window.span.end_s
    return [(max(a, low), min(b, high)) for a, b in spells if min(b, high) > max(a, low)]


def whole_seconds(window: Window) -> FloatArray:
    """Return the length of the phase (S,) as its pieces of path cover it."""
    return np.asarray((window.share * np.diff(window.time_s)[None, :]).sum(axis=1), np.float64)
