"""One run as an estimation problem: nodes in time, fixes on nodes, readings and marks between nodes.

State of a node, per axis of the slope plane: position p, velocity v, fast error f and its rate, slow error s. Both:
[p, v, f, f', s] of the contour axis, then the same of the upslope axis.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.model.recording import longest_step_s
from analyzer.physics.holding import Held
from analyzer.physics.recorder_noise import FixNoise

AXIS_STATES = 5
NODE_STATES = 2 * AXIS_STATES
P, V, F, G, S = range(AXIS_STATES)
GAP_DAMPING = 0.2  # nobody knows what a searcher does in a gap; a pace lasts about 5 s there
GAP_PACE_MPS = 1.3  # of a searcher in a gap, over both axes; common practice, no source
SPIKE_PACE_MPS, SPIKE_STEPS = 1.8, 2.0  # nobody searches faster; so many steps away the running median may lie
TURNED_S = 8.0  # about one arm of a bracket, after which a receiver may be turned; our estimate
OWN = 2  # globals of a run's own: ln(reading scale), clock offset


@dataclass(frozen=True, slots=True, eq=False)
class ReadingRows:
    """Readings as fitted, arrays (m,): clock time, ln(reading), transmitter index, standard deviation of ln(reading),
    the receiver's height above the surface, and a 0..1 doubt of it while it is being lowered or lifted.

    `carry_height_m`, `fine_height_m`: the two heights; `low_spans_s` (c, 2): when it is low, on the reading clock.
    """

    time_s: FloatArray
    log_reading: FloatArray
    transmitter: IndexArray
    sigma: FloatArray
    height_m: FloatArray
    doubt: FloatArray
    carry_height_m: float
    fine_height_m: float
    low_spans_s: FloatArray
    shown_rad: FloatArray | None = None
    """Direction shown as an angle in the slope plane from the contour axis (m,), modulo pi; NaN where not usable."""

    @property
    def directions(self) -> IndexArray:
        """Numbers of the readings whose direction is known."""
        return np.flatnonzero(np.isfinite(self.shown_rad)) if self.shown_rad is not None else np.zeros(0, int)


@dataclass(frozen=True, slots=True, eq=False)
class Pointing:
    """Where a receiver points: unit vectors in the slope plane (n, 2) at times (n,) on the track's clock, and the
    standard deviation of their direction (n,) in radians."""

    time_s: FloatArray
    way: FloatArray
    sigma_rad: FloatArray

    def at(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return way and sigma at times (m,): those of the last time before."""
        i = np.clip(np.searchsorted(self.time_s, time_s, side="right") - 1, 0, self.time_s.size - 1)
        return self.way[i], self.sigma_rad[i]


@dataclass(frozen=True, slots=True, eq=False)
class Anchors:
    """Moments at which the place or the pace is known. `over`: (time_s, transmitter index, sigma_m) rows;
    `at`: (time_s, contour, upslope, sigma_m) rows; `still`: times (h,) of standing still, with `still_sigma_mps`."""

    over: FloatArray
    at: FloatArray
    still: FloatArray
    still_sigma_mps: float = 0.03


SCALE_PRIOR = (0.08, 0.15)
"""Mean and sigma of ln(reading scale): between a receiver calibrated broadside (0) and coaxial (0.23), k known within
15 %."""


@dataclass(frozen=True, slots=True, eq=False)
class RunProblem:
    """All that the fit of one run needs. `node_s` (n,), `fix_node` (m,) node index of each fix, `fix_m` (m, 2)."""

    node_s: FloatArray
    fix_node: IndexArray
    fix_m: FloatArray
    fix_start_weight: FloatArray
    noise: FixNoise
    intensity: FloatArray
    readings: ReadingRows | None
    anchors: Anchors
    antennas: int
    depth_m: FloatArray
    damping: FloatArray | float = 0.0
    survey_grade: bool = False
    accuracy_stated: bool = False
    offset_prior_s: float = 60.0
    offset_known: bool = False
    scale_prior: tuple[float, float] = SCALE_PRIOR
    pointing: Pointing | None = None
    """Needed for one antenna alone."""

    def held(self, time_s: FloatArray) -> Held:
        """Return how the receiver is held at times (m,) on the track's clock."""
        return Held(self.antennas) if self.pointing is None else Held(self.antennas, *self.pointing.at(time_s))

    @property
    def alike(self) -> float:
        """Over how many readings the same misjudged heading holds: one antenna is turned now and then, not anew each
        second."""
        if self.antennas != 1 or self.readings is None or self.readings.time_s.size < 2:
            return 1.0
        return max(TURNED_S / max(float(np.median(np.diff(self.readings.time_s))), 0.2), 1.0)

    @property
    def log(self) -> ReadingRows:
        """The readings of a run that has some; a programming error where there are none."""
        if self.readings is None:
            raise ValueError("this run has no readings")
        return self.readings

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return int(self.node_s.size)


def node_times(fix_s: FloatArray, *, longest_step_s: float = 2.0) -> FloatArray:
    """Return fix times (n,) with filler nodes in gaps, so that readings inside a gap have nodes near them."""
    gaps = np.diff(fix_s)
    pieces = [fix_s[:1]]
    if not np.any(gaps > 1.5 * longest_step_s):
        return fix_s
    for start, gap in zip(fix_s[:-1], gaps, strict=True):
        count = int(np.ceil(gap / max(longest_step_s, gap / 300.0))) if gap > 1.5 * longest_step_s else 1
        pieces.append(start + gap * np.arange(1, count + 1) / count)
    return np.concatenate(pieces)


def gap_damping(fix_s: FloatArray, node_s: FloatArray) -> FloatArray:
    """Return the damping of the velocity (n-1,) between nodes: GAP_DAMPING inside gaps of the recording, else 0.

    What a gap is, the file's own rhythm says: a watch that logs every 20 s has none between its fixes.
    """
    steps = np.diff(fix_s)
    i = np.clip(np.searchsorted(fix_s, node_s[:-1], side="right") - 1, 0, fix_s.size - 2)
    return np.where(steps[i] > longest_step_s(fix_s), GAP_DAMPING, 0.0)


def with_gaps(intensity: FloatArray, damping: FloatArray | float) -> FloatArray:
    """Return the intensity (n-1,) with that of a walker of GAP_PACE_MPS where the velocity is damped.

    A damped velocity is an Ornstein-Uhlenbeck process, whose variance is intensity / (2 damping); half of the squared
    pace falls on each axis. With less the far end of a gap could not be reached, and its fix would look like a spike.
    """
    return np.maximum(intensity, np.asarray(damping) * GAP_PACE_MPS**2)


def spike_weights(fix_s: FloatArray, fix_m: FloatArray, *, reach_m: float) -> FloatArray:
    """Return first weights (m,): near 0 for fixes too far from the running median of seven fixes.

    Too far is `reach_m`, which holds the turns of a walker seen once a second, and what is walked in longer steps.
    """
    from scipy.ndimage import median_filter

    centre = median_filter(fix_m, size=(min(7, 2 * ((len(fix_m) - 1) // 2) + 1), 1), mode="nearest")
    away = np.linalg.norm(fix_m - centre, axis=1)
    step = np.gradient(fix_s) if fix_s.size > 1 else np.ones(fix_s.size)
    reach = reach_m + SPIKE_PACE_MPS * SPIKE_STEPS * np.maximum(step - 1.0, 0.0)
    return np.where(away > reach, 1e-4, 1.0)
