"""The rule sheet of a drill: `/rules/<drill>?sheet=0606d7e0`. Previews change nothing; saved sheets never change."""

from typing import Any

from dash import ALL, Input, Output, State, callback, ctx, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from analyzer.model.rules import Rules
from dashboard import ids
from dashboard.components.rule_sheet import preview_table, rule_form, sheet_list
from dashboard.components.shell import message_page, notice, panel
from dashboard.pages._here import service, sheets
from dashboard.pages._runs import drill_of, unusable_lines, usable_runs
from dashboard.services.rules import checked
from dashboard.view_models.entries import DrillEntry, SheetEntry
from dashboard.view_models.rule_form import Form, rules_of
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
            dcc.Store(id=ids.RULE_REF, data=[entry.key, start.sha256]),
            html.Div(
                [html.H1("Rule sheet"), html.P(f"{entry.name}, {_count(entry)}", className="quiet")], className="title"
            ),
            *[notice(text) for text in (*said, *unusable_lines(entry))],
            panel(
                "Start from",
                html.Div(sheet_list(sheets().entries(), start.sha256, entry.page("rules")), id=ids.SHEET_LIST),
            ),
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
    Input(ids.SAVE, "n_clicks"),
    State({"type": ids.RULE_FIELD, "key": ALL}, "value"),
    State(ids.RULE_REF, "data"),
    State(ids.SHEET_NAME, "value"),
    State(ids.SHEET_VERSION, "value"),
    prevent_initial_call=True,
)
def save(
    clicks: int | None, values: list[Any], ref: list[str], name: str | None, version: str | None
) -> tuple[Any, Any]:
    """Save the sheet of the fields under a name and a version."""
    if not clicks:
        return no_update, no_update
    entry = drill_of(ref[0])
    try:
        saved = sheets().save(_asked(values, ref, name=name or "", version=version or ""))
    except AnalyzerError as error:
        return notice(str(error)), no_update
    page = entry.page("rules") if entry else ""
    words = f"Saved as {saved.place}: {saved.name}, version {saved.version}, hash {saved.sha256[:16]}."
    use = f"To measure with it: searchwake analyze DRILL --out DIR --rules {saved.place}"
    return [notice(words), html.P(use)], sheet_list(sheets().entries(), ref[1], page)
