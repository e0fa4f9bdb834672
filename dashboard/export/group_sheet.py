"""The sheet of a group: a row a run with its splits, what cost it most and what to practise, on one page or two."""

import statistics

from dashboard.export.pages import Pages
from dashboard.export.paper import INNER_MM, LEADING, MARGIN_MM, POINT_MM, Paper, wrapped
from dashboard.export.sheet import one_pdf
from dashboard.figures.theme import INK, QUIET
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.run_summary import IN_ALL, JOINT_SHORT, split_times
from dashboard.view_models.sheet import LEAST_OTHERS, GroupRow, GroupSheet, when, who
from dashboard.wording import NAME, PHASES_SHORT, clock, counted, signed_clock

TEXT, LINE_MM = 7.0, 7.0 * LEADING * POINT_MM
NAME_MM, COLUMN_MM = 37.0, 11.5
WORDS_MM = MARGIN_MM + NAME_MM + 6 * COLUMN_MM + 4.0
"""Where the words of a row begin."""
HEADS = ("time", *PHASES_SHORT.values(), "lost")
NOTE = (
    "Times in min:s. Lost: against the reference searcher at the rule sheet's pace. What cost most comes from the "
    "evidence of each run; the debrief tells how sure it is."
)
NOTHING, ALL_ASIDE = "No finding.", "The coach set aside what was found."
NOT_SCORED = "No score, no finding: the evidence does not show all of this run."
NOT_NAMED = "Who has not agreed to be named stands here under the name of the run."


def group_pdf(shown: GroupSheet) -> bytes:
    """Return the sheet as PDF; equal runs give equal bytes."""
    return one_pdf(lambda: group_papers(shown), shown.title)


def group_papers(shown: GroupSheet) -> list[Paper]:
    """Return the pages of the sheet."""
    first = next((row.entry.began for row in shown.rows if row.entry.began is not None), None)
    began = "" if first is None else f", {when(first, shown.zone)}"
    about = f"{counted(len(shown.rows), 'run')}{began}"
    unnamed = any(row.name is None and row.entry.searcher for row in shown.rows)
    pages = Pages(f"{shown.title}, {about}", f"{NAME}. {NOT_NAMED if unnamed else ''}".strip())
    y = pages.paper.lines(MARGIN_MM, 18.0, shown.title, width_mm=INNER_MM, size=16, bold=True, most=2)
    y = pages.paper.lines(MARGIN_MM, y - 1.0, f"{about[0].upper()}{about[1:]}", width_mm=INNER_MM, size=9)
    pages.y_mm = pages.paper.lines(MARGIN_MM, y, NOTE, width_mm=INNER_MM, size=TEXT, colour=QUIET)
    _heads(pages)
    for row in shown.rows:
        _row(pages, row)
    _median(pages, shown)
    return pages.finished()


def _heads(pages: Pages) -> None:
    y = pages.take(5.0) + 3.4
    pages.paper.text(MARGIN_MM, y, "run", size=TEXT, colour=QUIET)
    for number, head in enumerate(HEADS):
        pages.paper.text(_right(number), y, head, size=TEXT, colour=QUIET, align="right")
    pages.paper.text(WORDS_MM, y, "what cost most, and what to practise", size=TEXT, colour=QUIET)


def _right(column: int) -> float:
    return MARGIN_MM + NAME_MM + COLUMN_MM * (column + 1)


def _row(pages: Pages, row: GroupRow) -> None:
    """Write one run; a row is never cut by the end of a page, and a page begins with the heads of the columns."""
    width = MARGIN_MM + INNER_MM - WORDS_MM
    name = wrapped(row.name or row.entry.called, width_mm=NAME_MM - 1.0, size=8.0, bold=True, most=3)
    below = wrapped(row.entry.called, width_mm=NAME_MM - 1.0, size=TEXT, most=2) if row.name else []
    nothing = ALL_ASIDE if row.entry.aside else NOT_SCORED if row.entry.score is None else NOTHING
    loss = wrapped(row.entry.loss or nothing, width_mm=width, size=TEXT, bold=bool(row.entry.loss), most=9)
    practise = wrapped(row.entry.practice, width_mm=width, size=TEXT, most=9) if row.entry.practice else []
    height = LINE_MM * max(len(name) + len(below), len(loss) + len(practise), 1) + 2.0
    if not pages.fits(height):
        pages.turn()
        _heads(pages)
    y = pages.take(height)
    paper = pages.paper
    paper.box(MARGIN_MM, y, INNER_MM, 0.15, facecolor=QUIET, edgecolor="none")
    y += 0.8 * LINE_MM + 0.9
    for number, line in enumerate(name):
        paper.text(MARGIN_MM, y + LINE_MM * number, line, size=8.0, bold=True)
    for number, line in enumerate(below, start=len(name)):
        paper.text(MARGIN_MM, y + LINE_MM * number, line, size=TEXT, colour=QUIET)
    for number, line in enumerate((*loss, *practise)):
        paper.text(WORDS_MM, y + LINE_MM * number, line, size=TEXT, bold=number < len(loss) and bool(row.entry.loss))
    _times(paper, row.entry, y)


def _times(paper: Paper, entry: RunEntry, y_mm: float) -> None:
    """Write time, splits and loss; a split of two phases stands under both."""
    paper.text(_right(0), y_mm, clock(entry.duration_s), size=8.0, bold=True, align="right")
    column = 1
    for name, split in split_times(entry.splits) if entry.splits else ():
        column += 1 if name == JOINT_SHORT else 0
        text = "-" if split is None else clock(split.seconds)
        paper.text(_right(column), y_mm, f"both {text}" if name == JOINT_SHORT else text, size=8.0, align="right")
        column += 1
    lost = entry.splits[-1].lost if entry.splits else 0
    paper.text(_right(len(HEADS) - 1), y_mm, signed_clock(lost) if lost else "-", size=8.0, align="right")


def _median(pages: Pages, shown: GroupSheet) -> None:
    """Write the group's medians, each searcher counted once; nothing where there are fewer than four."""
    people: dict[str, list[RunEntry]] = {}
    for row in shown.rows:
        if row.entry.splits:
            people.setdefault(who(row.entry), []).append(row.entry)
    cells = []
    for name in PHASES_SHORT.values():
        each = [
            [s.seconds for e in own if name not in e.unfinished and (s := dict(split_times(e.splits)).get(name))]
            for own in people.values()
        ]
        known = [statistics.median(seconds) for seconds in each if seconds]
        cells.append(clock(statistics.median(known)) if len(known) > LEAST_OTHERS else "-")
    if len(people) <= LEAST_OTHERS:
        return
    if not pages.fits(LINE_MM + 3.0):
        pages.turn()
        _heads(pages)
    y = pages.take(LINE_MM + 3.0)
    pages.paper.box(MARGIN_MM, y, INNER_MM, 0.4, facecolor=INK, edgecolor="none")
    y += 0.8 * LINE_MM + 1.2
    whole = [[e.duration_s for e in own if IN_ALL not in e.unfinished] for own in people.values()]
    known = [statistics.median(seconds) for seconds in whole if seconds]
    in_all = clock(statistics.median(known)) if len(known) > LEAST_OTHERS else "-"
    some = "up to " if any(e.unfinished for own in people.values() for e in own) else ""
    pages.paper.text(MARGIN_MM, y, f"Median of {some}{counted(len(people), 'searcher')}", size=TEXT, bold=True)
    for number, cell in enumerate((in_all, *cells)):
        pages.paper.text(_right(number), y, cell, size=8.0, bold=True, align="right")
