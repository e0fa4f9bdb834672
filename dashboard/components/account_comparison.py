"""The accounts of runs held against each other, cause by cause."""

from dash import html

from analyzer.model.account import NOBODYS_CAUSES
from analyzer.model.figure import holds_zero
from analyzer.model.result import RunResult
from dashboard.components.comparison import compared_heads
from dashboard.view_models.account import REFERENCE, ComparedCell, ComparedRow, compared_accounts
from dashboard.view_models.comparison import change_between
from dashboard.wording import clock, signed_clock


def account_comparison(results: list[RunResult], base: int) -> html.Table:
    """Return the time of each run by cause, and how it differs from run `base`."""
    head = html.Thead(html.Tr([html.Th("Cause", scope="col"), *compared_heads(results, base)]))
    rows = [_row(row, base) for row in compared_accounts(results)]
    return html.Table([html.Caption("Accounts, min:s"), head, html.Tbody(rows)], className="table compared")


def _row(row: ComparedRow, base: int) -> html.Tr:
    cells = [_cell(row, cell, None if n == base else row.cells[base]) for n, cell in enumerate(row.cells)]
    scope = "row" if row.cause else "rowgroup"
    return html.Tr([html.Th(row.title, scope=scope), *cells], className="" if row.cause else "group")


def _cell(row: ComparedRow, cell: ComparedCell, base: ComparedCell | None) -> html.Td:
    if cell.why:
        return html.Td([html.Em("-"), html.Span(cell.why, className="cause-what")], className="why")
    plain = row.cause in ("", REFERENCE)
    parts: list[object] = [html.Strong(clock(cell.seconds) if plain else signed_clock(cell.seconds))]
    if base is not None and row.cause not in ("", REFERENCE, *NOBODYS_CAUSES):
        parts.append(_change(cell, base))
    return html.Td(parts)


def _change(cell: ComparedCell, base: ComparedCell) -> html.Span:
    """Return the difference as shown, called clear where the 90 % interval of both runs leaves out zero."""
    change = change_between(base.figure, cell.figure)
    if base.why or change is None:
        return html.Span("no difference can be told", className="change")
    seconds = cell.seconds - base.seconds
    if holds_zero(change) or seconds == 0:
        return html.Span("≈ no clear difference", className="change")
    sign, word = ("▲", "more") if seconds > 0 else ("▼", "less")
    return html.Span(f"{sign} {clock(abs(seconds))} {word}", className="change change-clear")
