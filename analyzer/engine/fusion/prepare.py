"""From a recording to an estimation problem: nodes, noise, accuracy of readings, height of the receiver, anchors."""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.fusion.problem import (
    SCALE_PRIOR,
    Anchors,
    ReadingRows,
    RunProblem,
    gap_damping,
    node_times,
    spike_weights,
)
from analyzer.errors import EstimationError
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.geometry.timed_path import crossing_share
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill, Receiver
from analyzer.model.recording import Readings, Recording, holds, surveyed_point
from analyzer.physics.receiver import offsets
from analyzer.physics.recorder_noise import fix_noise, is_survey, stated_sigma_m

READING_PART = 0.06  # share of a reading that is noise; common practice, no source
READING_FLOOR_M = 0.07
NEAREST_SHOWN_M = 3.0  # common practice, no source
PROBE_SIGMA_M = 0.3  # searcher against the probe's hole at a hit, one axis; our own choice
AROUND_SIGMA_M = 1.4  # spread of a bracket's places around the transmitter, one axis; common practice, no source
AROUND_STEP_S = 5.0  # about one leg of a bracket
SLOW_PACE_MPS = 0.45  # nobody walks in this slowly, nobody brackets faster; common practice, no source
NOISY_WHITE_M, CALM_READING_M, CALM = 0.3, 3.5, 0.02  # m, m, m^2/s^3: 0.3 m/s and a turn every few seconds
FASTEST_MPS = 13.0  # of a reading: a sprint of 10 m/s, times 1.26 from beside to along the antenna
FIRST_INTENSITY = 0.1  # of a walk of which nothing is known yet, m^2/s^3: loose, so that no turn is smoothed away
SPIKE_REACH_M = 4.0
STAYS_RATIO, LIFT_RATIO = 1.25, 1.7  # of the fine-search radius
SHORTEST_LOW_S = 4.0  # who leaves sooner has run through
SURVEY_SPIKE_REACH_M = 1.5


@dataclass(frozen=True, slots=True)
class MotionSettings:
    """Intensity of the white acceleration in m^2/s^3: `still` + `per_speed2` * speed^2 + `seen` * what the track shows
    within `reach_s`. Speed counts up to `fastest_mps`. Our own choice, from how people walk, not from any device."""

    still: float = 0.002
    per_speed2: float = 0.010
    seen: float = 1.0
    reach_s: float = 1.0
    fastest_mps: float = 1.8


def reading_step_m(reading_m: FloatArray) -> FloatArray:
    """Return the step (m,) in which each reading was shown: 0.1, 1 or finer, found from the figures themselves."""

    def step_of(values: FloatArray) -> float:
        for step in (1.0, 0.5, 0.1):
            if values.size and np.all(np.abs(values / step - np.round(values / step)) < 1e-6):
                return step
        return 0.01

    out = np.empty_like(reading_m)
    for low, high in ((0.0, 10.0), (10.0, 20.0), (20.0, np.inf)):
        inside = (reading_m >= low) & (reading_m < high)
        out[inside] = step_of(reading_m[inside])
    return out


def reading_sigma(reading_m: FloatArray) -> FloatArray:
    """Return the standard deviation of ln(reading) (m,): a share, a floor, and rounding to the step shown."""
    step = reading_step_m(reading_m)
    return np.sqrt(READING_PART**2 + (READING_FLOOR_M**2 + step**2 / 12.0) / reading_m**2)


def crossing_s(time_s: FloatArray, reading_m: FloatArray, radius_m: float) -> float | None:
    """Return when readings first fall to `radius_m` and stay near it, by a robust rule: one is at or under it, and the
    median of it and the next two under STAYS_RATIO of it. Linear between readings; None where they never do.

    Over a deep transmitter, and with fewer antennas, the first line leads out of the radius again at once.
    """
    for i in range(reading_m.size):
        if reading_m[i] <= radius_m and np.median(reading_m[i : i + 3]) <= STAYS_RATIO * radius_m:
            if i == 0 or reading_m[i - 1] <= radius_m:
                return float(time_s[i])
            share = crossing_share(reading_m[i - 1], reading_m[i], radius_m, flat=1.0)
            return float(time_s[i - 1] + share * (time_s[i] - time_s[i - 1]))
    return None


def low_spans(
    time_s: FloatArray, reading_m: FloatArray, transmitter: FloatArray, count: int, radius_m: float
) -> FloatArray:
    """Return (c, 2) spans on the reading clock in which the receiver is held at its fine-search height.

    From the fall to the fine-search radius; a searcher who ran out of it by more than LIFT_RATIO carries it high again.
    One reading alone does not tell of that: it may be wrong, or of a place where two antennas see next to nothing.
    """
    spans = []
    for k in range(count):
        t, d = time_s[transmitter == k], reading_m[transmitter == k]
        while t.size:
            start = crossing_s(t, d, radius_m)
            if start is None:
                break
            stays = np.array([np.median(d[i : i + 3]) for i in range(d.size)])
            lifted = np.flatnonzero((t > start) & (np.minimum(d, stays) > LIFT_RATIO * radius_m))
            end = float(t[lifted[0]]) - 1.0 if lifted.size else np.inf
            others = time_s[(transmitter != k) & (time_s > start) & (reading_m > radius_m)]
            near = t[d <= 2.0 * radius_m][-1]
            later = others[others > near]
            end = min(end, float(later[0]) - 0.5) if later.size else end
            if end - start > SHORTEST_LOW_S:
                spans.append((start, end))
            t, d = (t[lifted[0] :], d[lifted[0] :]) if lifted.size else (t[:0], d[:0])
    return np.array(spans).reshape(-1, 2)


