"""What the marks of a run tell beside its phases, on the printed sheet: a line under the splits, and a table."""

from analyzer.model.result import RunResult
from dashboard.export.pages import Pages
from dashboard.export.paper import INNER_MM, MARGIN_MM, wrapped
from dashboard.figures.theme import QUIET
from dashboard.view_models.practice import moments, noted, practice_table
from dashboard.wording import clock

ROW_MM, NAME_MM, SIZE, NOTE_SIZE, NOTE_MM = 3.9, 40.0, 7.2, 6.5, 3.1
HEADS_MM, WIDEST_MM = 2.6, 30.0
"""What a second line of heads needs, and how wide a head gets."""
SIGN = "Triangles in the timeline: marks."


def marks_lines(result: RunResult) -> list[str]:
    """Return the lines on marks that bound no phase, and what follows from them; none without any."""
    words = [f"{what} {when}" for what, when in noted(result)]
    if not words:
        return []
    later = [f"{one.title} {clock(one.seconds)}{f', {one.said}' if one.said else ''}" for one in moments(result)]
    asides = practice_table(result).asides
    text = ". ".join(["; ".join(words), *(["; ".join(later)] if later else []), *(aside[:-1] for aside in asides)])
    return wrapped(f"{text}. {SIGN}", width_mm=INNER_MM, size=NOTE_SIZE, most=99)


def strikes(pages: Pages, result: RunResult) -> None:
    """Write a row for each of several transmitters, in the order found; nothing where there is one."""
    if len(result.searches) < 2:
        return
    shown = practice_table(result)
    reasons = "; ".join(f"{titles}: {why}" for titles, why in shown.untold)
    notes = wrapped(f"Not assessable: {reasons}.", width_mm=INNER_MM, size=NOTE_SIZE, most=99) if reasons else []
    high = ROW_MM * (len(shown.heads) + 1) + HEADS_MM + NOTE_MM * len(notes) + 2.0
    pages.heading("Transmitters in the order found, min:s", keep_mm=high)
    y = pages.take(high) + 0.72 * ROW_MM
    wide = (INNER_MM - NAME_MM) / max(len(shown.rows), 1)
    for column, (title, _) in enumerate(shown.rows):
        x = MARGIN_MM + NAME_MM + wide * column
        pages.paper.lines(x, y, title, width_mm=min(wide, WIDEST_MM) - 1.5, size=NOTE_SIZE, colour=QUIET, most=2)
    y += HEADS_MM
    for number, head in enumerate(shown.heads):
        y += ROW_MM
        pages.paper.lines(MARGIN_MM, y, head, width_mm=NAME_MM - 2.0, size=SIZE, bold=True, most=1)
        for column, (_, cells) in enumerate(shown.rows):
            text, _below = cells[number]
            pages.paper.text(MARGIN_MM + NAME_MM + wide * column, y, text, size=SIZE)
    for line in notes:
        y += NOTE_MM
        pages.paper.text(MARGIN_MM, y + 0.6, line, size=NOTE_SIZE, colour=QUIET)
