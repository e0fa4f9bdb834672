"""The list of drills and their runs."""

from urllib.parse import quote

from dash import dcc, html

from analyzer.model.figure import Figure
from dashboard import ids
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.wording import clock, figure_text, interval_text

DIFFERENT = (
    "These runs rest on different knowledge of where the transmitters lie and how their antennas point: some were "
    "measured before others came, and stay as they are."
)


NOT_SCORED = "No score, no findings: the evidence does not show all of this run. Its page says what is missing."


def drill_card(drill: DrillEntry, *, at_hand: bool) -> html.Section:
    """Return one drill with a link to each of its runs, and a line for each file that cannot be shown.

    `at_hand`: its folder is there, so that it can be measured anew.
    """
    runs = [_run(entry) if entry.problem is None else _problem(entry) for entry in drill.runs]
    names = (("Side by side", "side-by-side"), ("Rule sheet", "rules"))
    pages = [dcc.Link(text, href=drill.page(name), className="button") for text, name in names]
    head = html.Div([html.H2(drill.name), html.Div(pages, className="run-pages")], className="drill-head")
    told = [_different(drill.key, at_hand)] if drill.rests_on_different else []
    return html.Section([head, *told, html.Ul(runs, className="runs")], className="panel")


def _different(key: str, at_hand: bool) -> html.Div:
    button = html.Button(
        "Measure the drill anew", type="button", className="button", id={"type": ids.ANEW, "drill": key}
    )
    said = html.Div(id={"type": ids.ANEW_SAID, "drill": key}, role="status")
    return html.Div([html.P(DIFFERENT), *([button, said] if at_hand else [])], className="notice")


def moved_list(lines: tuple[str, ...]) -> html.Div:
    """Return what moved when a drill was measured anew, a line each."""
    link = html.A("Show the runs as they are now", href="/")
    return html.Div([html.P("All runs were measured together."), html.Ul([html.Li(line) for line in lines]), link])


def waiting_card(key: str, name: str, problem: str = "") -> html.Section:
    """Return a drill that has no measured run yet; `problem`: why its file cannot be read."""
    if problem:
        return html.Section([html.H2(name), html.P(f"This drill cannot be read: {problem}")], className="panel")
    link = dcc.Link("Load runs", href=f"/load?drill={quote(key, safe='')}", className="button")
    head = html.Div([html.H2(name), html.Div(link, className="run-pages")], className="drill-head")
    return html.Section([head, html.P("No run has been measured yet.")], className="panel")


def _run(entry: RunEntry) -> html.Li:
    facts = [html.Span(clock(entry.duration_s), className="run-time")]
    if entry.score is not None:
        facts.append(
            html.Span(
                ["score ", html.Strong(figure_text(entry.score)), f" ({interval_text(entry.score)})"],
                className="run-score",
            )
        )
    name = [html.Strong(entry.searcher or entry.run), html.Span(entry.run, className="quiet run-id")]
    nothing = "No findings." if isinstance(entry.score, Figure) else NOT_SCORED
    first = html.Span(entry.first_finding or nothing, className="run-finding")
    return html.Li(
        dcc.Link(
            [html.Span(name, className="run-name"), html.Span(facts, className="run-facts"), first],
            href=entry.href,
            className="run",
        )
    )


def _problem(entry: RunEntry) -> html.Li:
    return html.Li([html.Strong(entry.run), html.Span(f" cannot be shown: {entry.problem}")], className="run broken")
