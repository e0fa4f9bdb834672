"""The search for one transmitter cut out of a run: the time in which it is received, and what borders on it.

What a run says of one transmitter, it says while that one is received. Cut down to that time the search is as small in
a drill of twenty as in a drill of one. A fit of it is a guess for the whole run, in which all is fitted together.
The searches next to it stay in: they know the slow error of the fixes, which often decides the side.
"""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.fusion.problem import Anchors, ReadingRows, RunProblem
from analyzer.engine.fusion.shared_prior import SharedPrior
from analyzer.engine.fusion.state import DrillParameters, RunState
from analyzer.model.arrays import FloatArray, IndexArray

AROUND_S = 75.0  # before the first and after the last reading; our choice: about the time of a fine search
FADE_S = 30.0  # within which the rest of the run follows a fit; our choice, twice that of a shifted near part
NEIGHBOURS = 2  # other transmitters in a window, those with most readings in it: one before and one after
SCALE_SIGMA = 0.05  # of ln(reading scale), which all searches of the run tell together; our choice
CLOCK_SIGMA_S = 2.0  # of the clock, which they tell too; our choice: a fit of a few rounds may be off by so much
KNOWN_AXIS_RAD = 0.3  # of a neighbour's axis, whose other readings are cut off; our choice


@dataclass(frozen=True, slots=True, eq=False)
class OwnWindow:
    """The search for one transmitter: its problem, its state before the fit, and `share` (n,), how far each node of the
    whole run follows it. `first`: the node of the run at which it begins. `held` (t,): the run's numbers of the
    window's transmitters, the one that is searched first."""

    problem: RunProblem
    state: RunState
    first: int
    share: FloatArray
    held: IndexArray

    @property
    def transmitter(self) -> int:
        """Number of the transmitter that is searched."""
        return int(self.held[0])

    def moved(self, state: RunState) -> FloatArray:
        """Return by how much a fit of the window moves the nodes of the run (n, NODE_STATES), before `share`."""
        out = np.zeros((self.share.size, self.state.nodes.shape[1]))
        out[self.first : self.first + self.problem.nodes] = state.nodes - self.state.nodes
        return out


def own_window(problem: RunProblem, state: RunState, which: int) -> OwnWindow | None:
    """Return the search for transmitter number `which`, from a state of the whole run; None where the run has no
    readings of it on its track."""
    r = problem.readings
    own = np.flatnonzero(r.transmitter == which) if r is not None else np.zeros(0, int)
    if r is None or not own.size:
        return None
    over, time_s = problem.anchors.over, r.time_s + float(state.offset_s)
    times = np.concatenate([time_s[own], over[over[:, 1] == which, 0]])
    begin_s, end_s = float(np.min(times)), float(np.max(times))
    first = max(int(np.searchsorted(problem.node_s, begin_s - AROUND_S, side="right")) - 1, 0)
    after = min(int(np.searchsorted(problem.node_s, end_s + AROUND_S)) + 1, problem.nodes)
    if after - first < 2:
        return None
    node_s = problem.node_s[first:after]
    held = _held(r.transmitter[_within(time_s, node_s)], which)
    away = np.maximum(np.maximum(begin_s - problem.node_s, problem.node_s - end_s), 0.0)
    cut = replace(
        _between(problem, first, after),
        readings=_readings(r, time_s, node_s, held),
        anchors=_anchors(problem.anchors, held, node_s),
        depth_m=problem.depth_m[held],
        scale_prior=(float(state.log_scale), SCALE_SIGMA),
        offset_prior_s=min(problem.offset_prior_s, CLOCK_SIGMA_S),
    )
    begun = RunState(state.nodes[first:after], float(state.log_scale), 0.0)
    return OwnWindow(cut, begun, first, np.clip(1.0 - away / FADE_S, 0.0, 1.0), held)


def _held(transmitter: IndexArray, which: int) -> IndexArray:
    """Return the numbers of the transmitters that stay in a window with readings of `transmitter` (m,)."""
    others, count = np.unique(transmitter[transmitter != which], return_counts=True)
    return np.concatenate([[which], others[np.argsort(-count, kind="stable")][:NEIGHBOURS]])


