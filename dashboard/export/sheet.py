"""One page of A4 for the searcher: what cost most, timeline, account, plan, measures, and the safety words."""

import io
import threading

from matplotlib.figure import Figure

from analyzer.model.account import Search
from analyzer.model.figure import Figure as Value
from analyzer.model.figure import Measured
from analyzer.model.measures import PRINTED, Measure
from analyzer.model.result import RunResult
from dashboard.export.drawings import draw_plan, draw_range, draw_timeline
from dashboard.export.paper import HEIGHT_MM, MARGIN_MM, WIDTH_MM, Paper, new_paper
from dashboard.figures.theme import ACTIVITY_STYLES, EDGE, INK, PAPER, QUIET
from dashboard.view_models.account import account_view, not_found, phase_totals, unremarked_loss, without_remark
from dashboard.view_models.order import activity_totals, costliest
from dashboard.wording import (
    ACTIVITIES,
    NAME,
    PHASES,
    SAFETY,
    TIERS,
    as_shown,
    clock,
    figure_text,
    interval_text,
    saving_text,
    signed_clock,
    span,
)

INNER_MM = WIDTH_MM - 2.0 * MARGIN_MM
FINDINGS, SEARCHES = 3, 3
ROW_MM, LAST_ROW_MM = 3.95, 275.2
"""Height of a row of measures, and where the last one may stand: rows are less high where there are more."""
KEY_MM, KEY_ROW_MM, ACCOUNT_MM = 88.0, 3.5, 14.5
ACCOUNT_NOTE = "Lost and gained against the reference searcher at the sheet's pace."
PLAN_KEY = "Green dashes: field line. Grey: where the path lies with 90 %. Dotted ring: likewise the transmitter."
_ONE_AT_A_TIME = threading.Lock()  # the drawing library is not made for several threads


def sheet_pdf(result: RunResult) -> bytes:
    """Return the sheet as PDF; equal results give equal bytes."""
    out = io.BytesIO()
    with _ONE_AT_A_TIME:
        title = f"{result.searcher or result.run_id}, {result.drill}"
        about = {"Title": title, "Creator": NAME, "Producer": None, "CreationDate": None}
        sheet_figure(result).savefig(out, format="pdf", metadata=about)
    return out.getvalue()


def sheet_figure(result: RunResult) -> Figure:
    """Return the sheet as a figure of the drawing library."""
    paper = new_paper()
    _title(paper, result)
    _findings(paper, result, 30.0)
    _timeline(paper, result, 89.5)
    _account(paper, result, 111.8)
    _drawings(paper, result, 138.0)
    _measures(paper, result, 203.0)
    _foot(paper, result)
    return paper.figure


def _heading(paper: Paper, y_mm: float, text: str) -> None:
    paper.text(MARGIN_MM, y_mm, text, size=10.5, bold=True)


def _title(paper: Paper, result: RunResult) -> None:
    place = MARGIN_MM + INNER_MM
    paper.lines(MARGIN_MM, 17.0, result.searcher or result.run_id, width_mm=120.0, size=20, bold=True, most=1)
    day = result.time_zero.strftime("%Y-%m-%d %H:%M UTC")
    paper.lines(MARGIN_MM, 23.0, f"{result.drill}, run {result.run_id}, {day}", width_mm=125.0, size=9, most=1)
    paper.text(place - 28.0, 16.5, clock(result.duration_s), size=18, bold=True, align="right")
    notes = " ".join(filter(None, (not_found(result), *result.evidence.notes)))
    paper.lines(MARGIN_MM, 26.3, notes, width_mm=INNER_MM, size=7.0, bold=True, most=1)
    overall = dict(result.scores.by_phase).get("overall")
    if isinstance(overall, Value):
        paper.text(place, 16.5, f"{overall.value:.0f}", size=18, bold=True, align="right")
        paper.text(place, 23.0, f"score, {overall.low:.0f} to {overall.high:.0f}", size=8, align="right")
    else:
        paper.text(place, 23.0, "score not assessable", size=8, align="right")
    paper.text(place - 28.0, 23.0, "time", size=8, align="right")


