"""The list of runs by day and drill: a row a run with its splits and what cost it most."""

from typing import Any
from urllib.parse import quote

from dash import dcc, html

from analyzer.model.figure import Figure, Measured
from dashboard import ids
from dashboard.view_models.account import Totals
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.practice import hit_to_airway
from dashboard.view_models.run_days import Day, ListPage, Part
from dashboard.view_models.run_summary import JOINT_SHORT, split_times
from dashboard.view_models.sheets_used import sheet_line
from dashboard.wording import PHASES_SHORT, clock, counted, signed_clock

DIFFERENT = (
    "These runs rest on different knowledge of where the transmitters lie and how their antennas point: some were "
    "measured before others came, and stay as they are."
)
NOT_SCORED = "No score, no findings: the evidence does not show all of this run. Its page says what is missing."
NO_FINDINGS, ALL_ASIDE = "No findings.", "The coach set aside what was found."
HEADS = ("run", "time", *PHASES_SHORT.values(), "lost", "score", "what cost most")
MOST_FAILED = 20
"""Lines on results that cannot be shown; of more, the number is told."""
MOST_DAYS = 100


def finder(shown: ListPage) -> html.Form:
    """Return the field that a name, drill or date is typed into: a plain form, what was typed stands in the address."""
    field = dcc.Input(id=ids.FIND, name="find", type="text", value=shown.find, autoComplete="off")
    label = html.Label("Name, drill or date", htmlFor=ids.FIND)
    clear = [dcc.Link("Show all", href="/", className="button")] if shown.find else []
    button = html.Button("Find", type="submit", className="button")
    return html.Form([label, field, button, *clear], action="/", method="get", className="finder", role="search")


def counts(shown: ListPage) -> html.P:
    """Return how many runs there are, and which of them the page shows."""
    if not shown.rows:
        return html.P(
            f'No run has "{shown.find}" in its name, drill or date.' if shown.find else "No run can be shown."
        )
    drills = len({day.drill.key for day, _ in shown.days})
    words = f"{counted(shown.rows, 'run')} of {counted(drills, 'drill')}"
    last = shown.first + sum(len(part.runs) for part in shown.parts)
    if shown.pages > 1:
        words += f", the newest first: {shown.first + 1} to {last} are shown"
    return html.P(f"{words}.", className="quiet")


def pager(shown: ListPage) -> html.Nav | None:
    """Return the way to newer and older runs, None where all are on the page."""
    if shown.pages == 1:
        return None
    newer = dcc.Link("Newer", href=shown.address(shown.page - 1), className="button")
    older = dcc.Link("Older", href=shown.address(shown.page + 1), className="button")
    place = html.Span(f"Page {shown.page} of {shown.pages}")
    parts = [newer if shown.page > 1 else None, place, older if shown.page < shown.pages else None]
    return html.Nav([part for part in parts if part is not None], className="pager", **{"aria-label": "Pages of runs"})


def all_days(shown: ListPage) -> html.Details | None:
    """Return every day and drill folded away, each with the page it begins on; None where one page has them all."""
    if shown.pages == 1:
        return None
    lines: list[Any] = [
        html.Li(
            [dcc.Link(f"{day.date} {day.drill.name}", href=shown.address(page)), f", {counted(len(day.runs), 'run')}"]
        )
        for day, page in shown.days[:MOST_DAYS]
    ]
    more = len(shown.days) - MOST_DAYS
    if more > 0:
        lines.append(html.Li(f"{more} older: find them by their date, 2026-02, or their drill."))
    return html.Details([html.Summary("All days and drills"), html.Ul(lines, className="day-list")], className="more")


