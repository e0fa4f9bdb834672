"""Where the phases of a run begin and end, transmitter after transmitter, in every draw of the path."""

from dataclasses import dataclass

import numpy as np

from analyzer.engine.phases.decode import spread_draws
from analyzer.engine.phases.lowered import LOWERED_S, entered
from analyzer.engine.phases.reading_evidence import reading_evidence
from analyzer.engine.phases.settling import SHORTEST_S, decoded, state_likelihoods
from analyzer.geometry.timed_path import crossing_share, place_at
from analyzer.model.arrays import FloatArray
from analyzer.model.path import USABLE_WEIGHT, FusedPath
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.recording import Mark
from analyzer.physics.receiver import offsets, reading_m

AT_ONCE_S = 4.0  # a further transmitter heard so soon after a hit needed no signal search
LATE_LOG_S, LATE_LOG_SHARE = 10.0, 0.5
"""A log that begins later than so, at less than so much of half the strip width, was begun after the first signal:
strips are as wide as the signal is heard. Our choice."""
LEFT_M = 2.0  # so far from where a hit was the spot is left, and the next search begins
LEAST_SEARCH_S = float(sum(SHORTEST_S))
MARK_LATE_S = 1.0  # a moment is marked up to so much late, seldom early; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """One transmitter in the order of the searches: index, second of the hit before it, last second in which it can be
    searched, and its own hit."""

    index: int
    since_s: float
    end_s: float
    hit_s: float | None


def shown_or_range(fused: FusedPath, which: int) -> FloatArray:
    """Return (S, n) what bounds the fine search: with readings the noise-free reading, else metres over the surface.

    The reading is that of a receiver still carried: it is lowered because the bound is reached, not before.
    """
    d = fused.draws
    if fused.readings is None or not np.any(fused.readings.transmitter == which):
        away = d.path_m - d.transmitter_m[:, which, None, :]
        return np.asarray(np.linalg.norm(away, axis=-1), np.float64)
    was = np.interp(fused.time_s - LOWERED_S, fused.time_s, fused.height_m)
    shift = offsets(d.path_m, np.maximum(fused.height_m, was), d.transmitter_m[:, which, None, :], fused.depth_m[which])
    heading = None
    if fused.antennas == 1:
        heading = d.velocity_mps / np.maximum(np.linalg.norm(d.velocity_mps, axis=-1, keepdims=True), 1e-3)
    return reading_m(
        shift, d.axis[:, which, None, :], scale=d.reading_scale[:, None], antennas=fused.antennas, heading=heading
    )


def run_end_s(fused: FusedPath, marks: tuple[Mark, ...]) -> float:
    """Return when the run ends: the last hit if all are hit, else the finish mark, else the track's end."""
    hits = {m.transmitter or fused.transmitter_ids[0]: m.time_s for m in marks if m.mark == "probe_hit"}
    last = float(fused.time_s[-1])
    finish = [m.time_s for m in marks if m.mark == "finish"]
    if set(hits) >= set(fused.transmitter_ids):
        return min(max(hits.values()), last)
    return min(finish[0], last) if finish else last


def left_s(fused: FusedPath, hit_s: float, latest_s: float) -> FloatArray:
    """Return (S,) when each draw is first LEFT_M from its place at the hit, `latest_s` where it is not before that."""
    inside = (fused.time_s > hit_s) & (fused.time_s < latest_s)
    time = np.concatenate([[hit_s], fused.time_s[inside], [latest_s]])
    path = np.stack([place_at(fused.time_s, row, time) for row in fused.draws.path_m])
    away: FloatArray = np.linalg.norm(path - path[:, :1], axis=-1)
    row, i = np.arange(len(away)), np.argmax(away >= LEFT_M, axis=1)
    j = np.maximum(i - 1, 0)
    at = time[j] + crossing_share(away[row, j], away[row, i], LEFT_M, flat=1.0) * (time[i] - time[j])
    return np.asarray(np.where(np.any(away >= LEFT_M, axis=1), at, latest_s), np.float64)


def _left(fused: FusedPath, target: _Target, after: _Target | None, end_s: float) -> FloatArray:
    """Return (S,) when the search for a transmitter ends: once its spot is left after the hit.

    Where the next one was hit from the same spot, or too soon for a search of its own, with the hit itself.
    """
    at_hit = np.full(len(fused.draws.path_m), target.end_s)
    if target.hit_s is None or target.end_s >= end_s:
        return at_hit
    left = left_s(fused, target.end_s, end_s if after is None else after.end_s)
    return at_hit if after is not None and left[0] > after.end_s - LEAST_SEARCH_S else left