def shown_angles(readings: Readings, drill: Drill) -> FloatArray:
    """Return the direction shown at each reading (m,) as an angle in the slope plane; NaN without steer and heading.

    A pull towards a side is known at some distance only: below NEAREST_SHOWN_M indicators stop helping.
    """
    bearing = readings.heading_deg + readings.steer_deg
    usable = np.isfinite(bearing) & (readings.reading_m >= NEAREST_SHOWN_M)
    way = SlopePlane(drill.slope).direction(np.where(usable, bearing, 0.0))
    return np.where(usable, np.arctan2(way[:, 1], way[:, 0]), np.nan)


def heights(time_s: FloatArray, spans_s: FloatArray, carry_m: float, fine_m: float) -> tuple[FloatArray, FloatArray]:
    """Return height above the surface (m,) of each reading and a 0..1 doubt where the receiver is on its way."""
    low, doubt = np.zeros(time_s.size, bool), np.zeros(time_s.size)
    for start, end in spans_s:
        low |= (time_s >= start) & (time_s <= end)
        for edge in (start + 0.5, end):
            doubt = np.maximum(doubt, np.clip(1.0 - np.abs(time_s - edge) / 2.0, 0.0, 1.0))
    return np.where(low, fine_m, carry_m), doubt


def associate(
    readings: Readings, drill: Drill, place_m: FloatArray, transmitter_m: FloatArray, height_m: float
) -> FloatArray:
    """Return the transmitter index (m,) of each reading: as logged, else the one whose range fits best at `place_m`."""
    ids = {t.id: i for i, t in enumerate(drill.transmitters)}
    named = np.array([-1 if name is None else ids[name] for name in readings.transmitter])
    if np.all(named >= 0):
        return named
    depth = np.array([t.depth_m for t in drill.transmitters])
    d = offsets(place_m[:, None, :], height_m, transmitter_m[None, :, :], depth[None, :])
    misfit = np.abs(np.log(np.linalg.norm(d, axis=-1)) - np.log(readings.reading_m)[:, None])
    return np.where(named >= 0, named, np.argmin(misfit, axis=1))


