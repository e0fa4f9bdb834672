"""The fine search close up for the printed sheet: the lines walked with their numbers, the ideal cross, what was found.

Every thing has a shape of its own, so that it can be told on a print without colours.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection

from analyzer.model.account import Search
from analyzer.model.figure import HALF_90
from analyzer.model.phases import PINPOINT
from analyzer.model.result import RunResult
from dashboard.export.drawings import frame_plan
from dashboard.figures.fine_closeup import LEAD_S, closeup_box, fine_phases, lowest_reading_at
from dashboard.figures.shapes import AROUND_90, band, circle, position_at, stretch
from dashboard.figures.theme import ALARM, IDEAL, INK, PAPER, PHASE_STYLES, QUIET, SELECT

NUMBER_SIZE, NUMBER_AT = 6.5, 0.75
"""Type of a line's number, and where on the line it stands: all lines cross at their middles."""


def has_close_up(result: RunResult, search: Search) -> bool:
    """Return whether the run has a fine search for this transmitter that can be drawn."""
    return bool(fine_phases(result, search.transmitter))


def draw_close_up(axes: Axes, result: RunResult, search: Search) -> None:
    """Draw one fine search in metres, north up."""
    phases = fine_phases(result, search.transmitter)
    from_s, to_s = phases[0].start_s, phases[-1].end_s
    _band(axes, result, from_s, to_s)
    for ideal in result.lines:
        if ideal.transmitter == search.transmitter and ideal.kind == "bracket":
            axes.plot(*ideal.points_m.T, color=IDEAL, lw=3.4, alpha=0.35, solid_capstyle="butt")
        elif ideal.transmitter == search.transmitter and ideal.kind == "lowest":
            axes.plot(*ideal.points_m.T, "o", mfc="none", mec=IDEAL, ms=6, mew=1.2)
    axes.plot(*stretch(result.path, from_s - LEAD_S, from_s).T, color=QUIET, lw=0.9)
    for phase in phases:
        dash = "-." if phase.phase == PINPOINT else "-"
        points = stretch(result.path, phase.start_s, phase.end_s)
        axes.plot(*points.T, color=PHASE_STYLES[phase.phase].line, ls=dash, lw=1.0)
    _spots(axes, result, search.transmitter, from_s, to_s)
    _legs(axes, result, search)
    frame_plan(axes, closeup_box(result, search.transmitter), result.slope)


def _band(axes: Axes, result: RunResult, from_s: float, to_s: float) -> None:
    points = stretch(result.path, from_s, to_s)
    inside = result.path.time_s[(result.path.time_s > from_s) & (result.path.time_s < to_s)]
    times = np.concatenate([[from_s], inside, [to_s]]) if len(points) else np.empty(0)
    radius = HALF_90 * np.interp(times, result.path.time_s, result.path.sigma_m)
    if len(points) != len(radius) or not len(points):
        return
    outline = band(points, radius)
    pieces = np.split(outline, np.flatnonzero(np.isnan(outline[:, 0])))
    axes.add_collection(PolyCollection([p[~np.isnan(p[:, 0])] for p in pieces[:-1]], facecolors="#e4e8e6", lw=0))


def _legs(axes: Axes, result: RunResult, search: Search) -> None:
    """Number the lines that were walked, in order."""
    for number, leg in enumerate(search.legs, start=1):
        ends = np.array([position_at(result.path, leg.from_s), position_at(result.path, leg.to_s)])
        axes.plot(*ends.T, color=INK, lw=0.8, ls=(0, (3, 3)))
        axes.annotate(
            str(number),
            position_at(result.path, leg.from_s + NUMBER_AT * (leg.to_s - leg.from_s)),
            ha="center",
            va="center",
            fontsize=NUMBER_SIZE,
            weight="bold",
            color=INK,
            bbox={"boxstyle": "square,pad=0.25", "facecolor": PAPER, "edgecolor": INK, "linewidth": 0.8},
            clip_on=True,
            annotation_clip=True,
            zorder=6,
        )


def _spots(axes: Axes, result: RunResult, transmitter: str, from_s: float, to_s: float) -> None:
    """Mark the transmitter, the lowest reading and the probe hit, each with a sign of its own."""
    for placed in result.transmitters:
        if placed.id == transmitter:
            axes.plot(*circle(placed.east_m, placed.north_m, AROUND_90 * placed.sigma_m).T, color=INK, lw=0.6, ls=":")
            axes.plot(placed.east_m, placed.north_m, "*", mfc=SELECT, mec=INK, ms=10, mew=0.7, zorder=4)
    lowest = lowest_reading_at(result, transmitter, from_s, to_s)
    if lowest is not None:
        axes.plot(*position_at(result.path, lowest[0]), "v", mfc=PAPER, mec=INK, ms=7, mew=1.1, zorder=5)
    for name, at in result.probe_hits_s:
        if name == transmitter:
            axes.plot(*position_at(result.path, at), "x", color=ALARM, ms=8, mew=2.0, zorder=5)
