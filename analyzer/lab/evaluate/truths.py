"""What is true of a simulated run, by the definitions that hold for its evidence, and the truth of every measure.

With readings the fine search begins where the noise-free reading falls to the radius, on a track alone where the
distance over the surface does. The simulator tells the first; the second follows here from its path.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.polyline import length, segment_lengths
from analyzer.geometry.timed_path import place_at, walked_between
from analyzer.lab.simulate.motion import STANDING_MPS
from analyzer.lab.simulate.truth import KnownRun, TrueSearch, TrueWrongWay, Truth, wrong_ways
from analyzer.lab.simulate.world import Receiver, trace_line
from analyzer.model.arrays import FloatArray

AFTER_FINE_S = 1.0  # the reading ends the coarse search: the range may fall to 3 m a moment later
SILENT_S, SWING_S, LEAST_SHOWN, SWINGS_M = 5.0, 5.0, 3, 0.4
"""A log that ends so long before the hit is silent; a bracket swings so far within so long. Our choice."""
EVENT_LEAST_M = 1.5
"""A smaller rise of the range is the sway of following an arrow: it neither has to be found nor counts as false."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """True starts in seconds: coarse search, fine search, pinpoint, and the probe hit."""

    coarse_s: float
    fine_s: float
    pinpoint_s: float
    hit_s: float


def bounds_of(truth: Truth, search: TrueSearch, *, radius_m: float, heard: bool) -> Bounds:
    """Return the true bounds of a search. `heard`: with a reading log."""
    own = {p.phase: p for p in truth.phases if p.transmitter == search.transmitter}
    coarse, fine = own["coarse_search"].start_s, own["fine_search"].start_s
    if not heard:
        near = np.flatnonzero((range_m(truth, search) <= radius_m) & (truth.time_s >= coarse))
        fine = float(truth.time_s[near[0]]) if len(near) else fine
    return Bounds(coarse, fine, own["fine_search"].end_s, search.probe_hit_s)


def log_tells_of_settling(run: KnownRun, search: TrueSearch, bounds: Bounds) -> bool:
    """Return whether the reading log tells when the searcher settled.

    It falls silent there, long before the hit; or it swings in the SWING_S before and rests in those after.
    """
    readings = run.recording.readings
    if readings is None:
        return False
    own = np.array([name in (None, search.transmitter) for name in readings.transmitter], bool)
    time_s, shown = readings.time_s[own] + run.truth.clock_offset_s, readings.reading_m[own]
    upto = time_s[time_s <= bounds.hit_s]
    if upto.size and upto[-1] < min(bounds.hit_s - SILENT_S, bounds.pinpoint_s + SILENT_S):
        return True
    before, after = (
        shown[(time_s > a) & (time_s <= a + SWING_S)] for a in (bounds.pinpoint_s - SWING_S, bounds.pinpoint_s)
    )
    few = min(before.size, after.size) < LEAST_SHOWN
    return not few and bool(np.ptp(before) >= max(SWINGS_M, 2.0 * float(np.ptp(after))))


def place_of(truth: Truth, search: TrueSearch) -> FloatArray:
    """Return the (2,) true slope-plane point over the transmitter."""
    source = next(s for s in truth.sources if s.id == search.transmitter)
    return np.array([source.x, source.y])


def range_m(truth: Truth, search: TrueSearch) -> FloatArray:
    """Return (n,) the true distance over the surface to the transmitter."""
    return np.asarray(np.hypot(*(truth.plane_m - place_of(truth, search)).T), np.float64)


def path_at(truth: Truth, time_s: FloatArray | float) -> FloatArray:
    """Return the true slope-plane positions (..., 2) at times."""
    return place_at(truth.time_s, truth.plane_m, time_s)


def walked_m(truth: Truth, start_s: float, end_s: float) -> float:
    """Return the metres truly walked between two times."""
    return walked_between(truth.time_s, truth.plane_m, start_s, end_s)


def field_line_m(run: KnownRun, search: TrueSearch, *, radius_m: float, heard: bool) -> float:
    """Return the true length of the field line, down to the radius of reading or of distance over the surface."""
    if heard:
        return search.field_line_m
    truth, info = run.truth, run.recording.info
    source = next(s for s in truth.sources if s.id == search.transmitter)
    receiver = Receiver(info.antennas, truth.reading_scale)
    line = trace_line(source, receiver, search.acquired_m, height_m=info.carry_height_m, radius_m=radius_m / 3.0)
    away = np.hypot(*(line - (source.x, source.y)).T)
    near = np.flatnonzero(away <= radius_m)
    line = line[: near[0] + 1] if len(near) else line
    return float(length(line))


def true_events(truth: Truth, search: TrueSearch, bounds: Bounds) -> tuple[TrueWrongWay, ...]:
    """Return the stretches of the coarse search in which the range truly rises by EVENT_LEAST_M and more."""
    inside = (truth.time_s >= bounds.coarse_s - 1e-9) & (truth.time_s <= bounds.fine_s + 1e-9)
    return wrong_ways(truth.time_s[inside], range_m(truth, search)[inside], at_least_m=EVENT_LEAST_M)


def way_out(truth: Truth, search: TrueSearch, events: tuple[TrueWrongWay, ...]) -> tuple[float, float]:
    """Return metres walked and seconds spent moving with the range rising, on the ways out."""
    ranges = range_m(truth, search)
    steps, lasted = segment_lengths(truth.plane_m), np.diff(truth.time_s)
    away = (np.diff(ranges) > 0.0) & (steps >= STANDING_MPS * lasted)
    metres = seconds = 0.0
    for event in events:
        on_it = away & (truth.time_s[:-1] >= event.from_s - 1e-9) & (truth.time_s[1:] <= event.turn_s + 1e-9)
        metres += float(np.sum(steps[on_it]))
        seconds += float(np.sum(lasted[on_it]))
    return metres, seconds


@dataclass(frozen=True, slots=True)
class Walked:
    """What the truths of one search's measures are taken from.

    `coarse_m`, `line_m`: true metres of the coarse search and of its field line. `out_m`, `out_s`: on the ways out.
    """

    run: KnownRun
    true: TrueSearch
    bounds: Bounds
    coarse_m: float
    line_m: float
    out_m: float
    out_s: float

    @property
    def heard(self) -> bool:
        """Return whether the run has a reading log."""
        return self.run.recording.readings is not None


def walked_in(run: KnownRun, true: TrueSearch, bounds: Bounds, *, radius_m: float) -> Walked:
    """Return what the truths of a search are taken from."""
    line = field_line_m(run, true, radius_m=radius_m, heard=run.recording.readings is not None)
    out_m, out_s = way_out(run.truth, true, true_events(run.truth, true, bounds))
    return Walked(run, true, bounds, walked_m(run.truth, bounds.coarse_s, bounds.fine_s), line, out_m, out_s)


def _at_hit(w: Walked) -> float:
    truth = w.run.truth
    return float(np.hypot(*(path_at(truth, w.bounds.hit_s) - place_of(truth, w.true))))


def _speed_at(w: Walked, at_m: float) -> float:
    """Return the mean speed over two seconds about the first fall of the range, NaN where it began nearer.

    The simulators tell the speed of that moment: of one who brakes there it is another.
    """
    truth, (coarse_s, fine_s) = w.run.truth, (w.bounds.coarse_s, w.bounds.fine_s)
    rows = np.flatnonzero((truth.time_s >= coarse_s) & (truth.time_s <= fine_s + AFTER_FINE_S))
    near = rows[range_m(truth, w.true)[rows] <= at_m]
    if not near.size or near[0] == rows[0]:
        return np.nan
    when = float(truth.time_s[near[0]])
    return walked_m(truth, when - 1.0, when + 1.0) / 2.0


TRUTHS: Mapping[str, Callable[[Walked], float] | str] = {
    "signal.covered_fraction": "covered ground is a count over a grid: its truth would be the engine's own count",
    "signal.overlap_fraction": "covered ground is a count over a grid: its truth would be the engine's own count",
    "signal.duration_s": lambda w: w.bounds.coarse_s,
    "signal.duration_reference_s": "of the reference searcher, not of the run",
    "signal.luck_s": "new ground is a count along the path: its truth would be the engine's own count",
    "coarse.walked_m": lambda w: w.coarse_m,
    "coarse.field_line_m": lambda w: w.line_m,
    "coarse.path_ratio": lambda w: w.coarse_m / w.line_m if w.line_m > 1.0 else np.nan,
    "coarse.off_line_rms_m": "not compared yet: of the true field line, the simulator keeps the length alone",
    "coarse.wrong_way_m": lambda w: w.out_m,
    "coarse.wrong_way_s": lambda w: w.out_s,
    "coarse.turnaround_s": "not compared yet; the events that it is taken from are, one by one",
    "coarse.standing_s": lambda w: w.true.standing_s,
    "coarse.speed_at_10_m": lambda w: _speed_at(w, 10.0),
    "coarse.speed_at_3_m": lambda w: _speed_at(w, 3.0),
    "fine.duration_s": lambda w: w.bounds.pinpoint_s - w.bounds.fine_s,
    "fine.crossing_angle_deg": lambda w: w.true.crossing_angle_deg,
    "fine.reach_m": lambda w: w.true.reach_m,
    "fine.overshoot_m": lambda w: w.true.overshoot_m,
    "fine.lowest_reading_m": lambda w: w.true.lowest_reading_m,
    "fine.ended_on_lowest_m": lambda w: w.true.ended_on_lowest_m,
    "fine.final_offset_m": lambda w: w.true.final_offset_m,
    "fine.final_offset_physics_m": "of the buried transmitter and not of the run: tests/unit/physics hold it",
    "fine.crossing_bounds_deg": "the crossing angle again where it is known too poorly for a figure; compared as that",
    "fine.oblique_share": "a probability: it has no interval",
    "fine.lines_seen": "a count of what can be told apart: it has no interval",
    "fine.walked_m": "not compared yet",
    "fine.pace_mps": "not compared yet: a quantile of the speed, whose truth depends on the step it is taken at",
    "pinpoint.duration_s": lambda w: w.bounds.hit_s - w.bounds.pinpoint_s,
    "pinpoint.probe_offset_m": _at_hit,
    "evidence.clock_offset_s": lambda w: w.run.truth.clock_offset_s if w.heard else np.nan,
    "evidence.reading_scale": lambda w: w.run.truth.reading_scale if w.heard else np.nan,
}
"""Measure -> its truth in a simulated run, NaN where it is not defined there; or why there is none.

Every measure of a search in the table has an entry; those of a run are sums and shares of these. The two of the
evidence panel are no measures of a search and stand in no other list.
"""


def truths_of(walked: Walked) -> dict[str, float]:
    """Return the truth of every figure that has one, by group and key."""
    return {name: truth(walked) for name, truth in TRUTHS.items() if not isinstance(truth, str)}