def _within(time_s: FloatArray, node_s: FloatArray) -> IndexArray:
    return np.asarray((time_s >= node_s[0]) & (time_s <= node_s[-1]))


def _between(problem: RunProblem, first: int, after: int) -> RunProblem:
    """Return the nodes from `first` on and before `after`, with the fixes on them; each end as free as a run's own."""
    inside = (problem.fix_node >= first) & (problem.fix_node < after)
    steps = slice(first, after - 1)
    return replace(
        problem,
        node_s=problem.node_s[first:after],
        fix_node=problem.fix_node[inside] - first,
        fix_m=problem.fix_m[inside],
        fix_start_weight=problem.fix_start_weight[inside],
        intensity=problem.intensity[steps],
        damping=np.broadcast_to(problem.damping, problem.intensity.shape)[steps],
    )


def _numbers(transmitter: IndexArray, held: IndexArray) -> IndexArray:
    """Return the numbers in a window of transmitters of the run (m,), -1 for those not in it."""
    known = transmitter[:, None] == held
    return np.where(np.any(known, axis=1), np.argmax(known, axis=1), -1)


def _readings(r: ReadingRows, time_s: FloatArray, node_s: FloatArray, held: IndexArray) -> ReadingRows:
    """Return the readings of a window, at `time_s` (m,) on the track's clock as far as it is known.

    Of the transmitter that is searched all readings stay: the first and last ones may lie beside the track.
    """
    number = _numbers(r.transmitter, held)
    keep = np.flatnonzero((number == 0) | ((number > 0) & _within(time_s, node_s)))
    return replace(
        r,
        time_s=time_s[keep],
        log_reading=r.log_reading[keep],
        transmitter=number[keep],
        sigma=r.sigma[keep],
        height_m=r.height_m[keep],
        doubt=r.doubt[keep],
        low_spans_s=r.low_spans_s + (time_s[0] - r.time_s[0]),
        shown_rad=None if r.shown_rad is None else r.shown_rad[keep],
    )


def _anchors(a: Anchors, held: IndexArray, node_s: FloatArray) -> Anchors:
    """Return the anchors within a window's nodes, of its transmitters and of none."""
    number = _numbers(a.over[:, 1].astype(int), held)
    over = np.column_stack([a.over[:, 0], number, a.over[:, 2]])[(number >= 0) & _within(a.over[:, 0], node_s)]
    return replace(a, over=over, at=a.at[_within(a.at[:, 0], node_s)], still=a.still[_within(a.still, node_s)])


def known_of(stated: SharedPrior, shared: DrillParameters, window: OwnWindow) -> SharedPrior:
    """Return what is known of a window's transmitters: as stated of the one that is searched, and of its neighbours as
    found so far, since most of what tells their axes is cut off."""
    held = window.held
    place, axis = np.array(shared.transmitter_m[held]), np.array(shared.axis[held])
    place[0], axis[0] = stated.transmitter_m[held[0]], stated.axis[held[0]]
    turn = np.array(stated.axis_sigma_rad[held])
    turn[1:] = np.minimum(turn[1:], KNOWN_AXIS_RAD)
    return SharedPrior(place, stated.position_sigma_m[held], axis, turn)


def begun_with(stated: SharedPrior, shared: DrillParameters, window: OwnWindow, axis: FloatArray) -> DrillParameters:
    """Return where a fit of a window begins: what is searched as stated, with `axis` (3,), its neighbours as found."""
    place, axes = np.array(shared.transmitter_m[window.held]), np.array(shared.axis[window.held])
    place[0], axes[0] = stated.transmitter_m[window.held[0]], axis
    return DrillParameters(place, axes)


def exchanged(state: RunState, window: OwnWindow, *, now: RunState, then: RunState) -> RunState:
    """Return the state of a run with a window's fit `now` exchanged for another one, `then`."""
    return replace(state, nodes=state.nodes + window.share[:, None] * (window.moved(then) - window.moved(now)))


def with_own(shared: DrillParameters, which: int, own: DrillParameters) -> DrillParameters:
    """Return the drill's globals with those of the transmitter that a window searched put in."""
    place, axis = np.array(shared.transmitter_m), np.array(shared.axis)
    place[which], axis[which] = own.transmitter_m[0], own.axis[0]
    return DrillParameters(place, axis)
