"""A sheet of A4 for the searcher; what it has no room for, such as several fine searches, goes on further pages."""

import io
import threading
from collections.abc import Callable

from matplotlib.backends.backend_pdf import PdfPages

from analyzer.model.figure import Figure as Value
from analyzer.model.ground import GroundPicture
from analyzer.model.result import RunResult
from dashboard.export.close_up import draw_close_up, has_close_up
from dashboard.export.drawings import draw_plan, draw_range
from dashboard.export.pages import Pages
from dashboard.export.paper import INNER_MM, MARGIN_MM, Paper
from dashboard.export.practice_block import strikes
from dashboard.export.sheet_blocks import coach, findings, measures, measures_mm, splits, timeline
from dashboard.figures.theme import QUIET
from dashboard.view_models.account import not_found
from dashboard.view_models.sheet import SheetRun, when
from dashboard.wording import NAME, TIERS, clock

PLAN_KEY = "Path: dots signal, line coarse, dashes fine search. Long dashes: field line. Grey band, ring: 90 %."
CLOSE_UP_KEY = (
    "Fine search: numbers, the lines walked, in order; dots and dashes, probing; thick and pale, the ideal cross; ring "
    "on it, lowest should be here; triangle, lowest reading; cross, probe hit; star, transmitter, dotted ring 90 %."
)
DRAWING_MM, UNDER_MM, GAP_MM = 50.0, 16.0, 4.0
"""Height of the drawings, and of what stands over and under them; what lies between them."""
LEAST_MM, MOST_MM = 44.0, 64.0
"""How low and how high drawings get that share a page with the measures."""
CLOSE_UP_MM = (91.0, 72.0)
"""Width and height of a close-up on a page of several, two in a row."""
_ONE_AT_A_TIME = threading.Lock()  # the drawing library is not made for several threads


def sheet_pdf(shown: SheetRun) -> bytes:
    """Return the sheet as PDF; equal runs give equal bytes."""
    title = f"{shown.result.searcher or shown.result.called}, {shown.result.drill}"
    return one_pdf(lambda: sheet_papers(shown), title)


def one_pdf(draw: Callable[[], list[Paper]], title: str) -> bytes:
    """Return the pages that `draw` gives as one PDF without anything that changes from day to day."""
    out = io.BytesIO()
    about = {"Title": title, "Creator": NAME, "Producer": None, "CreationDate": None}
    with _ONE_AT_A_TIME, PdfPages(out, metadata=about) as pdf:
        for paper in draw():
            pdf.savefig(paper.figure)
    return out.getvalue()


def sheet_papers(shown: SheetRun) -> list[Paper]:
    """Return the pages of the sheet, mostly one."""
    result = shown.result
    name = result.searcher or result.called
    pages = Pages(f"{name}, {result.drill}, run {result.called}, {when(result.time_zero, shown.zone)}", _foot(result))
    _title(pages, shown)
    findings(pages, result)
    coach(pages, result)
    timeline(pages, result)
    splits(pages, shown)
    single = len(result.searches) == 1 and has_close_up(result, result.searches[0])
    (_three_drawings if single else _two_drawings)(pages, result, shown.ground)
    measures(pages, result)
    strikes(pages, result)
    if not single:
        _close_ups(pages, result)
    return pages.finished()


def _title(pages: Pages, shown: SheetRun) -> None:
    paper, result, right = pages.paper, shown.result, MARGIN_MM + INNER_MM
    paper.lines(MARGIN_MM, 17.0, result.searcher or result.called, width_mm=120.0, size=20, bold=True, most=1)
    about = f"{result.drill}, run {result.called}, {when(result.time_zero, shown.zone)}"
    y = paper.lines(MARGIN_MM, 23.0, about, width_mm=125.0, size=9, most=2)
    paper.text(right - 28.0, 16.5, clock(result.duration_s), size=18, bold=True, align="right")
    paper.text(right - 28.0, 23.0, "time", size=8, align="right")
    overall = dict(result.scores.by_phase).get("overall")
    if isinstance(overall, Value):
        paper.text(right, 16.5, f"{overall.value:.0f}", size=18, bold=True, align="right")
        paper.text(right, 23.0, f"score, {overall.low:.0f} to {overall.high:.0f}", size=8, align="right")
    else:
        paper.text(right, 23.0, "score not assessable", size=8, align="right")
    notes = " ".join(filter(None, (not_found(result), *result.evidence.notes)))
    if notes:
        y = paper.lines(MARGIN_MM, y, notes, width_mm=INNER_MM, size=7.0, bold=True)
    pages.y_mm = y - 1.0


