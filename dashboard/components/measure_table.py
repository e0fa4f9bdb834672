"""The measures of a search with their intervals, and why a measure is not assessable."""

from dash import html

from analyzer.model.account import Search
from analyzer.model.figure import Measured, NotAssessable
from dashboard.wording import GROUPS, as_shown, figure_text, interval_text, measure_name, spread_shows


def measure_table(search: Search, *, team: bool = False) -> html.Table:
    """Return the table of all measures of one search; of a team, nobody is said to have missed a transmitter."""
    head = html.Thead(
        html.Tr([html.Th("Measure", scope="col"), html.Th("Value", scope="col"), html.Th("90 % interval", scope="col")])
    )
    bodies = [_group(group, name, getattr(search, group)) for group, name in GROUPS.items()]
    outcome = ": found" if search.found else "" if team else ": not found"
    caption = f"Transmitter {search.transmitter}{outcome}"
    return html.Table(
        [html.Caption(caption), head, *[body for body in bodies if body is not None]], className="table measures"
    )


def _group(group: str, name: str, measures: tuple[tuple[str, Measured], ...]) -> html.Tbody | None:
    if not measures:
        return None
    head = html.Tr(html.Th(name, scope="rowgroup", colSpan=3), className="group")
    reasons = {figure.why if isinstance(figure, NotAssessable) else None for _, figure in measures}
    if len(measures) > 1 and len(reasons) == 1 and None not in reasons:
        return html.Tbody([head, _row("All measures", measures[0][1])])
    rows = [_row(measure_name(group, key), as_shown(group, key, figure)) for key, figure in measures]
    return html.Tbody([head, *rows])


def _row(name: str, measured: Measured) -> html.Tr:
    label = html.Th(name, scope="row")
    if isinstance(measured, NotAssessable):
        return html.Tr([label, html.Td([html.Em("not assessable"), f": {measured.why}"], colSpan=2, className="why")])
    return html.Tr(
        [
            label,
            html.Td(figure_text(measured), className="num"),
            html.Td(interval_text(measured) if spread_shows(measured) else "", className="num quiet"),
        ]
    )
