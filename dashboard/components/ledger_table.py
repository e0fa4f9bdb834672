"""The ledger in words: a key with the totals of every cause, and every row as a table."""

from dash import html

from analyzer.model.account import LedgerRow
from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.view_models.order import cause_totals, ledger_rows
from dashboard.view_models.selection import Window, widened
from dashboard.wording import CAUSES, PHASES, number, span


def cause_key(result: RunResult) -> html.Ul:
    """Return the key of the bar: pattern, letter, name, seconds and share of each cause that occurs."""
    whole = max(result.duration_s, 1e-9)
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(
                        html.Span(CAUSES[cause][0]), className=f"swatch swatch-{cause}", **{"aria-hidden": "true"}
                    ),
                    html.Span([html.Strong(CAUSES[cause][1]), html.Span(CAUSES[cause][2], className="cause-what")]),
                    html.Span(
                        [
                            html.Strong(f"{seconds:.0f} s"),
                            html.Span(f"{100.0 * seconds / whole:.0f} %", className="cause-what"),
                        ],
                        className="cause-s",
                    ),
                ]
            )
            for cause, seconds, _ in cause_totals(result.ledger)
        ],
        className="cause-key",
    )


def ledger_table(result: RunResult, window: Window | None) -> html.Details:
    """Return every row of the ledger with a button that shows its window in all views."""
    head = html.Thead(html.Tr([html.Th(text, scope="col") for text in ("When", "What", "Time, s", "Walked, m")]))
    rows = [_row(row, number_, window) for number_, row in enumerate(ledger_rows(result))]
    table = html.Table(
        [html.Caption("Every second and metre of the run, in the order of time"), head, html.Tbody(rows)],
        className="table",
    )
    return html.Details([html.Summary("The account as a table"), table], className="more")


def _row(row: LedgerRow, index: int, window: Window | None) -> html.Tr:
    shown = widened(row.from_s, row.to_s)
    pressed = window is not None and window.matches(shown.from_s, shown.to_s)
    button = html.Button(
        span(row.from_s, row.to_s),
        id=ids.show_window("ledger", index),
        className="link-button",
        type="button",
        **{"aria-pressed": str(pressed).lower()},
    )
    what = [html.Strong(CAUSES[row.cause][1]), html.Span(PHASES[row.phase], className="cause-what")]
    return html.Tr(
        [
            html.Td(button),
            html.Td(what),
            html.Td(f"{row.seconds:.1f}", className="num"),
            html.Td(number(row.metres), className="num"),
        ]
    )
