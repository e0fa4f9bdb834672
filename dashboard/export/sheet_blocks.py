"""The written blocks of the printed sheet: findings, what the coach says, timeline, splits and measures."""

from analyzer.model.account import Finding, Search
from analyzer.model.figure import Figure as Value
from analyzer.model.figure import NotAssessable
from analyzer.model.measures import PRINTED, Measure
from analyzer.model.result import RunResult
from dashboard.export.drawings import draw_timeline
from dashboard.export.pages import HEADING_MM, Pages
from dashboard.export.paper import INNER_MM, LEADING, MARGIN_MM, POINT_MM, Paper, wrapped
from dashboard.export.practice_block import marks_lines
from dashboard.figures.theme import ACTIVITY_STYLES, EDGE, INK, PAPER, QUIET
from dashboard.view_models.account import Totals, account_view, phase_totals, unremarked_loss, without_remark
from dashboard.view_models.coach_lines import PRAISED, coach_lines
from dashboard.view_models.order import activity_totals, findings_that_stand
from dashboard.view_models.run_summary import practice, split_times, unfinished
from dashboard.view_models.sheet import IN_ALL, SheetRun
from dashboard.wording import (
    ACTIVITIES,
    PHASES,
    as_shown,
    clock,
    counted,
    figure_text,
    interval_text,
    saving_text,
    signed_clock,
    span,
    spread_shows,
)

FINDINGS, COLUMNS = 3, 3
"""Findings in full, and searches beside each other in a table of measures; more of these begin another table."""
TEXT, LINE_MM = 7.8, 7.8 * LEADING * POINT_MM
COST_MM = 25.0
ROW_MM, LEAST_ROW_MM = 3.95, 3.3
"""Height of a row of measures, and how low it may get so that a table stays on its page."""
KEY_ROW_MM, SPLITS_MM, SPLIT_MM, NOTE_MM = 3.5, 32.0, 16.0, 3.1
ALL_ASIDE = "The coach set aside what was found in this run."


def findings(pages: Pages, result: RunResult) -> None:
    """Write up to three findings in full, the dearest first, and how many more there are."""
    found, unsaid = findings_that_stand(result), unremarked_loss(result)
    pages.heading("What cost most", keep_mm=12.0)
    more = len(found) - FINDINGS
    if more > 0:
        right = MARGIN_MM + INNER_MM
        pages.paper.text(right, pages.y_mm - 2.0, f"{more} more in the debrief", size=7.5, colour=QUIET, align="right")
    for finding in found[:FINDINGS]:
        _finding(pages, finding)
    if unsaid:
        text_block(pages, unsaid, size=7.5 if found else 9.0)
    elif not found:
        text_block(pages, ALL_ASIDE if result.findings else without_remark(result), size=9.0)


def _finding(pages: Pages, finding: Finding) -> None:
    """Write one finding in a frame: what it cost, what was seen, where, and what to practise, all of it."""
    width = INNER_MM - COST_MM - 5.0
    advice = practice(finding.text)
    seen = _without(finding.text, advice)
    who = f", transmitter {finding.transmitter}" if finding.transmitter else ""
    parts = [(line, False, INK) for line in wrapped(seen, width_mm=width, size=TEXT, most=99)]
    parts += [
        (line, True, INK)
        for line in wrapped(f"Practise: {advice}" if advice else "", width_mm=width, size=TEXT, bold=True, most=99)
        if line
    ]
    where = f"{PHASES[finding.phase]}{who}, {span(finding.from_s, finding.to_s)}"
    parts += [(line, False, QUIET) for line in wrapped(where, width_mm=width, size=TEXT, most=3)]
    height = max(LINE_MM * len(parts) + 2.4, 10.0)
    y = pages.take(height + 1.4)
    paper = pages.paper
    paper.box(MARGIN_MM, y, INNER_MM, height, facecolor=PAPER, edgecolor=EDGE, lw=0.8)
    paper.box(MARGIN_MM, y, COST_MM, height, facecolor=INK, edgecolor=INK)
    cost = saving_text(finding.saving_s)
    big = len(cost) < 6
    paper.lines(
        MARGIN_MM + 2.5,
        y + height / 2.0 + (1.8 if big else 0.0),
        cost,
        width_mm=COST_MM - 4.0,
        size=14 if big else 8.0,
        bold=True,
        colour=PAPER,
        most=2,
    )
    for number, (line, bold, colour) in enumerate(parts):
        paper.text(MARGIN_MM + COST_MM + 3.0, y + 3.6 + LINE_MM * number, line, size=TEXT, bold=bold, colour=colour)


def _without(text: str, advice: str) -> str:
    """Return a finding without the advice at its end, which stands by itself."""
    kept = text[: len(text) - len(advice)].removesuffix("To practise: ").strip() if advice else text
    return kept or text


