"""From settling on a spot to the airway: a column a transmitter, and what the marks do not show."""

from typing import Any

from dash import html

from analyzer.model.result import RunResult
from dashboard.components.shell import panel
from dashboard.view_models.practice import noted, practice_table, told

TITLE = {True: "Transmitters in the order found", False: "Probing, marking and digging"}
"""By whether there are several transmitters."""
MOST_LINES = 4
NOTE = "Read off the marks; none of it moves the account or the score. A dash: not assessable, it is not marked."


def practice_panel(result: RunResult) -> list[html.Section]:
    """Return the panel; none where a run has nothing to tell beyond its phases."""
    if not told(result):
        return []
    shown = practice_table(result)
    head = html.Thead(html.Tr([html.Th("min:s", scope="col"), *[html.Th(name, scope="col") for name in shown.heads]]))
    rows = [html.Tr([html.Th(title, scope="row"), *[_cell(*cell) for cell in cells]]) for title, cells in shown.rows]
    title = TITLE[len(shown.heads) > 1]
    table = html.Table(
        [html.Caption(title, className="unseen"), head, html.Tbody(rows)], className="table practice-table"
    )
    parts: list[Any] = [
        html.Div(table, className="scroll practice", tabIndex="0", role="region", **{"aria-label": title})
    ]
    if shown.asides:
        parts.append(html.Ul([html.Li(words) for words in shown.asides], className="practice-asides"))
    return [panel(title, *parts, note=NOTE)]


def noted_list(result: RunResult) -> html.Ul | html.Details | None:
    """Return the marks that bound no phase with the time since the hit where there was one; None without any.

    Many lines are folded away.
    """
    lines = [html.Li([html.Strong(what), f" {when}"]) for what, when in noted(result)]
    if not lines:
        return None
    listed = html.Ul(lines, className="splits")
    if len(lines) <= MOST_LINES:
        return listed
    return html.Details([html.Summary(f"Marked on the way: {len(lines)}"), listed], className="more")


def _cell(text: str, below: str) -> html.Td:
    return html.Td([html.Strong(text), *([html.Span(below, className="cause-what")] if below else [])])
