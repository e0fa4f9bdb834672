"""The standings of one event: `/standings/<event>?field=lower_bowl&class=open`."""

from typing import Any

from dash import MATCH, Input, Output, State, callback, ctx, dcc, html, no_update, register_page

from analyzer.errors import AnalyzerError
from analyzer.events.model import OVERALL
from dashboard import ids
from dashboard.components.shell import message_page, notice, panel
from dashboard.components.standings import accounts, choices, downloads, proposal_list, standings_table, table_name
from dashboard.pages._here import config
from dashboard.services.events import EventMissingError, Events, NotScoredError
from dashboard.services.named_in_events import NamedInEvents
from dashboard.view_models.standings import TableView

MOST_GONE = 20
register_page(__name__, path_template="/standings/<event>", title="Standings")


def layout(event: str = "", **asked: Any) -> html.Div:
    """Return the table that the address asks for, or a page that says why there is none."""
    scope, class_id = str(asked.get("field") or OVERALL), str(asked.get("class") or "")
    try:
        view = Events(config().workspace).table(event, scope, class_id)
    except NotScoredError as error:
        how = f"searchwake standings {config().workspace}/events/{error} scores it."
        return html.Div([message_page("This event is not scored yet", how), *_fates(str(error))])
    except EventMissingError as error:
        return message_page("These standings are not here", f"There is {error}.")
    except AnalyzerError as error:
        return message_page("These standings cannot be shown", str(error))
    about = " · ".join(text for text in (view.date, view.rules) if text)
    return html.Div(
        [
            dcc.Store(id=ids.EVENT_REF, data=[view.key, view.scope]),
            html.Div([html.H1(view.name), html.P(about, className="quiet")], className="title"),
            *_fates(view.key),
            *_warnings(view),
            *(notice(line) for line in view.state),
            html.Div([*choices(view), downloads(view.key)], className="choosers"),
            panel(
                table_name(view),
                html.Div(
                    standings_table(view), className="scroll", tabIndex="0", role="region", **{"aria-label": "Table"}
                ),
                note=view.how,
            ),
            *_proposals(view),
            panel("What this rests on", html.Ul([html.Li(line) for line in _basis(view)], className="files")),
        ]
    )


def _fates(event: str) -> list[html.Section]:
    """Return what became of runs of the event that are not in their drills any more; nothing where all are."""
    workspace = config().workspace
    lines = NamedInEvents(workspace).fates(event) if workspace is not None else ()
    if not lines:
        return []
    more = [html.Li(f"{len(lines) - MOST_GONE} more")] if len(lines) > MOST_GONE else []
    listed = html.Ul([*(html.Li(line) for line in lines[:MOST_GONE]), *more], className="load-bad")
    return [panel("Runs that are not there any more", listed, dcc.Link("Bin", href="/bin", className="button"))]


def _warnings(view: TableView) -> list[html.P]:
    """Return what is not as it was when the event was scored, in words."""
    said = [f"Stale: {line}" for line in view.changed[:8]]
    said += [f"Not as it was written: {line}" for line in view.broken[:8]]
    more = max(len(view.changed) - 8, 0) + max(len(view.broken) - 8, 0)
    return [notice(line) for line in (*said, *([f"{more} more; searchwake verify names them all"] if more else []))]


def _proposals(view: TableView) -> list[html.Section]:
    if not view.proposals:
        return []
    return [panel("Proposed penalties", proposal_list(view.proposals), note=view.how_to_confirm)]


def _basis(view: TableView) -> list[str]:
    source = [f"Source of the rules: {view.source}."] if view.source else []
    state = "The stored files are as they were written." if not view.broken else "Stored files have been changed."
    return [
        *source,
        *view.notes,
        f"Scored with version {view.engine}. {state} Integrity {view.integrity}. Log head {view.log_head}. "
        "searchwake verify computes everything anew.",
    ]


@callback(
    Output({"type": ids.ENTRY_LINES, "bib": MATCH}, "children"),
    Input({"type": ids.ENTRY_FOLD, "bib": MATCH}, "n_clicks"),
    State({"type": ids.ENTRY_LINES, "bib": MATCH}, "children"),
    State(ids.EVENT_REF, "data"),
    prevent_initial_call=True,
)
def unfold(clicks: int | None, shown: Any, ref: list[str]) -> Any:
    """Fill an entry's lines when it is unfolded for the first time."""
    if not clicks or shown:
        return no_update
    event, scope = ref
    try:
        return accounts(Events(config().workspace).account(event, scope, ctx.triggered_id["bib"]))
    except (EventMissingError, NotScoredError, AnalyzerError) as error:
        return notice(str(error))
