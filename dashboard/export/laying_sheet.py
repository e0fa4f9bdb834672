"""The laying plan on paper: the plan, the ways to each transmitter, and room to write what was really laid."""

import numpy as np
from matplotlib.axes import Axes

from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Transmitter
from dashboard.export.drawings import frame_plan
from dashboard.export.pages import Pages
from dashboard.export.paper import INNER_MM, LEADING, MARGIN_MM, POINT_MM, Paper, shown, wrapped
from dashboard.export.sheet import one_pdf
from dashboard.figures.laying_plan import laying_box
from dashboard.figures.layout_plan import axis_mark
from dashboard.figures.theme import ALARM, EDGE, GROUND, INK, PAPER, QUIET, SELECT
from dashboard.view_models.laying_plan import HEADS, HOW, NO_START, ONLY, LayingPlan, Spot, Way, axis_words
from dashboard.wording import NAME

PLAN_MM, TEXT = 96.0, 8.5
LINE_MM = TEXT * LEADING * POINT_MM
BOX_MM, COLUMNS_MM, COLUMN_MM = 4.5, 52.0, 21.0
BAR_SHARE = 0.09
"""Length of the bar of an antenna, of the height or width of the plan."""
REALLY = (("taped", 20.0), ("bearing", 17.0), ("depth", 17.0), ("axis", 17.0), ("tilt", 17.0), ("time", 17.0))
"""What is written down of what was really laid, and how long the line for it is, mm."""
KEY = "Star: transmitter, bar: its antenna axis. Cross: start. Dashes: the ways to tape. Numbers: corners of the area."


def laying_pdf(plan: LayingPlan) -> bytes:
    """Return the laying plan as PDF; equal plans give equal bytes."""
    return one_pdf(lambda: laying_papers(plan), f"Laying plan, {plan.drill.name}")


def laying_papers(plan: LayingPlan) -> list[Paper]:
    """Return the pages of the laying plan, mostly one or two."""
    pages = Pages(f"For the instructor only. Laying plan, {plan.drill.name}", f"{NAME}. {ONLY}")
    paper = pages.paper
    y = paper.lines(MARGIN_MM, 17.0, f"Laying plan, {plan.drill.name}", width_mm=INNER_MM, size=16, bold=True, most=2)
    y = paper.lines(MARGIN_MM, y - 1.0, ONLY, width_mm=INNER_MM, size=10, bold=True, colour=ALARM)
    for text in plan.about:
        y = paper.lines(MARGIN_MM, y, text, width_mm=INNER_MM, size=TEXT)
    pages.y_mm = paper.lines(MARGIN_MM, y, HOW, width_mm=INNER_MM, size=7.0, colour=QUIET) - 1.0
    top = pages.take(PLAN_MM + 6.0)
    draw_laying(pages.paper.axes(MARGIN_MM, top, INNER_MM, PLAN_MM), plan)
    pages.paper.lines(MARGIN_MM, top + PLAN_MM + 3.6, KEY, width_mm=INNER_MM, size=6.5, colour=QUIET)
    if plan.start is None:
        pages.y_mm = pages.paper.lines(MARGIN_MM, pages.y_mm + 3.0, NO_START, width_mm=INNER_MM, size=TEXT, bold=True)
    pages.heading("Lay", keep_mm=_transmitter_mm(plan.transmitters[0]))
    for spot in plan.transmitters:
        _transmitter(pages, spot)
    _outline(pages, plan)
    return pages.finished()


def draw_laying(axes: Axes, plan: LayingPlan) -> None:
    """Draw the laying plan in metres, north up."""
    drill, begin, extent = plan.drill, plan.drill.start_m or (0.0, 0.0), laying_box(plan)
    bar_m = BAR_SHARE * max(extent[1] - extent[0], extent[3] - extent[2])
    if drill.corners_m is not None:
        axes.fill(*drill.corners_m.T, facecolor=GROUND, edgecolor=INK, lw=1.2)
        for number, corner in enumerate(drill.corners_m, start=1):
            _name(axes, corner, str(number), below=True)
    for item in drill.transmitters:
        spot = (item.east_m, item.north_m)
        axes.plot(*np.array([begin, spot]).T, color=QUIET, lw=0.8, ls=(0, (4, 3)))
        axes.plot(*_bar(item, bar_m).T, color=INK, lw=2.2, solid_capstyle="butt")
        axes.plot(*spot, "*", mfc=SELECT, mec=INK, ms=11, mew=0.8)
        _name(axes, spot, item.id)
    axes.plot(0.0, 0.0, "+", color=INK, ms=9, mew=1.4)
    _name(axes, (0.0, 0.0), "origin")
    if plan.start:
        axes.plot(*begin, "X", mfc=ALARM, mec=PAPER, ms=9, mew=0.8)
        _name(axes, begin, "start", below=True)
    frame_plan(axes, extent, (drill.slope.angle_deg, drill.slope.aspect_deg))


