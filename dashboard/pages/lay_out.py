"""Lay out a drill: `/lay-out/<drill>?start=30,0`, or `/lay-out` for a new one. The form is the state."""

import base64
import binascii
from typing import Any
from urllib.parse import unquote

from dash import (
    ALL,
    ClientsideFunction,
    Input,
    Output,
    State,
    callback,
    clientside_callback,
    ctx,
    dcc,
    html,
    no_update,
    register_page,
)

from analyzer.errors import AnalyzerError
from dashboard import ids
from dashboard.components.charts import chart, packed
from dashboard.components.drill_form import (
    answer,
    details,
    download_link,
    drill_form,
    mend,
    pick_buttons,
    plan_link,
    question,
    said_saved,
    save_buttons,
    transmitter_rows,
)
from dashboard.components.shell import message_page, notice, panel
from dashboard.figures.layout_plan import layout_figure
from dashboard.pages._here import config, runs
from dashboard.services.drill_form import checked, file_of, outlook_of, with_waypoints
from dashboard.services.drills import Drills, Opened, Saved
from dashboard.view_models.drill_form import Form, added, example, picked, started, without
from dashboard.wording import counted

register_page(__name__, path_template="/lay-out/<drill>", title="Lay out a drill")

EVERY = {"type": ids.LAY_FIELD, "key": ALL}
NO_START = (
    "The file of this drill does not say where the search begins: a start is proposed below, and kept once it is saved."
)
PUT = ("start_east", "start_north", "corners", "latitude", "longitude")
"""Fields outside the transmitters' that a click on the plan or a waypoint file changes."""


def drills() -> Drills:
    """Return the drills of the dashboard that answers."""
    return Drills(config().drills, config().workspace)