def text_block(pages: Pages, text: str, *, size: float, bold: bool = False, indent_mm: float = 0.0) -> None:
    """Write a text line by line, on the next page where this one ends."""
    step = size * LEADING * POINT_MM
    for line in wrapped(text, width_mm=INNER_MM - indent_mm, size=size, bold=bold, most=999):
        y = pages.take(step)
        pages.paper.text(MARGIN_MM + indent_mm, y + 0.8 * step, line, size=size, bold=bold)
    pages.y_mm += 1.0


def coach(pages: Pages, result: RunResult) -> None:
    """Write what the coach said; nothing where nothing was."""
    lines = coach_lines(result)
    if not lines:
        return
    pages.heading("From the coach", keep_mm=6.0)
    for head, text in lines:
        text_block(pages, f"{head}: {text}" if text else f"{head}.", size=8.0, bold=head == PRAISED)


def timeline(pages: Pages, result: RunResult) -> None:
    """Draw the timeline with its key."""
    pages.heading("Timeline", keep_mm=34.0)
    y = pages.take(20.5)
    draw_timeline(pages.paper.axes(MARGIN_MM, y, INNER_MM, 13.5), result)
    totals = activity_totals(result.timeline)
    rows, column = -(-len(totals) // 3), INNER_MM / 3.0
    y = pages.take(KEY_ROW_MM * rows + 1.5)
    for number, (activity, seconds, share) in enumerate(totals):
        _key(
            pages.paper,
            MARGIN_MM + number // rows * column,
            y + KEY_ROW_MM * (number % rows),
            activity,
            f"{clock(seconds)}, {share} %",
        )


def _key(paper: Paper, x_mm: float, y_mm: float, activity: str, figures: str) -> None:
    letter, name, _ = ACTIVITIES[activity]
    style = ACTIVITY_STYLES[activity]
    paper.box(x_mm, y_mm, 5.0, 2.9, facecolor=style.fill, edgecolor=style.mark, hatch=2 * style.pattern, lw=0)
    paper.box(x_mm, y_mm, 5.0, 2.9, facecolor="none", edgecolor=INK, lw=0.5)
    paper.text(x_mm + 6.3, y_mm + 2.5, f"{letter}  {name}: {figures}", size=7)


def splits(pages: Pages, shown: SheetRun) -> None:
    """Write the time of each phase beside the reference's, the others' median, and what was lost and gained."""
    totals = phase_totals(account_view(shown.result))
    rows = [(f"{name[0].upper()}{name[1:]}", name, split) for name, split in split_times(tuple(totals)) if split]
    rows.append(("In all", IN_ALL, totals[-1]))
    others = dict(shown.others)
    heads = ["time", "reference", *(["others"] if others else []), "lost", "gained", "nobody's"]
    notes, notes_mm = _split_notes(shown, totals[-1], MARGIN_MM + SPLITS_MM + SPLIT_MM * len(heads) + 5.0)
    marks = marks_lines(shown.result)
    table_mm = max(KEY_ROW_MM * (len(rows) + 1), NOTE_MM * len(notes))
    pages.heading("Splits, min:s", keep_mm=table_mm + NOTE_MM * len(marks) + 2.0)
    y = pages.take(table_mm + NOTE_MM * len(marks) + 2.0) + 2.4
    for number, line in enumerate(notes):
        pages.paper.text(notes_mm, y + NOTE_MM * number, line, size=6.5, colour=QUIET)
    for number, mark in enumerate(marks):
        pages.paper.text(MARGIN_MM, y + table_mm + NOTE_MM * number, mark, size=6.5)
    columns = [MARGIN_MM + SPLITS_MM + SPLIT_MM * (number + 1) for number in range(len(heads))]
    for x, head in zip(columns, heads, strict=True):
        pages.paper.text(x, y, head, size=7, colour=QUIET, align="right")
    for title, name, split in rows:
        y += KEY_ROW_MM
        last = name == IN_ALL
        pages.paper.text(MARGIN_MM, y, title, size=7.5, bold=last)
        cells = [clock(split.seconds), "-" if name in unfinished(shown.result) else clock(split.reference)]
        cells += [clock(others[name]) if name in others else "-"] if others else []
        cells += [signed_clock(s) if s else "-" for s in (split.lost, -split.gained, split.nobody)]
        for x, cell in zip(columns, cells, strict=True):
            pages.paper.text(x, y, cell, size=7.5, bold=last, align="right")


def _split_notes(shown: SheetRun, run: Totals, x_mm: float) -> tuple[list[str], float]:
    """Return the lines beside the splits, and where they begin."""
    note = "Reference: the reference searcher at the sheet's pace; lost and gained against it."
    note += " Nobody's: what the evidence gives to no cause." if run.nobody else ""
    if unfinished(shown.result):
        note += " Without a reference: what the recording shows no end of, and no probe hit."
    if shown.others:
        note += f" Others: median of {counted(shown.searchers, 'other searcher')} of this drill."
    return wrapped(note, width_mm=MARGIN_MM + INNER_MM - x_mm, size=6.5, most=99), x_mm


def measures_mm(result: RunResult, *, halves: bool) -> float:
    """Return how high the first table of measures is with its heading; `halves`: in two halves beside each other."""
    if halves:
        return HEADING_MM + ROW_MM * -(-len(PRINTED) // 2) + NOTE_MM * len(_reasons(result.searches[:1])) + 2.0
    return HEADING_MM + 4.5 + ROW_MM * len(PRINTED) + NOTE_MM * len(_reasons(result.searches[:COLUMNS])) + 2.0


def measures(pages: Pages, result: RunResult) -> None:
    """Write the measures of every search, three searches to a table.

    A single search whose table does not fit below has it in two halves beside each other.
    """
    if len(result.searches) == 1 and not pages.fits(measures_mm(result, halves=False)):
        _halves(pages, result.searches[0])
        return
    for first in range(0, len(result.searches), COLUMNS):
        _measure_table(pages, result, result.searches[first : first + COLUMNS])


def _halves(pages: Pages, search: Search) -> None:
    """Write the measures of one search in two halves, and below them why some are not assessable."""
    rows, reasons = -(-len(PRINTED) // 2), _reasons((search,))
    high = ROW_MM * rows + NOTE_MM * len(reasons) + 2.0
    pages.heading(f"Measures, transmitter {search.transmitter}", keep_mm=high)
    y, half = pages.take(high), INNER_MM / 2.0
    for number, measure in enumerate(PRINTED):
        x, row = MARGIN_MM + half * (number // rows), y + ROW_MM * (number % rows)
        if number % rows % 2 == 0:
            pages.paper.box(x, row, half, ROW_MM, facecolor="#f1f4f1", edgecolor="none")
        base = row + 0.72 * ROW_MM
        pages.paper.lines(x + 1.0, base, measure.title, width_mm=0.55 * half - 2.0, size=7.2, most=1)
        text = _figure(search, measure)
        pages.paper.lines(x + 0.55 * half, base, text, width_mm=0.45 * half - 1.0, size=7.2, most=1)
    for number, line in enumerate(reasons, start=1):
        pages.paper.text(MARGIN_MM, y + ROW_MM * rows + NOTE_MM * number, line, size=6.5, colour=QUIET)


def _reasons(searches: tuple[Search, ...]) -> list[str]:
    """Return the lines that say why measures are not assessable, each reason once with the measures it is of."""
    found: dict[str, list[str]] = {}
    for search in searches:
        of = f" {search.transmitter}" if len(searches) > 1 else ""
        for measure in PRINTED:
            measured = search.figure(measure.group, measure.key)
            if isinstance(measured, NotAssessable):
                found.setdefault(measured.why, []).append(f"{measure.title}{of}")
    text = "; ".join(f"{why} ({', '.join(names)})" for why, names in found.items())
    return wrapped(f"Not assessable: {text}.", width_mm=INNER_MM, size=6.5, most=99) if found else []


def _measure_table(pages: Pages, result: RunResult, shown: tuple[Search, ...]) -> None:
    reasons = _reasons(shown)
    below = NOTE_MM * len(reasons) + 2.0
    pages.heading("Measures", keep_mm=4.5 + LEAST_ROW_MM * len(PRINTED) + below)
    note = "Low to high: 90 %, the true figure lies in it in nine cases of ten"
    pages.paper.text(MARGIN_MM + INNER_MM, pages.y_mm - 2.0, note, size=7, colour=QUIET, align="right")
    name_mm = 62.0
    column_mm = (INNER_MM - name_mm) / len(shown)
    y = pages.take(4.5)
    for number, search in enumerate(shown):
        x = MARGIN_MM + name_mm + column_mm * number
        head = f"Transmitter {search.transmitter}{'' if search.found or result.team else ', not found'}"
        pages.paper.lines(x, y + 2.8, head, width_mm=column_mm - 2.0, size=8, bold=True, most=1)
    row_mm = min(ROW_MM, (pages.left_mm - below) / len(PRINTED))
    for row, measure in enumerate(PRINTED):
        y = pages.take(row_mm)
        if row % 2 == 0:
            pages.paper.box(MARGIN_MM, y, INNER_MM, row_mm, facecolor="#f1f4f1", edgecolor="none")
        y += 0.72 * row_mm
        pages.paper.lines(MARGIN_MM + 1.0, y, measure.title, width_mm=name_mm - 2.0, size=7.5, most=1)
        for number, search in enumerate(shown):
            x = MARGIN_MM + name_mm + column_mm * number
            text = _figure(search, measure)
            pages.paper.lines(x, y, text, width_mm=column_mm - 1.5, size=7.5, most=1)
    y = pages.take(below)
    for number, line in enumerate(reasons, start=1):
        pages.paper.text(MARGIN_MM, y + NOTE_MM * number, line, size=6.5, colour=QUIET)


def _figure(search: Search, measure: Measure) -> str:
    measured = search.figure(measure.group, measure.key)
    if measured is None:
        return "-"
    measured = as_shown(measure.group, measure.key, measured)
    if not isinstance(measured, Value):
        return "not assessable"
    shown = figure_text(measured)
    return f"{shown}  ({interval_text(measured)})" if spread_shows(measured) else shown
