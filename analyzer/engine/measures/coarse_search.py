"""Measures of the coarse search, in every draw."""

from dataclasses import replace

import numpy as np

from analyzer.engine.measures.intervals import POSTERIOR_DOUBT, figure_of
from analyzer.engine.measures.line import beside_m
from analyzer.engine.measures.standing import Stop, unseen_s
from analyzer.engine.measures.window import Window, interpolate, walked_draws
from analyzer.engine.measures.wrong_way import Excursion, runs, seconds_spread, stray_draws
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.reference_solution import ReferenceSolution

SPEED_OVER_S = 1.0
SPEED_SPREAD_MPS = 0.035  # of the moment against the mean over two seconds; our estimate
WIDEST_SPEED_MPS = 0.6
WIDEST_SIDE_M = 4.0
BESIDE_M = 2.0
"""Farther than this from the line is off it; our choice: arms' length plus the sway of following an arrow."""
START_UNKNOWN = "when the coarse search began is not known: no reading log and no first_reading mark"
SWAY_M = 0.05  # a receiver is not the person: it sways at the end of an arm; our estimate
EDGE_SPREAD_S = 0.5
"""Standard deviation of a stop's length that stems from where one says that a stop begins; our estimate."""
BRAKING_SPREAD = 0.35  # one person brakes harder than another, at all stops alike: share of the time it takes; ours


def coarse_figures(
    window: Window,
    solution: ReferenceSolution,
    events: tuple[Excursion, ...],
    stops: tuple[Stop, ...],
    *,
    ended: bool = True,
) -> dict[str, Measured]:
    """Return the coarse-search figures by name; `ended`: a fine search followed, so that it ended at its radius."""
    out_m, out_s = _wrong_way_draws(window, events)
    walked = walked_draws(window, [(s.from_s, s.to_s) for s in stops])
    figures: dict[str, Measured] = {"walked_m": figure_of(walked, "m", rough=True, least=0.0, doubt=POSTERIOR_DOUBT)}
    figures |= _against_line(window, solution, walked)
    no_place = NotAssessable("the transmitter's place is not known")
    known = bool(np.isfinite(window.range_m).all())
    figures["wrong_way_m"] = figure_of(out_m, "m", least=0.0, spread=SWAY_M if events else 0.0) if known else no_place
    away_spread = seconds_spread(window, events) if events else 0.0
    figures["wrong_way_s"] = figure_of(out_s, "s", least=0.0, spread=away_spread) if known else no_place
    figures["turnaround_s"] = _turnaround(events) if known else no_place
    figures["standing_s"] = _standing(window, stops)
    for range_m, at_end in ((10.0, False), (3.0, ended)):
        figures[f"speed_at_{range_m:.0f}_m"] = _speed_at(window, range_m, at_end=at_end) if known else no_place
    if not np.isfinite(window.span.start_sigma_s):
        unknown = ["walked_m", "field_line_m", "off_line_rms_m"]
        # A way back before the guessed start would not be seen: that there was none is not known.
        unknown += [] if events else ["wrong_way_m", "wrong_way_s"]
        figures |= dict.fromkeys(unknown, NotAssessable(START_UNKNOWN))
    return figures


def _standing(window: Window, stops: tuple[Stop, ...]) -> Measured:
    """Return the seconds of all stops; stops too short to be seen widen the interval upwards and leave the value."""
    standing = sum((s.seconds for s in stops), np.zeros(len(window.path_m)))
    braking = sum(float(s.cost_s[0] - s.seconds[0]) for s in stops)
    spread = float(np.hypot(EDGE_SPREAD_S * np.sqrt(max(len(stops), 1)), BRAKING_SPREAD * braking))
    figure = figure_of(standing, "s", least=0.0, spread=spread)
    return replace(figure, high=figure.high + unseen_s(window, stops)) if isinstance(figure, Figure) else figure