def _findings(paper: Paper, result: RunResult, y_mm: float) -> None:
    _heading(paper, y_mm, "What cost most")
    found, unsaid = costliest(result.findings), unremarked_loss(result)
    if unsaid:
        below = y_mm + 5.6 + 15.8 * min(len(found), FINDINGS)
        paper.lines(MARGIN_MM, below, unsaid, width_mm=INNER_MM, size=7.5 if found else 9.0, most=2)
    elif not found:
        paper.text(MARGIN_MM, y_mm + 8.0, without_remark(result), size=9)
    for number, finding in enumerate(found[:FINDINGS]):
        top = y_mm + 2.5 + 15.8 * number
        paper.box(MARGIN_MM, top, INNER_MM, 14.6, facecolor=PAPER, edgecolor=EDGE, lw=0.8)
        paper.box(MARGIN_MM, top, 27.0, 14.6, facecolor=INK, edgecolor=INK)
        cost = saving_text(finding.saving_s)
        paper.lines(
            MARGIN_MM + 2.5,
            top + 8.8,
            cost,
            width_mm=23.0,
            size=14 if len(cost) < 6 else 8.5,
            bold=True,
            colour=PAPER,
            most=1 if len(cost) < 12 else 2,
        )
        paper.lines(MARGIN_MM + 30.0, top + 3.7, finding.text, width_mm=INNER_MM - 33.0, size=7.8, bold=True, most=3)
        who = f", transmitter {finding.transmitter}" if finding.transmitter else ""
        where = f"{PHASES[finding.phase]}{who}, {span(finding.from_s, finding.to_s)}"
        paper.lines(MARGIN_MM + 30.0, top + 13.4, where, width_mm=INNER_MM - 33.0, size=7, colour=QUIET, most=1)
    more = len(found) - FINDINGS
    if more > 0:
        place = MARGIN_MM + INNER_MM
        paper.text(place, y_mm, f"{more} more in the debrief", size=7.5, colour=QUIET, align="right")


