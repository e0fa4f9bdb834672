"""The rule sheet of a drill: `/rules/<drill>?sheet=0606d7e0`. Previews change nothing; saved sheets never change.

One is in force for the drill: another one that is put there has the runs measured at once.
"""

from typing import Any

from dash import ALL, Input, Output, State, callback, ctx, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from analyzer.model.rules import Rules
from dashboard import ids
from dashboard.components.rule_sheet import preview_table, rule_form, sheet_list
from dashboard.components.sheet_in_force import NOTE, in_force_lines, said_in_force
from dashboard.components.shell import message_page, notice, panel
from dashboard.pages._here import in_force, service, sheets
from dashboard.pages._runs import drill_of, unusable_lines, usable_runs
from dashboard.services.rules import checked
from dashboard.view_models.entries import DrillEntry, SheetEntry
from dashboard.view_models.rule_form import Form, rules_of
from dashboard.view_models.sheets_used import sheet_line
from dashboard.wording import counted

register_page(__name__, path_template="/rules/<drill>", title="Rule sheet")

UNTITLED, PRESS = "preview", "Other paces or lengths: the runs have to be measured again. Press the button for that."


def layout(drill: str = "", sheet: Any = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    entry = drill_of(drill)
    if entry is None or not usable_runs(entry):
        return message_page("This drill is not here", "There are no results under this name in the folder.")
    try:
        start, said = _start(entry, str(sheet))
        rules = sheets().rules(start)
        preview = _by_points(entry.key, rules)
    except AnalyzerError as error:
        return message_page("This rule sheet cannot be shown", str(error))
    return html.Div(
        [
            dcc.Store(id=ids.RULE_REF, data=[entry.key, start.sha256, _force_of(entry.key) or ""]),
            html.Div(
                [html.H1("Rule sheet"), html.P(f"{entry.name}, {_count(entry)}", className="quiet")], className="title"
            ),
            *[notice(text) for text in (*said, *unusable_lines(entry))],
            panel("In force for this drill", html.Div(_in_force(entry), id=ids.IN_FORCE), note=NOTE),
            panel("Start from", html.Div(_listed(entry, start.sha256), id=ids.SHEET_LIST)),
            panel("The sheet", rule_form(rules)),
            panel(
                "What it does to these runs",
                html.Div(preview, id=ids.PREVIEW),
                html.Button("Measure again with this sheet", id=ids.MEASURE, type="button", className="button"),
                note="A preview: the results stay as they were measured.",
            ),
            panel("Save", _save_form(), note="A saved sheet is never changed; another content is another version."),
        ],
        className="rules",
    )


def _in_force(entry: DrillEntry) -> list[Any]:
    """Return which sheet is in force; without a workspace, with which the runs were measured."""
    found, measured = in_force(), sheet_line(run.sheet for run in entry.runs if run.sheet is not None)
    return [html.P(measured)] if found is None else in_force_lines(found.of(entry.key), measured)


def _force_of(drill: str) -> str | None:
    """Return the hash of the sheet in force, None where no other one can be put there."""
    found = in_force()
    return None if found is None else found.of(drill).sha256


def _listed(entry: DrillEntry, chosen: str) -> html.Ul:
    return sheet_list(sheets().entries(), chosen, entry.page("rules"), _force_of(entry.key))


def _count(entry: DrillEntry) -> str:
    return counted(len(usable_runs(entry)), "run")


def _by_points(drill: str, rules: Rules) -> Any:
    """Return the scores by a sheet with the same reference searcher, else the word that measuring is needed."""
    if sheets().needs_measuring(drill, rules):
        return notice(PRESS)
    return preview_table(sheets().by_points(drill, rules))


def _start(entry: DrillEntry, asked: str) -> tuple[SheetEntry, list[str]]:
    """Return the sheet that the address names, else that of the runs, else the built-in one; and what is to be said."""
    used = service().result(entry.key, usable_runs(entry)[0]).rules
    named, own = sheets().entry(asked), sheets().entry(used.sha256)
    if named is not None:
        return named, []
    said = ["There is no rule sheet with the hash in this link."] if asked else []
    if own is not None:
        return own, said
    said.append(f"The sheet of these runs ({used.name}, version {used.version}) is not here: another one is shown.")
    return sheets().entries()[0], said


def _save_form() -> html.Div:
    return html.Div(
        [
            html.Label(
                [html.Span("Name"), dcc.Input(id=ids.SHEET_NAME, type="text", value="", maxLength=80)],
                className="field",
            ),
            html.Label(
                [html.Span("Version"), dcc.Input(id=ids.SHEET_VERSION, type="text", value="1", maxLength=20)],
                className="field",
            ),
            html.Button("Save this sheet", id=ids.SAVE, type="button", className="button"),
            html.Button(
                "Save it, put it in force and measure",
                id=ids.SAVE_IN_FORCE,
                type="button",
                className="button",
                hidden=in_force() is None,
            ),
            html.Div(id=ids.SAVED, role="status"),
        ],
        className="save-form",
    )


def _asked(values: list[Any], ref: list[str], *, name: str = UNTITLED, version: str = "1") -> Rules:
    """Return the checked sheet of the fields; raises what is wrong with them in one line."""
    base = sheets().entry(ref[1]) or sheets().entries()[0]
    return checked(rules_of(_form(values), sheets().rules(base), name=name, version=version))


def _form(values: list[Any]) -> Form:
    fields = next(group for group in (*ctx.inputs_list, *ctx.states_list) if isinstance(group, list))
    return {field["id"]["key"]: value for field, value in zip(fields, values, strict=True)}


@callback(
    Output(ids.PREVIEW, "children"),
    Input({"type": ids.RULE_FIELD, "key": ALL}, "value"),
    State(ids.RULE_REF, "data"),
    prevent_initial_call=True,
)
def count(values: list[Any], ref: list[str]) -> Any:
    """Count the scores again where only points have changed; say what is wrong, or that measuring is needed."""
    try:
        return _by_points(ref[0], _asked(values, ref))
    except AnalyzerError as error:
        return notice(str(error))


@callback(
    Output(ids.PREVIEW, "children", allow_duplicate=True),
    Input(ids.MEASURE, "n_clicks"),
    State({"type": ids.RULE_FIELD, "key": ALL}, "value"),
    State(ids.RULE_REF, "data"),
    running=[
        (Output(ids.MEASURE, "disabled"), True, False),
        (Output(ids.MEASURE, "children"), "Measuring again …", "Measure again with this sheet"),
    ],
    prevent_initial_call=True,
)
def measure(clicks: int | None, values: list[Any], ref: list[str]) -> Any:
    """Measure the runs of the drill again with the sheet of the fields."""
    if not clicks:
        return no_update
    try:
        return preview_table(sheets().by_measuring(ref[0], _asked(values, ref)))
    except AnalyzerError as error:
        return notice(str(error))


@callback(
    Output(ids.SAVED, "children"),
    Output(ids.SHEET_LIST, "children"),
    Output(ids.IN_FORCE, "children"),
    Output(ids.RULE_REF, "data"),
    Input(ids.SAVE, "n_clicks"),
    Input(ids.SAVE_IN_FORCE, "n_clicks"),
    State({"type": ids.RULE_FIELD, "key": ALL}, "value"),
    State(ids.RULE_REF, "data"),
    State(ids.SHEET_NAME, "value"),
    State(ids.SHEET_VERSION, "value"),
    prevent_initial_call=True,
)
def save(
    _save: int | None, _force: int | None, values: list[Any], ref: list[str], name: str | None, version: str | None
) -> tuple[Any, ...]:
    """Save the sheet of the fields under a name and a version, and put it in force where that was asked for."""
    if not any(item["value"] for item in ctx.triggered):
        return (no_update,) * 4
    try:
        saved = sheets().save(_asked(values, ref, name=name or "", version=version or ""))
    except AnalyzerError as error:
        return notice(str(error)), no_update, no_update, no_update
    words = f"Saved as {saved.place}: {saved.name}, version {saved.version}, hash {saved.sha256[:16]}."
    use = f"To measure with it: searchwake analyze DRILL --out DIR --rules {saved.place}"
    if ctx.triggered_id == ids.SAVE_IN_FORCE:
        return notice(words), *_put(ref, saved.sha256)
    entry = drill_of(ref[0])
    return [notice(words), html.P(use)], _listed(entry, ref[1]) if entry else no_update, no_update, no_update


@callback(
    Output(ids.SHEET_LIST, "children", allow_duplicate=True),
    Output(ids.IN_FORCE, "children", allow_duplicate=True),
    Output(ids.RULE_REF, "data", allow_duplicate=True),
    Input({"type": ids.PUT_IN_FORCE, "place": ALL, "sheet": ALL}, "n_clicks"),
    State(ids.RULE_REF, "data"),
    prevent_initial_call=True,
)
def put(_clicks: list[int | None], ref: list[str]) -> tuple[Any, ...]:
    """Put a saved sheet in force for the drill, and have its runs measured."""
    if not any(item["value"] for item in ctx.triggered):
        return (no_update,) * 3
    return _put(ref, ctx.triggered_id["sheet"])


def _put(ref: list[str], sha256: str) -> tuple[Any, ...]:
    """Return list of sheets, panel and reference of the page after a sheet was put in force, or why it was not."""
    found, entry = in_force(), drill_of(ref[0])
    if found is None or entry is None:
        return no_update, notice("There is no workspace here, or the drill is gone: nothing was changed."), no_update
    try:
        before, now = found.put(entry.key, sha256, seen=ref[2])
    except AnalyzerError as error:
        return no_update, [notice(f"Not done. {error}."), *_in_force(entry)], no_update
    said = said_in_force(before, now, entry.key, len(entry.runs))
    return _listed(entry, ref[1]), [said, *_in_force(entry)], [*ref[:2], now.sha256]