def _against_line(window: Window, solution: ReferenceSolution, walked: FloatArray) -> dict[str, Measured]:
    ideal = solution.coarse
    if ideal is None:
        missing = NotAssessable("there is no field line to compare with")
        return {"field_line_m": missing, "path_ratio": missing, "off_line_rms_m": missing}
    length = ideal.length_draws_m
    ratio: Measured = NotAssessable("the search began inside the fine-search radius")
    if length[0] > 1.0:
        ratio = figure_of(
            walked / np.where(length > 0.5, length, np.nan), "1", rough=True, least=0.0, doubt=POSTERIOR_DOUBT
        )
        ratio = _over_all_axes(ratio, walked, ideal.length_m, float(length[0]))
    return {"field_line_m": ideal.length_m, "path_ratio": ratio, "off_line_rms_m": _beside(window, solution)}


def _over_all_axes(ratio: Measured, walked: FloatArray, length: Measured, best: float) -> Measured:
    """Widen the ratio by the range of lengths over the axes, where the line's length is such a range."""
    if not isinstance(ratio, Figure) or not isinstance(length, Figure) or best <= 0.0:
        return ratio
    w = float(np.median(walked[1:])) if len(walked) > 1 else float(walked[0])
    low, high = w / max(length.high, 1e-9), w / max(length.low, 1e-9)
    return Figure(ratio.value, min(ratio.low, max(low, 0.0)), max(ratio.high, high), ratio.unit)


def longer_metres(window: Window, solution: ReferenceSolution, events: tuple[Excursion, ...] = ()) -> Measured:
    """Return the metres walked beyond the field line's, without the way out and back of `events`."""
    ideal = solution.coarse
    if ideal is None:
        return NotAssessable("there is no field line to compare with")
    length: FloatArray = ideal.length_draws_m
    if not _line_known(ideal.length_m) and isinstance(ideal.length_m, Figure):
        length = np.full(len(length), ideal.length_m.high)
    away = sum((2.0 * e.out_m for e in events), np.zeros(len(window.path_m)))
    return figure_of(walked_draws(window) - length - away, "m", rough=True)


def offsets_draws(window: Window, line_m: FloatArray) -> FloatArray:
    """Return how far each draw is beside its own ideal line (S, m), to first order about the best estimate.

    The line of a draw starts where that draw was at acquisition and ends at that draw's transmitter: the best line
    is moved by both, in proportion to the place along it.
    """
    distance, away, fraction = beside_m(window.path_m[0], line_m)
    first = interpolate(window.time_s, window.path_m, np.full(len(window.path_m), window.span.start_s))
    start_shift, end_shift = first - first[0], window.transmitter_m - window.transmitter_m[0]
    along = np.einsum("sk,mk->sm", start_shift, away) * (1.0 - fraction)
    along += np.einsum("sk,mk->sm", end_shift, away) * fraction
    moved = np.einsum("smk,mk->sm", window.path_m - window.path_m[0], away)
    beside: FloatArray = np.abs(distance[None, :] + moved - along)
    return beside


def lateral_draws(window: Window, line_m: FloatArray) -> FloatArray:
    """Return how far each draw is to the side of the ideal line (S, m); beyond its ends only the side counts."""
    _distance, away, fraction = beside_m(window.path_m[0], line_m)
    draws = offsets_draws(window, line_m)
    for end, at, neighbour in ((0.0, line_m[0], line_m[min(3, len(line_m) - 1)]), (1.0, line_m[-1], line_m[-2])):
        beyond = fraction == end
        ahead = (neighbour - at) / max(float(np.hypot(*(neighbour - at))), 1e-9)
        side = np.abs(away @ np.array([-ahead[1], ahead[0]]))
        draws = np.where(beyond[None, :], draws * side[None, :], draws)
    return draws


def off_line_peak(window: Window, line_m: FloatArray | None) -> tuple[Measured, tuple[float, float]] | None:
    """Return the farthest to the side of the line as a figure, and from when to when it was beyond `BESIDE_M`."""
    if line_m is None or len(line_m) < 4 or np.isnan(window.range_m).any():
        return None
    side = lateral_draws(window, line_m)
    t = window.time_s
    inside = (t >= window.span.start_s) & (t <= window.span.end_s)
    if not inside.any():
        return None
    peak = figure_of(side[:, inside].max(axis=1), "m", least=0.0)
    top = int(np.argmax(np.where(inside, side[0], -1.0)))
    spell = next(((lo, hi) for lo, hi in runs(inside & (side[0] > BESIDE_M)) if lo <= top < hi), (top, top + 1))
    return peak, (float(t[spell[0]]), float(t[spell[1] - 1]))


