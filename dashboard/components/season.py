"""The parts of the pages of a season: a group's table, what cost most, a measure of a person with its runs."""

from typing import Any
from urllib.parse import quote

from dash import dcc, html

from analyzer.seasons.model import (
    CLEAR,
    HINT,
    TOO_FEW,
    CauseCost,
    GroupCell,
    GroupRow,
    GroupSeason,
    PersonSeason,
    SeasonPoint,
    Trend,
)
from dashboard.wording import amount, cause_words, number

BARE = ("1", "points")


def person_address(name: str) -> str:
    """Return the address of a person's season."""
    return f"/season/{quote(name, safe='')}"


def group_choice(groups: tuple[str, ...], chosen: str) -> html.Nav:
    """Return the choice of group as links; the one that is shown says so in words as well."""
    links = []
    for group, text in (("", "Everybody"), *((g, g) for g in groups)):
        current = group == chosen
        words = [html.Span("Shown: ", className="unseen"), text] if current else [text]
        href = f"/season?group={quote(group, safe='')}" if group else "/season"
        links.append(html.Li(dcc.Link(words, href=href, className="button chosen" if current else "button")))
    return html.Nav(
        [html.Span("Group", className="choose-label"), html.Ul(links)],
        className="choose season-choice",
        **{"aria-label": "Group"},
    )


def group_table(season: GroupSeason) -> html.Table:
    """Return the table of people by the measures that have a head for it; a person's page has all."""
    columns = [i for i, m in enumerate(season.measures) if m.head]
    heads = ["Searcher", "Runs", *(season.measures[i].head for i in columns)]
    return html.Table(
        [
            html.Caption(f"{season.runs} runs on {season.days} days", className="unseen"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in heads])),
            html.Tbody([_group_row(row, columns) for row in season.rows]),
        ],
        className="table season-table",
    )


def _group_row(row: GroupRow, columns: list[int]) -> html.Tr:
    group = [html.Span(row.group, className="cause-what")] if row.group else []
    who = html.Th([dcc.Link(row.name, href=person_address(row.name)), *group], scope="row")
    return html.Tr([who, html.Td(str(row.runs)), *(_cell(row.cells[i]) for i in columns)])


def _cell(cell: GroupCell) -> html.Td:
    latest = "-" if cell.latest is None else amount(cell.latest, cell.trend.measure.unit)
    sure = " change-clear" if cell.trend.state == CLEAR else ""
    return html.Td([html.Strong(latest), html.Span(change_words(cell.trend), className=f"change{sure}")])


def change_words(trend: Trend) -> str:
    """Return an arrow for where the measure goes, and words for whether that is better and how sure it is."""
    if trend.state == TOO_FEW:
        return "too few runs"
    if trend.state not in (CLEAR, HINT) or trend.slope is None:
        return "→ no clear change"
    arrow = "↗" if trend.slope.value > 0.0 else "↘"
    return f"{arrow} {trend.way}" if trend.state == CLEAR else f"{arrow} perhaps {trend.way}"


def cause_list(causes: tuple[CauseCost, ...], runs: int) -> html.Ol:
    """Return what cost most seconds beyond the reference."""
    rows = []
    for cost in causes:
        name, what = cause_words(cost.cause, "", cost.seconds)
        facts = f"{cost.seconds:.0f} s, {100.0 * cost.share:.0f} %"
        rows.append(
            html.Li(
                [
                    html.Span(
                        [html.Strong(name), html.Span(f"{what}; in {cost.runs} of {runs} runs", className="cause-what")]
                    ),
                    html.Span(facts, className="cause-s"),
                ]
            )
        )
    return html.Ol(rows, className="cause-key season-causes")


def measure_panel(trend: Trend, chart: html.Div | None) -> html.Section:
    """Return one measure of a person: the sentence, the chart, the best run."""
    said = html.P(trend.sentence, className=f"season-said said-{trend.state}")
    parts: list[Any] = [html.H2(trend.measure.name), said]
    if chart is not None:
        parts.append(chart)
    if trend.best is not None:
        parts.append(html.P(_best(trend), className="quiet"))
    return html.Section(parts, className="panel season-measure")


def _best(trend: Trend) -> list[Any]:
    best = trend.best
    if best is None:
        return []
    point, unit = best.point, trend.measure.unit
    words = ["Best: ", _run_link(point), f", {amount(point.figure.value, unit)} on {point.date}"]
    if best.next_best is None:
        return [*words, "."]
    sure = "clearly better" if best.clear else "not clearly better"
    return [*words, f"; {sure} than the next, {amount(best.next_best.figure.value, unit)}."]


def _run_link(point: SeasonPoint) -> dcc.Link:
    href = f"/run/{quote(point.drill, safe='')}/{quote(point.run, safe='')}"
    return dcc.Link(f"{point.drill}/{point.run}", href=href)


def runs_table(season: PersonSeason) -> html.Table:
    """Return every run with all its figures: what the charts show, as numbers."""
    runs: dict[tuple[str, str], dict[str, SeasonPoint]] = {}
    for trend in season.trends:
        for point in trend.points:
            runs.setdefault((point.drill, point.run), {})[trend.measure.key] = point
    ordered = sorted(runs.values(), key=lambda found: (next(iter(found.values())).day, next(iter(found.values())).run))
    measures = [t.measure for t in season.trends]
    heads = ["Run", "Day", *(m.name for m in measures)]
    body = []
    for found in ordered:
        first = next(iter(found.values()))
        cells = [html.Td(_shown(found.get(m.key))) for m in measures]
        body.append(html.Tr([html.Th(_run_link(first), scope="row"), html.Td(first.date), *cells]))
    return html.Table(
        [
            html.Caption(f"{season.name}, run by run", className="unseen"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in heads])),
            html.Tbody(body),
        ],
        className="table season-table",
    )


def _shown(point: SeasonPoint | None) -> list[Any]:
    if point is None:
        return ["-"]
    figure = point.figure
    unit = figure.unit if figure.unit not in BARE else ""
    return [
        html.Strong(amount(figure.value, unit)),
        html.Span(f"{number(figure.low)} to {number(figure.high)}", className="change"),
    ]