def anchors_of(recording: Recording, drill: Drill, plane: SlopePlane, node_s: FloatArray) -> Anchors:
    """Return what marks say of place and pace. A hold may name its surveyed point in its note: "east north", metres.

    Marks on the readings' clock say nothing before they are put on the track's.
    """
    ids = {t.id: i for i, t in enumerate(drill.transmitters)}
    over: list[tuple[float, int, float]] = []
    at: list[tuple[float, ...]] = []
    still: list[float] = []
    marks = [m for m in recording.marks if not m.on_readings_clock and node_s[0] <= m.time_s <= node_s[-1] + 1.0]
    for mark in marks:
        known = ids.get(mark.transmitter) if mark.transmitter else (0 if len(ids) == 1 else None)
        if mark.mark == "probe_hit" and known is not None:
            over.append((mark.time_s, known, PROBE_SIGMA_M))
    for begin, end in holds(marks):
        times = np.arange(begin.time_s + 0.5, end.time_s - 0.4, 1.0)
        still.extend(times)
        place = _surveyed(begin.note or end.note, plane)
        if place is not None:
            at.extend((t, *place, 0.1) for t in times[:: max(1, times.size // 5)])
    return Anchors(
        over=np.array(over).reshape(-1, 3), at=np.array(at).reshape(-1, 4), still=np.array(still).reshape(-1)
    )


def around_hits(problem: RunProblem, velocity_mps: FloatArray) -> RunProblem:
    """Return a run without readings with the one thing its pace tells of place: who goes slowly just before a probe hit
    is searching around that transmitter.

    The slow stretch before each hit gives a soft row every AROUND_STEP_S: within AROUND_SIGMA_M of it along each axis.
    """
    speed = np.linalg.norm(velocity_mps, axis=1)
    rows = [problem.anchors.over]
    begin = problem.node_s[0]
    for hit_s, which, _ in sorted(problem.anchors.over.tolist()):
        t = np.arange(hit_s - AROUND_STEP_S, begin, -AROUND_STEP_S)
        pace = np.array([np.median(speed[np.abs(problem.node_s - x) <= AROUND_STEP_S]) for x in t])
        quick = np.flatnonzero(pace > SLOW_PACE_MPS)
        t = t[: quick[0]] if quick.size else t
        rows.append(np.column_stack([t, np.full(t.size, which), np.full(t.size, AROUND_SIGMA_M)]))
        begin = hit_s
    return replace(problem, anchors=replace(problem.anchors, over=np.concatenate(rows)))


def calibrated_near(problem: RunProblem, offset_s: float) -> RunProblem:
    """Return a run whose fixes are too noisy to show turns, with the pace of a fine search near a transmitter.

    White noise hides how people turn and looks like turning itself; near a transmitter they go slowly.
    """
    r = problem.readings
    if problem.noise.white_m < NOISY_WHITE_M or r is None:
        return problem
    near = (
        np.interp(problem.node_s, r.time_s + offset_s, np.exp(r.log_reading), left=np.inf, right=np.inf)
        <= CALM_READING_M
    )
    return replace(
        problem, intensity=np.where(near[1:] & near[:-1], np.minimum(problem.intensity, CALM), problem.intensity)
    )


def _surveyed(note: str, plane: SlopePlane) -> FloatArray | None:
    point = surveyed_point(note)
    return None if point is None else plane.to_plane(point)


def intensity_of(node_s: FloatArray, velocity_mps: FloatArray, settings: MotionSettings) -> FloatArray:
    """Return acceleration intensity (n-1,) between nodes from a first velocity (n, 2).

    People walk straight and turn at once: most seconds see almost no acceleration, a few see all of it. The change of
    the track's velocity shows which; its greatest value within `reach_s` counts, so a turn is not smoothed away.
    """
    from scipy.ndimage import maximum_filter1d

    speed = np.minimum(np.linalg.norm(velocity_mps, axis=1), settings.fastest_mps)
    speed = np.maximum(speed[1:], speed[:-1])
    dt = np.diff(node_s)
    change = np.sum(np.diff(velocity_mps, axis=0) ** 2, axis=1) / (2.0 * np.maximum(dt, 0.1))
    window = 2 * max(1, round(settings.reach_s / float(np.median(dt)))) + 1
    seen = settings.seen * maximum_filter1d(change, window)
    return np.asarray(settings.still + settings.per_speed2 * speed**2 + seen, np.float64)


def first_problem(recording: Recording, drill: Drill, plane: SlopePlane) -> RunProblem:
    """Return the problem of a run with fixes and marks only; readings are added once a first path is known."""
    track = recording.track
    if track.time_s.size < 10:
        raise EstimationError(
            where=recording.run_id,
            what=f"only {track.time_s.size} usable fixes",
            do="record at least 10 fixes inside the run",
        )
    node_s = node_times(track.time_s)
    fix_m = plane.to_plane(np.column_stack([track.east_m, track.north_m]))
    survey = is_survey(track, recording.info.recorder)
    reach = SURVEY_SPIKE_REACH_M if survey else SPIKE_REACH_M
    return RunProblem(
        node_s=node_s,
        fix_node=np.searchsorted(node_s, track.time_s),
        fix_m=fix_m,
        fix_start_weight=spike_weights(track.time_s, fix_m, reach_m=reach),
        noise=fix_noise(track, survey_grade=survey),
        survey_grade=survey,
        accuracy_stated=stated_sigma_m(track) is not None,
        intensity=np.full(node_s.size - 1, FIRST_INTENSITY),
        damping=gap_damping(track.time_s, node_s),
        readings=None,
        anchors=anchors_of(recording, drill, plane, node_s),
        antennas=recording.info.antennas,
        depth_m=np.array([t.depth_m for t in drill.transmitters]),
        scale_prior=scale_prior(drill.receiver(recording.info.receiver)),
    )


def scale_prior(receiver: Receiver | None) -> tuple[float, float]:
    """Return mean and sigma of ln(reading scale): of a receiver's range check, else of receivers at large."""
    if receiver is None or receiver.scale is None or receiver.scale_sigma is None:
        return SCALE_PRIOR
    return float(np.log(receiver.scale)), receiver.scale_sigma / receiver.scale


def on_foot(readings: Readings) -> bool:
    """Return whether somebody on foot can have seen these readings at their times: else the times are garbled."""
    took_s = float(np.ptp(readings.time_s))
    return float(np.ptp(readings.reading_m)) <= FASTEST_MPS * took_s


def with_readings(
    problem: RunProblem,
    recording: Recording,
    drill: Drill,
    place_m: FloatArray,
    transmitter_m: FloatArray,
    radius_m: float,
) -> RunProblem:
    """Return the problem with reading rows; `place_m` (m, 2) is a first guess of where each reading was taken."""
    readings, info = recording.readings, recording.info
    if readings is None or readings.time_s.size == 0:
        return problem
    which = associate(readings, drill, place_m, transmitter_m, info.carry_height_m)
    spans = low_spans(readings.time_s, readings.reading_m, which, len(drill.transmitters), radius_m)
    height, doubt = heights(readings.time_s, spans, info.carry_height_m, info.fine_height_m)
    rows = ReadingRows(
        time_s=readings.time_s,
        log_reading=np.log(readings.reading_m),
        transmitter=which,
        sigma=reading_sigma(readings.reading_m),
        height_m=height,
        doubt=doubt,
        carry_height_m=info.carry_height_m,
        fine_height_m=info.fine_height_m,
        low_spans_s=spans,
        shown_rad=shown_angles(readings, drill),
    )
    return replace(problem, readings=rows)