def _beside(window: Window, solution: ReferenceSolution) -> Measured:
    ideal = solution.coarse
    if ideal is None or len(ideal.line_m) < 2 or np.isnan(window.range_m).any():
        return NotAssessable("there is no field line to compare with")
    if not _line_known(ideal.length_m):
        return NotAssessable("the antenna's axis is unknown, so is the field line")
    off = offsets_draws(window, ideal.line_m)
    square = (off[:, 1:] ** 2 + off[:, :-1] ** 2) / 2.0
    weight = window.step_m() * window.share
    total = weight.sum(axis=1)
    rms = np.sqrt((square * weight).sum(axis=1) / np.where(total > 0.0, total, np.nan))
    return figure_of(rms, "m", rough=True, least=0.0, widest=WIDEST_SIDE_M, missing="nothing was walked")


def _line_known(length: Measured) -> bool:
    """Return whether one field line is meant: over all axes its length would vary by a fifth and more."""
    return isinstance(length, Figure) and length.high <= 1.25 * max(length.low, 1e-9) + 1.0


def _wrong_way_draws(window: Window, events: tuple[Excursion, ...]) -> tuple[FloatArray, FloatArray]:
    metres, seconds = stray_draws(window, events)
    # A rise that only the samples hold is in the interval, not in the value.
    metres[0] = seconds[0] = 0.0
    for event in events:
        metres, seconds = metres + event.out_m, seconds + event.out_s
    return metres, seconds


def _turnaround(events: tuple[Excursion, ...]) -> Measured:
    if not events:
        return NotAssessable("no wrong way to turn round from")
    longest = max(events, key=lambda e: e.event.turn_s - e.event.from_s)
    return figure_of(longest.turn_s - longest.from_s, "s", least=0.0, spread=0.3)


def first_fall_s(window: Window, range_m: float) -> FloatArray:
    """Return when the range first falls to `range_m` (S,) within the phase or a second after; NaN where never."""
    r, t = window.range_m, window.time_s
    ok = (t[None, :] >= window.start_s[:, None]) & (t[None, :] <= window.end_s[:, None] + 1.0) & (r <= range_m)
    j = np.where(ok.any(axis=1), np.argmax(ok, axis=1), 0)
    i = np.maximum(j - 1, 0)
    rows = np.arange(len(r))
    a, b = r[rows, i], r[rows, j]
    f = np.where(np.abs(a - b) > 1e-9, (a - range_m) / np.where(np.abs(a - b) > 1e-9, a - b, 1.0), 1.0)
    when = t[i] + np.clip(f, 0.0, 1.0) * (t[j] - t[i])
    started_outside = interpolate(t, r, window.start_s) > range_m
    return np.where(ok.any(axis=1) & started_outside, when, np.nan)


def _speed_at(window: Window, range_m: float, *, at_end: bool) -> Measured:
    """Return the speed over two seconds about the first fall to the range; `at_end`: the coarse search ends there."""
    best = float(interpolate(window.time_s, window.range_m[:1], window.start_s[:1])[0])
    if best <= range_m:
        return NotAssessable(f"the coarse search began {best:.0f} m away, inside {range_m:.0f} m")
    when = first_fall_s(window, range_m)
    if not (at_end or np.isfinite(when[0])):
        return NotAssessable(f"the coarse search did not come within {range_m:.0f} m")
    when[0] = when[0] if np.isfinite(when[0]) else window.span.end_s
    when = np.where(np.isfinite(when), when, when[0])
    # The reading, not the ground, ends the coarse search: the last range may stay just above the radius.
    a, b = when - SPEED_OVER_S, when + SPEED_OVER_S
    a, b = np.maximum(a, window.time_s[0]), np.minimum(b, window.time_s[-1])
    share = np.minimum(window.time_s[1:], b[:, None]) - np.maximum(window.time_s[:-1], a[:, None])
    share = np.clip(share, 0.0, None) / np.diff(window.time_s)
    metres = (window.step_m() * share).sum(axis=1)
    return figure_of(
        metres / np.maximum(b - a, 1e-9), "m/s", rough=True, least=0.0, widest=WIDEST_SPEED_MPS, spread=SPEED_SPREAD_MPS
    )
