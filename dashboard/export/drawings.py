"""The drawings of the printed sheet: the timeline, plan, and range over time, in the styles of the pages."""

import io
import math
import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.ticker import FuncFormatter

from analyzer.model.figure import HALF_90
from analyzer.model.ground import GroundPicture
from analyzer.model.result import Phase, RunResult
from dashboard.export.paper import shown
from dashboard.figures.plan import Box, plan_box, scale_length
from dashboard.figures.shapes import AROUND_90, band, circle, path_points, stretch
from dashboard.figures.theme import ACTIVITY_STYLES, EDGE, GRID, GROUND, IDEAL, INK, PAPER, PHASE_STYLES, QUIET, SELECT
from dashboard.view_models.order import splits_within
from dashboard.wording import ACTIVITIES, PHASES_SHORT, clock

DASHES = {"solid": "-", "dot": ":", "dash": "--", "dashdot": "-."}
LETTER_SHARE = 0.02
SMALL = 6.5
TICK_MM = 9.5
"""Least way between two times on an axis."""
CREDIT_SIGNS, CREDIT_PT = 50, 4.5
"""Of a line that says whose a picture is: two thirds of the narrowest plan, and as small as can be read."""


def draw_timeline(axes: Axes, result: RunResult) -> None:
    """Draw what was done, in the order of time, with the letters of the key, over a strip of the phases."""
    for row in result.timeline:
        begin, style = row.from_s, ACTIVITY_STYLES[row.activity]
        axes.barh(0.5, row.seconds, left=begin, height=0.7, color=style.fill)
        axes.barh(
            0.5,
            row.seconds,
            left=begin,
            height=0.7,
            color="none",
            edgecolor=style.mark,
            linewidth=0,
            hatch=2 * style.pattern,
        )
        axes.barh(0.5, row.seconds, left=begin, height=0.7, color="none", edgecolor=INK, linewidth=0.5)
        if row.seconds > LETTER_SHARE * result.duration_s:
            letter = ACTIVITIES[row.activity][0]
            axes.text(begin + row.seconds / 2.0, 0.95, letter, ha="center", va="bottom", fontsize=7, weight="bold")
    for phase in result.phases:
        style_ = PHASE_STYLES[phase.phase]
        length = phase.end_s - phase.start_s
        axes.barh(-0.05, length, left=phase.start_s, height=0.3, color=style_.tint, edgecolor=style_.line, lw=0.6)
        if length > 0.06 * result.duration_s:
            name = PHASES_SHORT[phase.phase]
            axes.text(phase.start_s + 0.004 * result.duration_s, -0.05, name, va="center", fontsize=6, color=INK)
    inside = [split.at_s for split in splits_within(result)]
    axes.plot(inside, [0.24] * len(inside), "^", ms=4.5, mfc="white", mec=INK, mew=0.8)
    axes.set(xlim=(0.0, result.duration_s), ylim=(-0.22, 1.25), yticks=[])
    _bare(axes, keep=("bottom",))
    _minutes(axes)


def _minutes(axes: Axes) -> None:
    axes.xaxis.set_major_formatter(FuncFormatter(lambda seconds, _: clock(seconds)))
    low, high = axes.get_xlim()
    figure = axes.get_figure()
    wide_mm = 25.4 * axes.get_position().width * (figure.get_figwidth() if isinstance(figure, Figure) else 1.0)
    most = min(max(wide_mm / TICK_MM, 1.0), 9.0)
    step = next(s for s in (10, 20, 30, 60, 120, 300, 600, 1800, 3600, 7200, 86400) if (high - low) / s <= most)
    axes.set_xticks(np.arange(math.ceil(low / step) * step, high + 1e-6, step))
    axes.tick_params(labelsize=SMALL, length=2, color=EDGE)


def _bare(axes: Axes, *, keep: tuple[str, ...] = ()) -> None:
    for side, spine in axes.spines.items():
        spine.set_visible(side in keep)
        spine.set_edgecolor(EDGE)


def draw_ground(axes: Axes, ground: GroundPicture | None) -> None:
    """Draw the picture of the ground under everything, with whose it is; it is light already."""
    if ground is None:
        return
    pixels = imread(io.BytesIO(ground.jpeg), format="jpeg")
    axes.imshow(pixels, extent=ground.box, zorder=-10, interpolation="bilinear", aspect="auto")
    if ground.credit:
        words = textwrap.fill(shown(ground.credit), CREDIT_SIGNS)
        text = axes.text(0.99, 0.01, words, transform=axes.transAxes, parse_math=False, zorder=7)
        text.set(fontsize=CREDIT_PT, color=QUIET, ha="right", va="bottom")
        text.set_bbox({"boxstyle": "square,pad=0.1", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.7})


