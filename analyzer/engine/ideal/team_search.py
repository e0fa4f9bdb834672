"""The signal search of several searchers together: joint coverage until the first signal, and who had it.

A searcher covers every point within half the strip width of the path. Slope-plane metres throughout.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from analyzer.engine.ideal.strips import CELLS, reached, spread_points
from analyzer.geometry.polyline import length
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.arrays import FloatArray
from analyzer.model.phases import SIGNAL
from analyzer.model.result import RunResult
from analyzer.model.team import MemberShare, TeamMember, TeamSearch

SHOWN_SIGMA_S = 1.0
"""Of when a reading was shown: a display that changes once a second, and a log in whole seconds; our choice."""

SPREADS, STEPS = 6.0, 601
"""So many standard deviations to either side, in so many steps, the moments of the first are looked at."""


def team_search(
    members: Sequence[TeamMember], corners_m: ArrayLike, *, strip_width_m: float, cells: int = CELLS
) -> TeamSearch:
    """Return what a team covered of a polygon (c, 2) until somebody first heard a signal, else until the last fix.

    Parameters
    ----------
    members : sequence of TeamMember
        At least one; on one clock.
    corners_m : array_like, shape (c, 2)
    strip_width_m : float
    cells : int
        About how many points of the area are looked at.
    """
    heard = sorted((m for m in members if math.isfinite(m.heard_s)), key=lambda m: m.heard_s)
    until_s = heard[0].heard_s if heard else max(float(m.time_s[-1]) for m in members)
    grid = spread_points(np.asarray(corners_m, float), cells)
    walks = [_until(m, until_s) for m in members]
    near = np.array(
        [
            reached(walk, grid, strip_width_m=strip_width_m)[0].any(axis=1) if len(walk) else np.zeros(len(grid), bool)
            for walk in walks
        ]
    )
    count = near.sum(axis=0)
    shares = tuple(
        MemberShare(
            run_id=m.run_id,
            name=m.name,
            covered=float(own.mean()),
            alone=float((own & (count == 1)).mean()),
            walked_m=float(length(walk)) if len(walk) > 1 else 0.0,
            heard_s=m.heard_s,
        )
        for m, own, walk in zip(members, near, walks, strict=True)
    )
    return TeamSearch(
        until_s=until_s,
        covered=float((count > 0).mean()),
        twice=float((count > 1).mean()),
        members=shares,
        first=heard[0].run_id if heard else "",
        second=heard[1].run_id if len(heard) > 1 else "",
        sure=_sure(heard),
        grid_m=grid,
        count=count.astype(float),
        left_out=tuple(m.run_id for m in members if not math.isfinite(m.heard_s)) if heard else (),
    )


def team_member(result: RunResult, zero_s: float, plane: SlopePlane) -> TeamMember:
    """Return a run on the team's clock, `zero_s` later than its own; its first reading ends its first signal search."""
    path = result.path
    own = path.time_s >= min(0.0, float(path.time_s[-1]))
    signal = next((phase for phase in result.phases if phase.phase == SIGNAL), None)
    sigma = math.nan if signal is None or signal.end_sigma_s is None else signal.end_sigma_s
    at_s = signal.end_s if signal is not None and math.isfinite(sigma) else math.nan
    return TeamMember(
        run_id=result.run_id,
        name=result.searcher or result.called,
        time_s=path.time_s[own] + zero_s,
        path_m=plane.to_plane(np.column_stack([path.east_m, path.north_m])[own]),
        heard_s=at_s + zero_s,
        heard_sigma_s=sigma,
    )


def _until(member: TeamMember, until_s: float) -> FloatArray:
    """Return the path up to a moment, which lies between two of its points or beyond them."""
    kept = member.time_s <= until_s
    path = member.path_m[kept]
    if kept.all() or not kept.any():
        return path
    last = [np.interp(until_s, member.time_s, member.path_m[:, j]) for j in (0, 1)]
    return np.vstack([path, last])


def _sure(heard: Sequence[TeamMember]) -> float:
    """Return the probability that the first to hear was first of all: moments are normal, and independent."""
    if len(heard) < 2:
        return 1.0
    sigmas = [math.hypot(m.heard_sigma_s, SHOWN_SIGMA_S) for m in heard]
    if len(heard) == 2:
        return 0.5 * math.erfc(-(heard[1].heard_s - heard[0].heard_s) / (math.hypot(*sigmas) * math.sqrt(2.0)))
    # That all others come later than some moment, over all moments at which the first may have heard.
    steps = np.linspace(-SPREADS, SPREADS, STEPS)
    later = [
        [0.5 * math.erfc((heard[0].heard_s + sigmas[0] * x - m.heard_s) / (s * math.sqrt(2.0))) for x in steps]
        for m, s in zip(heard[1:], sigmas[1:], strict=True)
    ]
    weight = np.exp(-0.5 * steps**2)
    return float(np.prod(later, axis=0) @ weight / weight.sum())