def _order(fused: FusedPath, marks: tuple[Mark, ...], metric: list[FloatArray], end_s: float) -> list[_Target]:
    """Return the transmitters in the order in which they were searched."""
    ids = fused.transmitter_ids
    hits = {
        ids.index(m.transmitter) if m.transmitter else 0: m.time_s
        for m in marks
        if m.mark == "probe_hit" and (m.transmitter or len(ids) == 1)
    }
    inside = fused.time_s <= end_s
    keys = []
    for k in range(len(ids)):
        nearest = float(fused.time_s[inside][int(np.argmin(metric[k][0][inside]))])
        heard = fused.readings is not None and bool(np.any(fused.readings.transmitter == k))
        if k in hits or heard or len(ids) == 1:
            keys.append((hits.get(k, nearest), k))
    keys.sort()
    targets, begin = [], 0.0
    for place, (when, k) in enumerate(keys):
        stop = hits.get(k, end_s if place == len(keys) - 1 else min(when + 5.0, end_s))
        if stop <= begin:
            continue
        targets.append(_Target(k, begin, min(stop, end_s), hits.get(k)))
        begin = min(stop, end_s)
    return targets


def _acquired(
    fused: FusedPath,
    target: _Target,
    marks: tuple[Mark, ...],
    metric: FloatArray,
    guess_m: float,
    from_draws: FloatArray,
) -> tuple[FloatArray, bool, str]:
    """Return when the transmitter was first heard, in every draw; whether that is evidence; and a note.

    `from_draws` (S,): when the search for it began.
    """
    begin_s = float(from_draws[0])
    count, r = len(metric), fused.readings
    if r is not None and np.any(r.transmitter == target.index):
        own = (r.transmitter == target.index) & (r.weight > USABLE_WEIGHT)
        times = r.time_s[own & (r.time_s >= begin_s - AT_ONCE_S)]  # heard long ago says nothing of now
        usual = float(np.median(np.diff(times))) if times.size > 2 else 1.0
        follow = np.flatnonzero(np.diff(times) <= max(3.0 * usual, 3.0))
        if follow.size:
            first, metres = float(times[follow[0]]), float(r.reading_m[r.time_s == times[follow[0]]][0])
            shift = fused.draws.clock_offset_s - fused.draws.clock_offset_s[0]
            if begin_s > 0.0 and first <= begin_s + AT_ONCE_S:
                return from_draws, True, ""  # shown at once: nothing to search
            if begin_s == 0.0 and first > LATE_LOG_S and metres < LATE_LOG_SHARE * guess_m:
                return _heard_by_mark_or_guess(fused, target, marks, metric, guess_m, from_draws, _late_log(metres))
            return first + shift if first > begin_s else np.full(count, begin_s), True, ""
    why = "no reading log and no first_reading mark: the start of the coarse search is a guess"
    return _heard_by_mark_or_guess(fused, target, marks, metric, guess_m, from_draws, why)


def _late_log(metres: float) -> str:
    """Return why the start of a log is not the first signal."""
    return (
        f"the log begins at {metres:.1f} m, where the signal must have been heard before: the start of the coarse "
        "search is a guess"
    )


def _heard_by_mark_or_guess(
    fused: FusedPath,
    target: _Target,
    marks: tuple[Mark, ...],
    metric: FloatArray,
    guess_m: float,
    from_draws: FloatArray,
    why: str,
) -> tuple[FloatArray, bool, str]:
    """Return when the transmitter was first heard by a mark, else a guess and `why` it is one."""
    begin_s, count, name = float(from_draws[0]), len(metric), fused.transmitter_ids[target.index]
    for mark in marks:
        named = mark.transmitter in (None, name)
        if mark.mark == "first_reading" and named and target.since_s <= mark.time_s <= target.end_s:
            late = MARK_LATE_S * (1.0 - spread_draws(np.ones(20) / 20.0, np.linspace(0.0, 1.2, 20), count, seed=1))
            late[0] = 0.0
            heard = from_draws if mark.time_s <= begin_s else mark.time_s - np.array(late)
            return heard, True, "from the first_reading mark"
    inside = (fused.time_s >= begin_s) & (fused.time_s <= target.end_s) & (metric[0] <= guess_m)
    at = float(fused.time_s[inside][0]) if np.any(inside) else begin_s
    return np.full(count, at), False, why


def _crossing(time_s: FloatArray, metric: FloatArray, radius_m: float, from_s: FloatArray, near_s: float) -> FloatArray:
    """Return (S,) when each draw first falls to `radius_m`, at most 10 s from the decoded moment `near_s`."""
    inside = (metric <= radius_m) & (time_s >= from_s[:, None]) & (np.abs(time_s - near_s) <= 10.0)
    i = np.argmax(inside, axis=1)
    row = np.arange(len(metric))
    j = np.maximum(i - 1, 0)
    share = crossing_share(metric[row, j], metric[row, i], radius_m, flat=1.0)
    at = time_s[j] + share * (time_s[i] - time_s[j])
    return np.maximum(np.where(np.any(inside, axis=1), at, near_s), from_s)  # not before the signal was heard