def draw_plan(axes: Axes, result: RunResult, ground: GroundPicture | None = None) -> None:
    """Draw the plan in metres, north up: area, ideal lines, path by phase, transmitters with what is known of them.

    `ground`: a picture under all of it.
    """
    draw_ground(axes, ground)
    if result.corners_m is not None and len(result.corners_m):
        axes.fill(*result.corners_m.T, facecolor=GROUND if ground is None else "none", edgecolor=QUIET, lw=0.8)
    outline = band(path_points(result.path), HALF_90 * result.path.sigma_m)
    pieces = np.split(outline, np.flatnonzero(np.isnan(outline[:, 0])))
    axes.add_collection(PolyCollection([p[~np.isnan(p[:, 0])] for p in pieces[:-1]], facecolors="#d3d9d6", lw=0))
    for line in result.lines:
        if line.kind == "lowest":
            axes.plot(*line.points_m.T, "o", mfc="none", mec=IDEAL, ms=4, mew=1)
        else:
            strips = line.kind == "strips"
            dash = (0, (3, 3)) if strips else (0, (6, 2)) if line.kind == "field_line" else "-"
            axes.plot(*line.points_m.T, color=QUIET if strips else IDEAL, lw=0.6 if strips else 1.1, ls=dash)
    for phase in result.phases:
        style = PHASE_STYLES[phase.phase]
        points = stretch(result.path, phase.start_s, phase.end_s)
        axes.plot(*points.T, color=style.line, ls=DASHES[style.dash], lw=1.5)
    for t in result.transmitters:
        axes.plot(*circle(t.east_m, t.north_m, AROUND_90 * t.sigma_m).T, color=INK, lw=0.6, ls=":")
        axes.plot(t.east_m, t.north_m, "*", mfc=SELECT, mec=INK, ms=9, mew=0.7)
        axes.annotate(
            shown(t.id),
            (t.east_m, t.north_m),
            xytext=(5, 5),
            textcoords="offset points",
            fontsize=8,
            weight="bold",
            parse_math=False,
            annotation_clip=True,
            clip_on=True,
        )
    frame_plan(axes, plan_box(result, None), result.slope)


def frame_plan(axes: Axes, extent: Box, slope: tuple[float, float]) -> None:
    """Set the extent with equal scales, and draw scale bar, north and uphill.

    `extent`: west, east, south, north that must be seen, metres. `slope`: angle, true bearing downhill, degrees.
    """
    west, east, south, north = extent
    box = axes.get_position()
    figure = axes.get_figure()
    if not isinstance(figure, Figure):
        raise TypeError("the axes of a plan lie on a sheet of paper")
    wide, high = box.width * figure.get_figwidth(), box.height * figure.get_figheight()
    scale = max((east - west) / wide, (north - south) / high)
    mid = (west + east) / 2.0, (south + north) / 2.0
    half = scale * wide / 2.0, scale * high / 2.0
    axes.set(xlim=(mid[0] - half[0], mid[0] + half[0]), ylim=(mid[1] - half[1], mid[1] + half[1]), xticks=[], yticks=[])
    length = scale_length(min(east - west, north - south))
    x, y = mid[0] - 0.95 * half[0], mid[1] - 0.94 * half[1]
    axes.plot([x, x + length], [y, y], color=INK, lw=2.5, solid_capstyle="butt")
    axes.annotate(f"{length:g} m", (x, y), xytext=(0, 3), textcoords="offset points", fontsize=SMALL)
    _arrow(axes, 0.06, 0.0, "N")
    angle_deg, aspect_deg = slope
    if angle_deg >= 0.5:
        _arrow(axes, 0.19, aspect_deg + 180.0, f"uphill {angle_deg:.0f}°")
    _bare(axes, keep=("left", "right", "top", "bottom"))


def _arrow(axes: Axes, at: float, bearing_deg: float, label: str) -> None:
    s, c = 0.03 * math.sin(math.radians(bearing_deg)), 0.03 * math.cos(math.radians(bearing_deg))
    style = {"arrowstyle": "-|>", "color": INK, "lw": 1.2}
    axes.annotate("", (at + s, 0.94 + c), xytext=(at - s, 0.94 - c), xycoords="axes fraction", arrowprops=style)
    ground = {"boxstyle": "square,pad=0.1", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.8}
    text = axes.text(at + 0.035, 0.94, label, transform=axes.transAxes, fontsize=SMALL, va="center", weight="bold")
    text.set(bbox=ground, zorder=7)


def _phase_name(axes: Axes, result: RunResult, phase: Phase) -> None:
    """Write the name of a phase over its band, or its first letter where the band is narrow."""
    share = (phase.end_s - phase.start_s) / result.duration_s
    name = PHASES_SHORT[phase.phase]
    if share > 0.03:
        text = name if share > 0.17 else name[0].upper()
        middle = (phase.start_s + phase.end_s) / 2.0
        axes.text(middle, 1.015, text, transform=axes.get_xaxis_transform(), fontsize=6, ha="center", color=INK)


def draw_range(axes: Axes, result: RunResult) -> None:
    """Draw range and readings over time on the bands of the phases."""
    for number, phase in enumerate(result.phases):
        style = PHASE_STYLES[phase.phase]
        axes.axvspan(phase.start_s, phase.end_s, color=style.tint, lw=0)
        if number:
            axes.axvline(phase.start_s, color=style.line, lw=0.7, ls=":")
        _phase_name(axes, result, phase)
    axes.plot(result.path.time_s, result.path.range_m, color=INK, lw=1.2, label="distance to the transmitter")
    if result.readings is not None and len(result.readings):
        axes.plot(*result.readings[:, :2].T, "o", mfc="#d9730d", mec=INK, mew=0.2, ms=1.8, label="reading")
    axes.set(xlim=(0.0, result.duration_s))
    axes.set_ylim(bottom=0.0)
    axes.grid(axis="y", color=GRID, lw=0.5)
    axes.set_ylabel("metres", fontsize=SMALL, labelpad=2)
    axes.legend(fontsize=SMALL, loc="upper right", framealpha=0.9, facecolor=PAPER, edgecolor=EDGE)
    _bare(axes, keep=("left", "bottom"))
    _minutes(axes)