def day_card(part: Part, *, at_hand: bool, told: bool) -> html.Section:
    """Return the runs of a drill on one day, to be folded away, with a link to each.

    `at_hand`: the drill's folder is there, so that it can be measured anew. `told`: an earlier day of this drill on
    this page has said what is to be said of the whole drill.
    """
    day = part.day
    of_all = counted(len(day.runs), "run")
    shown = len(part.runs)
    if shown < len(day.runs):
        of_all = f"{part.first + 1} to {part.first + shown} of {of_all}"
    title = html.H2([day.drill.name, html.Span(f"{day.date}, {of_all}", className="day-count")])
    different = [_different(day.drill.key, at_hand)] if day.drill.rests_on_different and not told else []
    rows = html.Ul([html.Li(_run(entry)) for entry in part.runs], className="runs rows")
    heads = html.Div([html.Span(text) for text in HEADS], className="row row-heads", **{"aria-hidden": "true"})
    used = html.P(sheet_line(run.sheet for run in day.runs if run.sheet is not None), className="quiet")
    body = [html.Summary(title), _drill_pages(day), *different, heads, rows, used]
    return html.Section(html.Details(body, open=True, className="day"), className="panel")


def _drill_pages(day: Day) -> html.Div:
    names: tuple[tuple[str, str], ...] = (
        ("Side by side", "side-by-side"),
        ("Rule sheet", "rules"),
        ("Checks before it", "checks"),
    )
    names += (("Team", "team"),) if any(entry.team for entry in day.runs) else ()
    links = [dcc.Link(text, href=day.drill.page(name), className="button") for text, name in names]
    sheet = f"{day.drill.page('take-drill')}/sheet.pdf?day={day.date}"
    return html.Div(
        [*links, html.A("Sheet of all runs (PDF)", href=sheet, download=True, className="button")],
        className="run-pages",
    )


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
    checks = dcc.Link("Checks before it", href=f"/checks/{quote(key, safe='')}", className="button")
    head = html.Div([html.H2(name), html.Div([link, checks], className="run-pages")], className="drill-head")
    return html.Section([head, html.P("No run has been measured yet.")], className="panel")


def failed_card(failed: tuple[RunEntry, ...]) -> html.Section:
    """Return each result that cannot be shown, once, with why."""
    lines = [
        html.Li([html.Strong(f"{entry.drill}/{entry.run}"), html.Span(f" cannot be shown: {entry.problem}")])
        for entry in failed[:MOST_FAILED]
    ]
    more = len(failed) - MOST_FAILED
    if more > 0:
        lines.append(html.Li(f"and {counted(more, 'other')}: searchwake check names each of a workspace."))
    head = html.H2(f"{counted(len(failed), 'result')} cannot be shown")
    return html.Section([head, html.Ul(lines, className="load-bad")], className="panel")


def _run(entry: RunEntry) -> dcc.Link:
    name = [html.Strong(entry.searcher or entry.run), html.Span(entry.called, className="quiet run-id")]
    none = ALL_ASIDE if entry.aside else NO_FINDINGS
    nothing = none if isinstance(entry.score, Figure) else NOT_SCORED
    parts = [
        html.Span(name, className="run-name"),
        _cell("time", clock(entry.duration_s), "run-time"),
        *_splits(entry.splits),
        _cell("lost", _lost(entry.splits), "run-lost"),
        _score(entry.score),
        html.Span([entry.loss or nothing, *_later(entry)], className="run-finding"),
    ]
    return dcc.Link(parts, href=entry.href, className="run row")


def _later(entry: RunEntry) -> list[html.Span]:
    said = hit_to_airway(entry)
    return [html.Span(said, className="run-later")] if said else []


def _splits(splits: tuple[Totals, ...]) -> list[html.Span]:
    """Return a cell a phase; phases whose border is not known share one."""
    return [
        _cell(short, clock(split.seconds) if split else "-", f"split{' split-joint' if short == JOINT_SHORT else ''}")
        for short, split in split_times(splits)
    ]


def _lost(splits: tuple[Totals, ...]) -> str:
    return signed_clock(splits[-1].lost) if splits and splits[-1].lost else "-"


def _score(score: Measured | None) -> html.Span:
    if not isinstance(score, Figure):
        return _cell("score", "-", "run-score")
    words = [f"{score.value:.0f}", html.Span(f"{score.low:.0f} to {score.high:.0f}", className="quiet")]
    return html.Span([html.Span("score ", className="row-label"), *words], className="run-score")


def _cell(label: str, text: str, kind: str) -> html.Span:
    return html.Span([html.Span(f"{label} ", className="row-label"), text], className=kind)
