"""The page on which a recording is cut into runs: its time line, and a row of fields for each piece."""

from typing import Any
from urllib.parse import urlencode

from dash import dcc, html

from dashboard import ids
from dashboard.components.charts import GRAPH_CONFIG, packed
from dashboard.components.run_fields import hidden, select, text
from dashboard.components.shell import panel
from dashboard.figures.cuts import cuts_figure
from dashboard.view_models.cuts import DAY_S, LEFT, LONGEST_TITLE, TAKEN, CutRow, CutView
from dashboard.wording import clock, counted

NOTE = (
    "Each run becomes one of its own; the recording stays whole, and every run keeps all of its bytes with its own "
    "from and to. Who searched is asked afterwards. Drag the borders of a band, or change the times in the fields: "
    "arrow up and down move a time by a second, with Shift by ten."
)
NO_DRILL = (
    "No drill is chosen for this load yet, so it is not known where transmitters lay, and ways back may be among them."
)
LABEL = "How far from its first fix the recording is over time, its pace below it, and the pieces as bands"
LONG = (
    " The recording is longer than a day: a time is the first one in it, and with +1 behind it, as in 9:41:30 +1, the "
    "one a day later."
)
SPARE = 2
"""Empty rows for further runs."""


def cuts_page(view: CutView, faults: tuple[str, ...]) -> list[Any]:
    """Return the parts of the page."""
    taken = sum(row.take for row in view.rows)
    found = "It is cut as shown." if view.saved else f"Proposed: {counted(taken, 'run')}. Look at each, and change it."
    told = [html.P(found, role="status", className="big"), *([] if view.drill else [html.P(NO_DRILL)])]
    wrong = [html.Ul([html.Li(line) for line in faults], className="load-bad")] if faults else []
    return [
        html.Div(
            [html.P("Not done. What you typed is still here.", className="load-bad-head"), *wrong],
            className="panel",
            role="alert",
        )
        if faults
        else html.Div(),
        panel("The recording", *told, _chart(view), _form(view), note=NOTE),
        _back(view),
    ]


def _query(view: CutView) -> str:
    return urlencode({"batch": view.batch, "track": str(view.track)} | _drill(view))


def _drill(view: CutView) -> dict[str, str]:
    return {"drill": view.opened_for} if view.opened_for else {}


def _chart(view: CutView) -> html.Div:
    config = GRAPH_CONFIG | {"displayModeBar": False, "edits": {"shapePosition": True}}
    graph = dcc.Graph(
        id=ids.CUT_LINE, figure=packed(cuts_figure(view)), config=config, className="chart-body", responsive=True
    )
    known = {"data-begin": f"{view.begin_s:.3f}", "data-offset": f"{view.offset_s:.0f}"}
    return html.Div(graph, className="chart chart-cuts", role="figure", **{"aria-label": LABEL}, **known)


def _form(view: CutView) -> html.Form:
    last = len(view.rows) - 1
    rows = [_row(number, row, joins=number < last) for number, row in enumerate(view.rows)]
    spare = [_row(len(rows) + number, CutRow("", "", "", take=True)) for number in range(SPARE)]
    action = f"/cut-recording?{_query(view)}"
    zone = "UTC" if not view.offset_s else f"UTC{'+' if view.offset_s > 0 else '-'}{clock(abs(view.offset_s) / 60.0)}"
    return html.Form(
        [
            html.P(f"Times of day in {zone}.{LONG if view.end_s - view.begin_s > DAY_S else ''}", className="quiet"),
            hidden("seen", view.seen),
            *rows,
            html.Details([html.Summary("Further runs"), *spare], className="more"),
            html.Button("Cut it so", type="submit", className="button button-go"),
        ],
        action=action,
        method="post",
        className="cut-form",
    )


def _row(number: int, row: CutRow, *, joins: bool = False) -> html.Fieldset:
    why = [html.P(row.why, className="quiet cut-why"), hidden(f"why-{number}", row.why)] if row.why else []
    options = [(TAKEN, "a run"), (LEFT, "leave out")]
    legend = "Further run" if not row.begin else f"Piece {number + 1}"
    fields = [
        text("From", f"begin-{number}", row.begin, 12),
        text("To", f"end-{number}", row.end, 12),
        select("It is", f"take-{number}", options, TAKEN if row.take else LEFT),
        text("Title of the run", f"title-{number}", row.title, LONGEST_TITLE),
    ]
    join = [html.Button("Join with the next", type="button", className="button cut-join")] if joins else []
    return html.Fieldset(
        [html.Legend(legend), *why, html.Div([*fields, *join], className="load-fields")],
        className=f"cut-row {'cut-taken' if row.take else 'cut-left'}",
        **{"data-piece": str(number)},
    )


def _back(view: CutView) -> html.Div:
    load = dcc.Link(
        "Back to the load", href=f"/load?{urlencode({'batch': view.batch} | _drill(view))}", className="button"
    )
    if not view.saved:
        return html.Div(load, className="run-pages")
    action = f"/cut-recording/whole?{_query(view)}"
    button = html.Button("Take the recording whole again", type="submit", className="button")
    return html.Div([load, html.Form(button, action=action, method="post")], className="run-pages")