def _three_drawings(pages: Pages, result: RunResult, ground: GroundPicture | None) -> None:
    """Draw plan, fine search and range beside each other; the fine search is what the searcher looks at longest."""
    whole, halves = (pages.left_mm - UNDER_MM - measures_mm(result, halves=halves) for halves in (False, True))
    tall = min(max(whole if whole >= LEAST_MM else halves, LEAST_MM), MOST_MM)
    y, x = pages.take(tall + UNDER_MM), MARGIN_MM
    for title, width, draw in (
        ("Plan", 55.0, lambda axes, run: draw_plan(axes, run, ground)),
        ("Fine search", 66.0, lambda axes, run: draw_close_up(axes, run, run.searches[0])),
        ("Range and readings", 57.0, draw_range),
    ):
        pages.paper.text(x, y + 4.5, title, size=10.5, bold=True)
        left, above, below = (8.0, 2.5, 4.0) if draw is draw_range else (0.0, 0.0, 0.0)
        draw(pages.paper.axes(x + left, y + 6.0 + above, width - left, tall - above - below), result)
        x += width + GAP_MM
    _keys(pages.paper, y + tall + 8.6, PLAN_KEY, CLOSE_UP_KEY)


def _two_drawings(pages: Pages, result: RunResult, ground: GroundPicture | None) -> None:
    y = pages.take(DRAWING_MM + 12.0)
    pages.paper.text(MARGIN_MM, y + 4.5, "Plan", size=10.5, bold=True)
    draw_plan(pages.paper.axes(MARGIN_MM, y + 6.0, 88.0, DRAWING_MM), result, ground)
    pages.paper.text(MARGIN_MM + 98.0, y + 4.5, "Range and readings", size=10.5, bold=True)
    draw_range(pages.paper.axes(MARGIN_MM + 104.0, y + 8.5, INNER_MM - 104.0, DRAWING_MM - 6.5), result)
    _keys(pages.paper, y + DRAWING_MM + 8.6, PLAN_KEY)


def _close_ups(pages: Pages, result: RunResult) -> None:
    """Draw every fine search large, two in a row."""
    drawn = [search for search in result.searches if has_close_up(result, search)]
    width, height = CLOSE_UP_MM
    for first in range(0, len(drawn), 2):
        if first == 0:
            pages.heading("Fine searches", keep_mm=height + 12.0)
        y = pages.take(height + 9.0)
        for column, search in enumerate(drawn[first : first + 2]):
            x = MARGIN_MM + column * (INNER_MM - width)
            head = f"Transmitter {search.transmitter}{'' if search.found or result.team else ', not found'}"
            pages.paper.lines(x, y + 3.5, head, width_mm=width, size=8.5, bold=True, most=2)
            draw_close_up(pages.paper.axes(x, y + 8.0, width, height - 4.0), result, search)
    if drawn:
        _keys(pages.paper, pages.take(7.0) + 3.0, CLOSE_UP_KEY)


def _keys(paper: Paper, y_mm: float, *keys: str) -> None:
    for key in keys:
        y_mm = paper.lines(MARGIN_MM, y_mm, key, width_mm=INNER_MM, size=6.2, colour=QUIET)


def _foot(result: RunResult) -> str:
    rules = f"Rule sheet {result.rules.name}, version {result.rules.version} ({result.rules.sha256[:8]})"
    tier = TIERS.get(result.evidence.tier, result.evidence.tier)
    return f"{tier}. {rules}. {NAME} {result.engine}."