def _timeline(paper: Paper, result: RunResult, y_mm: float) -> None:
    _heading(paper, y_mm, "Timeline")
    draw_timeline(paper.axes(MARGIN_MM, y_mm + 1.5, INNER_MM, 13.0), result)
    totals = activity_totals(result.timeline)
    rows = (len(totals) + 1) // 2
    for number, (activity, seconds, share) in enumerate(totals):
        x = MARGIN_MM + (number // rows) * KEY_MM / 2.0
        y = y_mm + 24.0 + KEY_ROW_MM * (number % rows)
        letter, name, _ = ACTIVITIES[activity]
        style = ACTIVITY_STYLES[activity]
        paper.box(x, y - 2.5, 5.0, 2.9, facecolor=style.fill, edgecolor=style.mark, hatch=2 * style.pattern, lw=0)
        paper.box(x, y - 2.5, 5.0, 2.9, facecolor="none", edgecolor=INK, lw=0.5)
        paper.text(x + 6.3, y, f"{letter}  {name}: {clock(seconds)}, {share} %", size=7)


def _account(paper: Paper, result: RunResult, y_mm: float) -> None:
    left = MARGIN_MM + KEY_MM + 4.0
    columns = [MARGIN_MM + INNER_MM - ACCOUNT_MM * n for n in (4, 3, 2, 1, 0)]
    paper.text(left, y_mm, "Account, min:s", size=7, bold=True)
    for x, head in zip(columns, ("time", "reference", "lost", "gained", "nobody's"), strict=True):
        paper.text(x, y_mm, head, size=7, colour=QUIET, align="right")
    totals = phase_totals(account_view(result))
    for number, row in enumerate(totals, start=1):
        y, last = y_mm + KEY_ROW_MM * number, number == len(totals)
        paper.text(left, y, row.title, size=7, bold=last)
        paper.text(columns[0], y, clock(row.seconds), size=7, bold=last, align="right")
        paper.text(columns[1], y, clock(row.reference), size=7, bold=last, align="right")
        for x, seconds in zip(columns[2:], (row.lost, -row.gained, row.nobody), strict=True):
            paper.text(x, y, signed_clock(seconds) if seconds else "-", size=7, bold=last, align="right")
    note = "Nobody's: what the evidence gives to no cause." if totals[-1].nobody else ACCOUNT_NOTE
    paper.text(left, y_mm + KEY_ROW_MM * (len(totals) + 1), note, size=6.2, colour=QUIET)


def _drawings(paper: Paper, result: RunResult, y_mm: float) -> None:
    _heading(paper, y_mm, "Plan")
    draw_plan(paper.axes(MARGIN_MM, y_mm + 2.0, 88.0, 53.0), result)
    paper.text(MARGIN_MM, y_mm + 58.2, PLAN_KEY, size=6.2, colour=QUIET)
    _heading_right(paper, y_mm, "Range and readings")
    draw_range(paper.axes(MARGIN_MM + 104.0, y_mm + 2.0, INNER_MM - 104.0, 49.0), result)


def _heading_right(paper: Paper, y_mm: float, text: str) -> None:
    paper.text(MARGIN_MM + 98.0, y_mm, text, size=10.5, bold=True)


def _measures(paper: Paper, result: RunResult, y_mm: float) -> None:
    shown = result.searches[:SEARCHES]
    left = len(result.searches) - len(shown)
    more = f"; {left} more in the debrief" if left else ""
    _heading(paper, y_mm, "Measures")
    note = f"Low to high: 90 %, the true figure lies in it in nine cases of ten{more}"
    paper.text(MARGIN_MM + INNER_MM, y_mm, note, size=7, colour=QUIET, align="right")
    name_mm = 62.0
    column_mm = (INNER_MM - name_mm) / max(len(shown), 1)
    for number, search in enumerate(shown):
        x = MARGIN_MM + name_mm + column_mm * number
        head = f"Transmitter {search.transmitter}{'' if search.found or result.team else ', not found'}"
        paper.lines(x, y_mm + 4.8, head, width_mm=column_mm - 2.0, size=8, bold=True, most=1)
    row_mm = min(ROW_MM, (LAST_ROW_MM - y_mm - 9.0) / max(len(PRINTED) - 1, 1))
    for row, measure in enumerate(PRINTED):
        y = y_mm + 9.0 + row_mm * row
        if row % 2 == 0:
            paper.box(MARGIN_MM, y - 2.85, INNER_MM, row_mm, facecolor="#f1f4f1", edgecolor="none")
        paper.lines(MARGIN_MM + 1.0, y, measure.title, width_mm=name_mm - 2.0, size=7.5, most=1)
        for number, search in enumerate(shown):
            x = MARGIN_MM + name_mm + column_mm * number
            text = _figure(search, measure, short=len(shown) > 2)
            paper.lines(x, y, text, width_mm=column_mm - 1.5, size=7.5, most=1)


def _figure(search: Search, measure: Measure, *, short: bool) -> str:
    measured: Measured | None = search.figure(measure.group, measure.key)
    if measured is None:
        return "-"
    measured = as_shown(measure.group, measure.key, measured)
    if not isinstance(measured, Value):
        return "not assessable" if short else f"not assessable: {measured.why}"
    return f"{figure_text(measured)}  ({interval_text(measured)})"


def _foot(paper: Paper, result: RunResult) -> None:
    rules = f"Rule sheet {result.rules.name}, version {result.rules.version} ({result.rules.sha256[:8]})"
    tier = TIERS.get(result.evidence.tier, result.evidence.tier)
    y = HEIGHT_MM - 18.0
    text = f"{tier}. {rules}. {NAME} {result.engine}."
    paper.lines(MARGIN_MM, y, text, width_mm=INNER_MM, size=6.5, colour=QUIET, most=1)
    paper.box(MARGIN_MM, y + 1.2, INNER_MM, 0.5, facecolor=INK, edgecolor="none")
    paper.text(MARGIN_MM, y + 4.8, SAFETY[0], size=7.5, bold=True)
    paper.lines(MARGIN_MM, y + 8.0, " ".join(SAFETY[1:]), width_mm=INNER_MM, size=6.8, most=2)