def layout(drill: str = "", start: Any = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    try:
        found = drills().opened(unquote(drill)) if drill else drills().new()
    except AnalyzerError as error:
        return message_page("This drill cannot be opened", str(error))
    if found is None:
        return message_page("This drill is not here", "There is no drill under this name in the folder.")
    opened, form = found
    form = started(form, str(start))
    return html.Div(
        [
            dcc.Store(id=ids.LAY_REF, data=[opened.key, opened.sha256]),
            dcc.Store(id=ids.LAY_PICKED),
            dcc.Store(id=ids.LAY_TARGET, data="start"),
            dcc.Store(id=ids.LAY_ADDRESS),
            html.Div([html.H1("Lay out a drill"), html.P(_lead(opened), className="quiet")], className="title"),
            *([] if opened.start_known else [html.P(NO_START, className="quiet")]),
            html.Div(_views(form, opened), className="lay-out"),
        ]
    )


register_page(f"{__name__}_new", path="/lay-out", title="Lay out a drill", layout=layout)


def _lead(opened: Opened) -> str:
    if opened.key:
        runs = f", {counted(opened.runs, 'run')}" if opened.runs else ""
        return f"{opened.name}, in the folder {opened.key}{runs}"
    return "Change the example below into your drill: the plan and the words beside it follow at once."


def _plan_panel(form: Form, shown: Any) -> Any:
    return panel(
        "The plan",
        html.Div(
            [
                html.Span("A click on the plan sets:", id="lay-picks-name"),
                html.Div(
                    pick_buttons(form, "start"),
                    id=ids.LAY_PICKS,
                    className="lay-picks",
                    role="group",
                    **{"aria-labelledby": "lay-picks-name"},
                ),
            ]
        ),
        chart(
            shown,
            chart_id=ids.LAY_PLAN,
            kind="plan chart-lay",
            label="Plan of the drill; its words are around it, its numbers in the fields",
        ),
    )


def _views(form: Form, opened: Opened) -> list[Any]:
    figure, words, more, link, _ = _seen(form)
    shown = figure if figure is not no_update else _seen(example("2026-01-01"))[0]
    return [
        html.Div(
            [
                panel("How hard it is", html.Div(words, id=ids.LAY_ANSWER, role="status")),
                _plan_panel(form, shown),
                panel("In detail", html.Div([] if more is no_update else more, id=ids.LAY_DETAILS)),
            ],
            className="lay-seen",
        ),
        html.Div(
            [
                panel("What lies where", html.Div(drill_form(form), className="lay-form")),
                panel(
                    "Save",
                    _save_note(),
                    html.Div([*save_buttons(opened.key), html.Div(link, id=ids.LAY_FILE)], className="lay-buttons"),
                    html.Div(
                        html.Div(plan_link(opened.key), className="lay-buttons") if opened.key else [],
                        id=ids.LAY_SAVED,
                        role="status",
                    ),
                ),
                panel("Open another drill", html.Ul(_others(opened), className="sheets")),
            ],
            className="lay-asked",
        ),
    ]


def _save_note() -> html.P:
    if config().workspace is None:
        return html.P(
            "No workspace is open, so nothing can be saved here: download the file. To save drills, start "
            "with searchwake serve WORKSPACE.",
            className="panel-note",
        )
    return html.P(
        "It is saved in the workspace, in a folder of its name; runs are put beside it.", className="panel-note"
    )


def _others(opened: Opened) -> list[html.Li]:
    found = [
        html.Li(
            dcc.Link(e.name, href=ids.lay_out_address(e.key))
            if not e.problem
            else f"{e.key} cannot be opened: {e.problem}"
        )
        for e in drills().entries()
        if e.key != opened.key
    ]
    fresh = [html.Li(dcc.Link("A new drill", href="/lay-out"))] if opened.key else []
    return [*fresh, *found] or [html.Li("There is no other drill yet.")]


def _seen(form: Form) -> tuple[Any, Any, Any, Any, dict[str, str]]:
    """Return what a form gives: figure, words, details, download, and what is wrong."""
    made = checked(form)
    drill_difficulty = outlook_of(made)
    if made.drill is None or drill_difficulty is None:
        return no_update, mend(made.errors, form), no_update, download_link(None), made.errors
    return (
        layout_figure(made.drill, drill_difficulty),
        answer(drill_difficulty),
        details(made.drill, drill_difficulty),
        download_link(file_of(made.drill)),
        {},
    )


def _form() -> Form:
    """Return the form as it stands in the request that is answered."""
    fields = next(
        group
        for group in (*ctx.inputs_list, *ctx.states_list)
        if isinstance(group, list) and group and group[0]["id"].get("type") == ids.LAY_FIELD
    )
    return {item["id"]["key"]: str(item.get("value") or "") for item in fields}


@callback(
    Output(ids.LAY_PLAN, "figure"),
    Output(ids.LAY_ANSWER, "children"),
    Output(ids.LAY_DETAILS, "children"),
    Output(ids.LAY_FILE, "children"),
    Output(ids.LAY_PICKS, "children"),
    Output({"type": ids.LAY_ERROR, "key": ALL}, "children"),
    Input(EVERY, "value"),
    State(ids.LAY_TARGET, "data"),
    prevent_initial_call=True,
)
def check(_values: list[Any], target: str) -> tuple[Any, ...]:
    """Follow what is typed: the plan, the words, the file, and a line beside every field that is wrong."""
    form = _form()
    figure, words, more, link, errors = _seen(form)
    lines = [errors.get(item["id"]["key"], "") for item in ctx.outputs_list[5]]
    return (figure if figure is no_update else packed(figure)), words, more, link, pick_buttons(form, target), lines


@callback(
    Output(ids.LAY_ROWS, "children"),
    Output(ids.LAY_SAID, "children"),
    *[Output(ids.lay_field(key), "value") for key in PUT],
    Output(ids.LAY_TARGET, "data"),
    Output(ids.LAY_GPX, "contents"),
    Input(ids.LAY_ADD, "n_clicks"),
    Input({"type": ids.LAY_REMOVE, "number": ALL}, "n_clicks"),
    Input(ids.LAY_PICKED, "data"),
    Input(ids.LAY_GPX, "contents"),
    State(ids.LAY_GPX, "filename"),
    State(ids.LAY_TARGET, "data"),
    State(EVERY, "value"),
    prevent_initial_call=True,
)
def edit(
    _add: Any,
    _remove: Any,
    spot: list[float] | None,
    contents: str | None,
    filename: str | None,
    target: str,
    _values: Any,
) -> tuple[Any, ...]:
    """Add or remove a transmitter, put something where the plan was clicked, or take waypoints."""
    form, said, cause = _form(), "", ctx.triggered_id
    after = form
    if not any(item["value"] for item in ctx.triggered):
        return (no_update,) * (4 + len(PUT))
    if cause == ids.LAY_ADD:
        after = added(form)
    elif cause == ids.LAY_PICKED and spot:
        after, target = picked(form, target, spot[0], spot[1])
    elif cause == ids.LAY_GPX and contents:
        after, said = _with_file(form, contents, filename or "waypoints.gpx")
    elif isinstance(cause, dict):
        after = without(form, cause["number"])
    own = {key: value for key, value in after.items() if "." in key}
    changed = own != {key: value for key, value in form.items() if "." in key}
    return (
        transmitter_rows(after) if changed else no_update,
        notice(said) if said else "",
        *[after[key] if after[key] != form[key] else no_update for key in PUT],
        target,
        None,
    )


def _with_file(form: Form, contents: str, name: str) -> tuple[Form, str]:
    try:
        return with_waypoints(form, base64.b64decode(contents.partition(",")[2]), name)
    except AnalyzerError as error:
        return form, str(error)
    except binascii.Error:
        return form, f"{name}: the file did not arrive whole; choose it again"


@callback(
    Output(ids.LAY_SAVED, "children"),
    Output(ids.LAY_REF, "data"),
    Output(ids.lay_save("new"), "hidden"),
    Input({"type": ids.LAY_SAVE, "how": ALL}, "n_clicks"),
    State(ids.LAY_REF, "data"),
    State(EVERY, "value"),
    prevent_initial_call=True,
)
def save(_clicks: Any, ref: list[str], _values: Any) -> tuple[Any, Any, Any]:
    """Save the drill of the form; ask first where it has runs."""
    if not any(item["value"] for item in ctx.triggered):
        return no_update, no_update, no_update
    made, how = checked(_form()), ctx.triggered_id["how"]
    if made.drill is None:
        return notice("Not saved: mend the fields that are marked first."), no_update, no_update
    opened = Opened("" if how == "new" else ref[0], made.drill.name, ref[1])
    try:
        saved = drills().save(made.drill, opened, sure=how == "sure")
    except AnalyzerError as error:
        return notice(f"Not saved. {error}."), no_update, no_update
    if saved.question:
        return question(saved.question), no_update, no_update
    return said_saved(saved.key, _measured_at_once(saved, anew=how == "sure")), [saved.key, saved.sha256], False


def _measured_at_once(saved: Saved, *, anew: bool) -> int:
    """Have the runs of a drill that was saved measured, and return how many it has; `anew`: what moves is told."""
    found, count = runs(), next((one.runs for one in drills().entries() if one.key == saved.key), 0)
    if found is not None and count:
        found.measuring.start(saved.key, anew=anew)
    return count if found is not None else 0


clientside_callback(
    ClientsideFunction("layOut", "choose"),
    Output(ids.LAY_TARGET, "data", allow_duplicate=True),
    Output({"type": ids.LAY_PICK, "what": ALL}, "aria-pressed"),
    Input({"type": ids.LAY_PICK, "what": ALL}, "n_clicks"),
    prevent_initial_call=True,
)
clientside_callback(
    ClientsideFunction("layOut", "address"),
    Output(ids.LAY_ADDRESS, "data"),
    Input(ids.LAY_REF, "data"),
    Input(ids.lay_field("start_east"), "value"),
    Input(ids.lay_field("start_north"), "value"),
    prevent_initial_call=True,
)
