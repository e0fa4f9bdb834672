"""The guide to recording, as parts of a page."""

from typing import Any

from dash import html

from analyzer.model.measures import MEASURES
from dashboard.components.shell import panel
from dashboard.view_models.recording_guide import NEVER, PARTS, RUNGS

TITLES = {measure.name: measure.title for measure in MEASURES}


def guide_parts() -> list[html.Section]:
    """Return one panel per part, each a list to tick off in the head."""
    return [
        panel(part.title, html.Ul([html.Li(step) for step in part.steps], className="steps"), note=part.why)
        for part in PARTS
    ]


def rung_table() -> html.Section:
    """Return what each piece of evidence adds."""
    rows: list[Any] = [
        html.Tr(
            [
                html.Th(rung.title, scope="row"),
                html.Td([rung.tells, html.P(", ".join(TITLES[name] for name in rung.opens), className="quiet")]),
            ]
        )
        for rung in RUNGS
    ]
    head = html.Thead(html.Tr([html.Th("What was recorded", scope="col"), html.Th("What can be told", scope="col")]))
    table = html.Table([head, html.Tbody(rows)], className="table rungs")
    return panel("What each piece lets you tell", table, html.P(NEVER))