def _inner_bounds(
    fused: FusedPath, target: _Target, metric: FloatArray, start_draws: FloatArray, radius_m: float
) -> tuple[FloatArray | None, FloatArray | None]:
    """Return start of fine search and of pinpoint in every draw (S,), None where the phase was not reached."""
    begin = float(start_draws[0])
    if fused.readings is not None:
        metric = entered(fused, metric, radius_m)
    grid = np.arange(begin, target.end_s, 1.0) + 0.5
    grid = grid[grid <= target.end_s]
    if (
        grid.size < sum(SHORTEST_S)
        or np.mean(
            np.min(metric[:, (fused.time_s >= begin) & (fused.time_s <= target.end_s)], axis=1, initial=np.inf)
            <= radius_m
        )
        < 0.5
    ):
        return None, None
    readings_say = reading_evidence(fused.readings, target.index, grid, target.end_s)
    tables = state_likelihoods(fused, metric, grid, radius_m, readings_say)
    full, posterior = decoded(tables, 3)
    if full is None:
        return None, None
    settled = True
    if target.hit_s is None:
        without, _ = decoded(tables, 2)
        settled = without is not None and full.score > without.score + 3.0
        full = full if settled or without is None else without
    edges = np.append(grid - 0.5, target.end_s)
    fine = _crossing(fused.time_s, metric, radius_m, start_draws, float(edges[int(full.starts[1])]))
    pinpoint = None
    if settled:
        pinpoint = spread_draws(posterior, edges, len(metric), seed=target.index)
        pinpoint[0] = edges[int(full.starts[2])]
        pinpoint = np.maximum(pinpoint, fine + 0.5)
    return fine, pinpoint


def split_run(
    fused: FusedPath, marks: tuple[Mark, ...], *, fine_radius_m: float, guess_m: float
) -> tuple[PhaseSpan, ...]:
    """Return the phases of a run: from 0 to its end, in order, without gap or overlap; none if it ends before 0.

    Parameters
    ----------
    fused : FusedPath
    marks : tuple of Mark
    fine_radius_m : float
        Reading (track only: distance over the surface) at which the fine search begins.
    guess_m : float
        Distance over the surface at which a coarse search is taken to begin where nothing tells.
    """
    count = len(fused.draws.path_m)
    end_s = run_end_s(fused, marks)
    if end_s <= fused.time_s[0]:
        return ()
    metric = [shown_or_range(fused, k) for k in range(len(fused.transmitter_ids))]
    spans: list[PhaseSpan] = []
    from_draws = np.zeros(count)
    targets = _order(fused, marks, metric, end_s)
    for target, after in zip(targets, [*targets, None][1:], strict=True):
        m = metric[target.index]
        heard, known, note = _acquired(fused, target, marks, m, guess_m, from_draws)
        heard = np.clip(heard, from_draws, target.end_s)
        fine, pinpoint = _inner_bounds(fused, target, m, heard, fine_radius_m)
        bounds = [(SIGNAL, from_draws, True), (COARSE, heard, known)]
        bounds += [(FINE, np.minimum(fine, target.end_s), True)] if fine is not None else []
        stop = np.full(count, target.end_s)
        if pinpoint is not None:
            bounds.append((PINPOINT, np.minimum(pinpoint, stop), not fused.settling_hidden))
            stop = np.maximum(_left(fused, target, after, end_s), from_draws)
        spans += _spans(bounds, stop, fused.transmitter_ids[target.index], note, hit_s=target.hit_s)
        from_draws = stop
    if from_draws[0] < end_s - 1e-9:
        left = [t for t in fused.transmitter_ids if t not in {s.transmitter for s in spans}]
        name = left[0] if len(left) == 1 else ""
        spans += _spans([(SIGNAL, from_draws, True)], np.full(count, end_s), name, "")
    return tuple(spans)


def _spans(
    bounds: list[tuple[str, FloatArray, bool]],
    stop: FloatArray,
    transmitter: str,
    note: str,
    *,
    hit_s: float | None = None,
) -> list[PhaseSpan]:
    """Return spans between neighbouring bounds, those without length left out."""
    out = []
    for i, (phase, start, known) in enumerate(bounds):
        end, end_known = (bounds[i + 1][1], bounds[i + 1][2]) if i + 1 < len(bounds) else (stop, True)
        start, end = np.minimum(start, stop), np.minimum(end, stop)
        if end[0] - start[0] <= 1e-9:
            continue
        out.append(
            PhaseSpan(
                phase=phase,
                transmitter=transmitter,
                start_s=float(start[0]),
                end_s=float(end[0]),
                start_sigma_s=_sigma_s(start) if known else np.nan,
                end_sigma_s=_sigma_s(end) if end_known else np.nan,
                start_draws_s=start,
                end_draws_s=end,
                note=note if phase in (SIGNAL, COARSE) else "",
                hit_s=hit_s if phase == PINPOINT else None,
            )
        )
    return out


def _sigma_s(moment_s: FloatArray) -> float:
    """Return how far the draws (S,) of a moment are from the best estimate, root of the mean square.

    Where two moments are as likely the best estimate is one of them, and the other counts as well.
    """
    return float(np.sqrt(np.mean((moment_s[1:] - moment_s[0]) ** 2))) if len(moment_s) > 2 else 0.0
