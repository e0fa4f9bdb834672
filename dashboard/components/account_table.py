"""The account in words: phase by phase the reference searcher and what was lost and gained against it."""

from dash import html

from analyzer.model.result import RunResult
from dashboard.components.timeline_table import window_button
from dashboard.view_models.account import REFERENCE, AccountLine, AccountPart, AccountView, account_view
from dashboard.view_models.selection import Window
from dashboard.wording import clock, signed_clock


def account_table(result: RunResult, window: Window | None) -> html.Table:
    """Return the account with totals; each window has a button that shows it in all views."""
    view = account_view(result)
    head = html.Thead(
        html.Tr([html.Th("What", scope="col"), html.Th("Time, min:s", scope="col"), html.Th("90 %", scope="col")])
    )
    parts = [html.Tbody(_part(result, part, window)) for part in view.parts]
    caption = "This run against the reference searcher"
    return html.Table([html.Caption(caption), head, *parts, html.Tfoot(_totals(view))], className="table account-table")


def _part(result: RunResult, part: AccountPart, window: Window | None) -> list[html.Tr]:
    name: list[object] = [html.Span(part.title)]
    if part.phase_number is not None:
        phase = result.phases[part.phase_number]
        name += [" ", window_button("phase", part.phase_number, phase.start_s, phase.end_s, window)]
    head = html.Tr(
        [
            html.Th(name, scope="rowgroup"),
            html.Td(html.Strong(clock(part.seconds)), className="num"),
            html.Td("", className="num"),
        ],
        className="group",
    )
    return [head, *(_line(line, window) for line in part.lines)]


def _line(line: AccountLine, window: Window | None) -> html.Tr:
    time = clock(line.seconds) if line.cause == REFERENCE else signed_clock(line.seconds)
    buttons = [window_button("account", number, a, b, window) for number, a, b in line.windows]
    what = [html.Strong(line.title), html.Span(line.what, className="cause-what")]
    if buttons:
        what.append(html.Span(buttons, className="account-windows"))
    return html.Tr(
        [
            html.Th(what, scope="row"),
            html.Td(time, className="num"),
            html.Td(line.interval, className="num account-range"),
        ],
        className="account-reference" if line.cause == REFERENCE else "",
    )


def _totals(view: AccountView) -> list[html.Tr]:
    rows = [
        ("The reference searcher in all", clock(view.reference)),
        ("Lost", signed_clock(view.lost)),
        ("Gained", signed_clock(-view.gained)),
        ("Given to nobody", signed_clock(view.nobody)),
    ]
    shown = [(name, text) for name, text in rows if text != "0:00"]
    return [
        html.Tr([html.Th(name, scope="row"), html.Td(text, className="num"), html.Td("")], className=kind)
        for name, text, kind in [*((n, t, "") for n, t in shown), ("This run", clock(view.seconds), "account-whole")]
    ]