def _bar(item: Transmitter, long_m: float) -> FloatArray:
    """Return a line along the antenna, long enough to be seen under its star; none for an upright or unknown one."""
    mark = axis_mark(item)
    length = float(np.hypot(*np.ptp(mark, axis=0))) if len(mark) else 0.0
    return mark.mean(axis=0) + (mark - mark.mean(axis=0)) * long_m / length if length > 1e-6 else np.empty((0, 2))


def _name(axes: Axes, at: tuple[float, float] | np.ndarray, text: str, *, below: bool = False) -> None:
    axes.annotate(
        shown(text),
        (float(at[0]), float(at[1])),
        xytext=(5, -10) if below else (5, 5),
        textcoords="offset points",
        fontsize=8,
        weight="bold",
        parse_math=False,
        annotation_clip=True,
        clip_on=True,
        bbox={"boxstyle": "square,pad=0.05", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.75},
    )


def _facts(spot: Spot) -> list[str]:
    item = spot.transmitter
    if item is None:
        return []
    text = f"Depth {item.depth_m:.2f} m, {axis_words(item)}. Latitude, longitude {spot.place}."
    return wrapped(text, width_mm=INNER_MM - BOX_MM - 3.0, size=TEXT, most=3)


def _transmitter_mm(spot: Spot) -> float:
    return LINE_MM * (1 + len(spot.ways) + len(_facts(spot))) + 15.0


def _transmitter(pages: Pages, spot: Spot) -> None:
    """Write one transmitter with a box to tick, the ways to it, and lines to write on; never over two pages."""
    y, paper, x = pages.take(_transmitter_mm(spot)), pages.paper, MARGIN_MM + BOX_MM + 3.0
    paper.box(MARGIN_MM, y, INNER_MM, 0.2, facecolor=EDGE, edgecolor="none")
    paper.box(MARGIN_MM, y + 2.0, BOX_MM, BOX_MM, facecolor="none", edgecolor=INK, lw=1.2)
    base = y + 5.4
    paper.lines(x, base, spot.name, width_mm=COLUMNS_MM - 4.0, size=11, bold=True, most=1)
    _heads(paper, x, base)
    for whence, found in spot.ways:
        base += LINE_MM
        _way(paper, x, base, whence, found)
    for text in _facts(spot):
        base += LINE_MM
        paper.text(x, base, text, size=TEXT)
    base += 6.5
    paper.text(x, base, "Really laid:", size=TEXT, bold=True)
    at = x + 22.0
    for name, long_mm in REALLY:
        paper.text(at, base, name, size=7.0, colour=QUIET)
        paper.box(at, base + 1.2, long_mm, 0.25, facecolor=INK, edgecolor="none")
        at += long_mm + 3.0


def _heads(paper: Paper, x_mm: float, y_mm: float) -> None:
    for number, head in enumerate(HEADS, start=1):
        paper.text(x_mm + COLUMNS_MM + COLUMN_MM * number, y_mm, head, size=7.0, colour=QUIET, align="right")


def _way(paper: Paper, x_mm: float, y_mm: float, whence: str, found: Way) -> None:
    paper.lines(x_mm, y_mm, whence, width_mm=COLUMNS_MM, size=TEXT, most=1)
    for number, cell in enumerate(found.cells(), start=1):
        right = x_mm + COLUMNS_MM + COLUMN_MM * number
        paper.text(right, y_mm, cell, size=TEXT, bold=number in (1, 3), align="right")


def _outline(pages: Pages, plan: LayingPlan) -> None:
    """Write the ways to the start and to the corners of the area, with boxes to tick."""
    spots = [*([plan.start] if plan.start else []), *plan.corners]
    if not spots:
        return
    x, rows_mm = MARGIN_MM + BOX_MM + 3.0, LINE_MM + 1.6
    pages.heading("Flag the start and the area" if plan.corners else "Flag the start", keep_mm=2.0 * rows_mm)
    _heads(pages.paper, x, pages.take(rows_mm) + LINE_MM)
    for spot in spots:
        whence, found = spot.ways[0]
        y = pages.take(rows_mm) + LINE_MM
        pages.paper.box(MARGIN_MM, y - 3.0, 3.6, 3.6, facecolor="none", edgecolor=INK, lw=1.0)
        _way(pages.paper, x, y, f"{spot.name}, {whence}", found)
