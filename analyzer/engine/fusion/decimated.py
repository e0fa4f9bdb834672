"""A thinner copy of a run for searching: fewer nodes where nothing is decided.

The search for the right mode needs the shape of the path, not every second of it. Near a transmitter a node a second
stays, on the way to it one every three seconds, before the first reading one every six. The final fit uses all nodes.
"""

from dataclasses import replace

import numpy as np

from analyzer.engine.fusion.problem import AXIS_STATES, F, G, P, RunProblem, S, V
from analyzer.engine.fusion.state import RunState
from analyzer.model.arrays import FloatArray

NEAR_STEP_S, WAY_STEP_S, AWAY_STEP_S = 1.0, 2.5, 6.0
NEAR_READING_M = 8.0
MARGIN_S = 8.0


def decimated_nodes(problem: RunProblem, offset_s: float) -> FloatArray:
    """Return the indices of the nodes to keep."""
    t = problem.node_s
    step = np.full(t.size, AWAY_STEP_S)
    r = problem.readings
    if r is not None and r.time_s.size:
        at = r.time_s + offset_s
        step[(t >= at[0] - MARGIN_S) & (t <= at[-1] + MARGIN_S)] = WAY_STEP_S
        near = np.sort(at[np.exp(r.log_reading) <= NEAR_READING_M])
        if near.size:
            i = np.clip(np.searchsorted(near, t), 1, near.size - 1) if near.size > 1 else np.zeros(t.size, int)
            gap = np.minimum(np.abs(t - near[i]), np.abs(t - near[i - 1]))
            step[gap <= MARGIN_S] = NEAR_STEP_S
    for when in problem.anchors.over[:, 0]:
        step[np.abs(t - when) <= MARGIN_S] = NEAR_STEP_S
    fixed = np.zeros(t.size, bool)
    fixed[problem.fix_node] = True
    keep, last, last_fix = [0], t[0], t[0]
    for node in range(1, t.size - 1):
        # Fixes far apart are all kept: filler nodes between them, which know nothing, must not take their turn.
        if t[node] - (last_fix if fixed[node] else last) >= step[node] - 1e-6:
            keep.append(node)
            last = t[node]
            last_fix = t[node] if fixed[node] else last_fix
    keep.append(t.size - 1)
    return np.array(keep)


def decimated_problem(problem: RunProblem, keep: FloatArray) -> RunProblem:
    """Return the problem with nodes `keep` only and the fixes on them; the walk's intensity averaged over each step."""
    dt = np.diff(problem.node_s)
    total = np.concatenate([[0.0], np.cumsum(problem.intensity * dt)])
    node_s = problem.node_s[keep]
    gaps = np.concatenate([[0.0], np.cumsum(np.broadcast_to(problem.damping, dt.shape) * dt)])
    place = np.full(problem.nodes, -1)
    place[keep] = np.arange(keep.size)
    fixes = place[problem.fix_node] >= 0
    return replace(
        problem,
        node_s=node_s,
        fix_node=place[problem.fix_node][fixes],
        fix_m=problem.fix_m[fixes],
        fix_start_weight=problem.fix_start_weight[fixes],
        intensity=np.diff(total[keep]) / np.diff(node_s),
        damping=np.diff(gaps[keep]) / np.diff(node_s),
    )


def filled(problem: RunProblem, first: RunState, decimated: RunProblem, state: RunState) -> RunState:
    """Return a decimated state on all nodes: errors are smooth between nodes, place is the smoothed fix less error."""
    nodes = np.array(first.nodes)
    for a in (0, AXIS_STATES):
        total = nodes[:, a + P] + nodes[:, a + F] + nodes[:, a + S]
        rate = nodes[:, a + V] + nodes[:, a + G]
        for j in (F, G, S):
            nodes[:, a + j] = np.interp(problem.node_s, decimated.node_s, state.nodes[:, a + j])
        nodes[:, a + P] = total - nodes[:, a + F] - nodes[:, a + S]
        nodes[:, a + V] = rate - nodes[:, a + G]
    return RunState(nodes, state.log_scale, state.offset_s)
