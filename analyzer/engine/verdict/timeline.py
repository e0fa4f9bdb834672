"""The timeline: every second and every metre of a run, once, by what was done.

The run is cut at the bounds of its phases and of what was done in them. Seconds and metres are differences of running
sums, so the rows add up to the whole by construction.
"""

import itertools
from collections.abc import Sequence

from analyzer.geometry.timed_path import walked_between
from analyzer.model.account import Episode, TimelineRow
from analyzer.model.arrays import FloatArray
from analyzer.model.phases import PhaseSpan

LEAST_PIECE_S = 1e-6


def timeline(
    time_s: FloatArray, path_m: FloatArray, spans: Sequence[PhaseSpan], activities: Sequence[Episode], duration_s: float
) -> tuple[TimelineRow, ...]:
    """Return what happened, where it happened: disjoint rows, in order of time, covering [0, duration_s].

    Parameters
    ----------
    time_s : array, shape (n,)
    path_m : array, shape (n, 2)
        The best estimate, slope-plane metres.
    spans : sequence of PhaseSpan
    activities : sequence of Episode
        Where episodes of one phase overlap, the first counts.
    duration_s : float
    """
    cuts = _cuts(spans, activities, duration_s)
    pieces = []
    for a, b in itertools.pairwise(cuts):
        at = (a + b) / 2.0
        span = _span_at(at, spans)
        name = ("", "") if span is None else (span.phase, span.transmitter)
        done = (e.activity for e in activities if e.from_s <= at < e.to_s and (e.phase, e.transmitter) == name)
        pieces.append((*name, next(done, "unexplained"), a, b))
    return tuple(
        TimelineRow(*row, row[4] - row[3], walked_between(time_s, path_m, row[3], row[4])) for row in _merged(pieces)
    )


def _cuts(spans: Sequence[PhaseSpan], activities: Sequence[Episode], duration_s: float) -> list[float]:
    times = {t for s in spans for t in (s.start_s, s.end_s)} | {t for e in activities for t in (e.from_s, e.to_s)}
    inner = sorted(t for t in times if LEAST_PIECE_S < t < duration_s - LEAST_PIECE_S)
    cuts = [0.0]
    for t in inner:
        if t - cuts[-1] > LEAST_PIECE_S:
            cuts.append(float(t))
    return [*cuts, float(duration_s)]


def _span_at(time_s: float, spans: Sequence[PhaseSpan]) -> PhaseSpan | None:
    return next((s for s in spans if s.start_s <= time_s < s.end_s), None)


def _merged(pieces: Sequence[tuple[str, str, str, float, float]]) -> list[tuple[str, str, str, float, float]]:
    """Join neighbours with the same label; time outside all phases goes to the phase beside it, unexplained."""
    named = list(pieces)
    for i, (phase, _, activity, a, b) in enumerate(named):
        if not phase:
            beside = next(
                (p for p in (*reversed(named[:i]), *named[i + 1 :]) if p[0]), ("signal_search", "", "", 0.0, 0.0)
            )
            named[i] = (beside[0], beside[1], activity, a, b)
    joined: list[tuple[str, str, str, float, float]] = []
    for piece in named:
        if joined and joined[-1][:3] == piece[:3]:
            joined[-1] = (*piece[:3], joined[-1][3], piece[4])
        else:
            joined.append(piece)
    return joined
