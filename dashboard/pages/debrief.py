"""The debrief of one run. The address holds what is shown: `/run/<drill>/<run>?from=168.0&to=202.0`."""

from typing import Any
from urllib.parse import parse_qsl

from dash import ALL, Input, Output, State, callback, ctx, html, no_update, register_page
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.components.charts import patch
from dashboard.components.coach import coach_part
from dashboard.components.debrief import debrief_page, window_caption
from dashboard.components.run_links import run_links
from dashboard.figures.changes import closeup_changes, over_time_changes, plan_changes, timeline_changes
from dashboard.pages._here import grounds, runs, service
from dashboard.pages._runs import address, run_or_message, run_or_words
from dashboard.pages._stale import stale_part
from dashboard.pages._team import team_part
from dashboard.view_models.order import pressed_states, window_of_trigger
from dashboard.view_models.selection import parse_window, window_query

register_page(__name__, path_template="/run/<drill>/<run>", title="Debrief")


def layout(drill: str = "", run: str = "", **query: Any) -> html.Div:
    """Return the debrief, or a page that says why there is none."""
    result, message = run_or_message(drill, run)
    if result is None:
        return message
    window, usable = parse_window(query, duration_s=result.duration_s)
    links = run_links(
        replay=address("replay", drill, run),
        take=address("take", drill, run),
        compare=f"{address('side-by-side', drill)}?run={address(run)[1:]}",
        rules=address("rules", drill),
        particulars=address("particulars", drill, run) if runs() is not None else "",
    )
    said = [*stale_part(drill, run), *team_part(drill, result), *coach_part(result), links]
    others = service().others(drill, run)
    return debrief_page(
        result,
        (drill, run),
        window,
        address_usable=usable,
        links=html.Div(said),
        others=others,
        under=grounds().under(drill),
        changeable=runs() is not None,
    )


@callback(
    Output(ids.ADDRESS, "search"),
    Input({"type": ids.SHOW_WINDOW, "place": ALL, "number": ALL}, "n_clicks"),
    Input(ids.TIMELINE, "clickData"),
    State(ids.RUN_REF, "data"),
    prevent_initial_call=True,
)
def choose_window(_clicks: list[int | None], clicked: dict[str, Any] | None, run_ref: list[str]) -> Any:
    """Put the window of the finding, row or piece of the timeline that was chosen into the address."""
    if not any(trigger["value"] for trigger in ctx.triggered):
        return no_update
    result, _ = run_or_words(*run_ref)
    return no_update if result is None else window_query(window_of_trigger(result, ctx.triggered_id, clicked))


@callback(
    Output(ids.SHOWN, "data"),
    Output(ids.CAPTION, "children"),
    Output(ids.TIMELINE, "figure"),
    Output(ids.OVER_TIME, "figure"),
    Output(ids.PLAN, "figure"),
    Output({"type": ids.CLOSE_UP, "number": ALL}, "figure"),
    Output({"type": ids.SHOW_WINDOW, "place": ALL, "number": ALL}, "aria-pressed"),
    Input(ids.ADDRESS, "search"),
    State(ids.RUN_REF, "data"),
    State(ids.SHOWN, "data"),
    prevent_initial_call=True,
)
def show_window(search: str | None, run_ref: list[str], shown: str) -> tuple[Any, ...]:
    """Move every view to the window of the address, where it is not the one that is shown already."""
    result, words = run_or_words(*run_ref)
    if result is None:  # damaged or moved since the page was opened: what is drawn stays, and a line says why
        unchanged = [[no_update] * len(ctx.outputs_list[part]) for part in (5, 6)]
        return (no_update, ". ".join(words), *[no_update] * 3, *unchanged)
    window, _ = parse_window(dict(parse_qsl((search or "").removeprefix("?"))), duration_s=result.duration_s)
    if window_query(window) == shown:
        raise PreventUpdate
    closeups, buttons = ctx.outputs_list[5], [item["id"] for item in ctx.outputs_list[6]]
    return (
        window_query(window),
        window_caption(window),
        patch(timeline_changes(window)),
        patch(over_time_changes(result, window)),
        patch(plan_changes(result, window)),
        [patch(closeup_changes(result, window)) for _ in closeups],
        pressed_states(result, buttons, window),
    )
