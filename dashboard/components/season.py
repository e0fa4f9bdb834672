"""The parts of the pages of a season: a group's table, what cost most, a measure of a person with its runs."""

from typing import Any
from urllib.parse import quote, urlencode

from dash import dcc, html

from analyzer.seasons.model import (
    CLEAR,
    HINT,
    NONE,
    TOO_FEW,
    CauseCost,
    GroupCell,
    GroupRow,
    GroupSeason,
    Period,
    PersonSeason,
    SeasonMeasure,
    SeasonPoint,
    Trend,
)
from dashboard.wording import cause_words, counted, number


def address(path: str, period: Period | None = None, *, group: str = "", across: bool = False) -> str:
    """Return the address of a page of the season. `period`: None for the newest winter."""
    query = {"group": group} if group else {}
    if period is not None:
        query |= {"from": period.first.isoformat(), "to": period.last.isoformat()}
    if across:
        query["across"] = "yes"
    return f"{path}?{urlencode(query, quote_via=quote)}" if query else path


def person_address(name: str, period: Period | None = None) -> str:
    """Return the address of a person's season, in a period or in their newest winter."""
    return address(f"/season/{quote(name, safe='')}", period)


def group_choice(
    groups: tuple[str, ...], chosen: str, period: Period | None = None, *, across: bool = False
) -> html.Nav:
    """Return the choice of group as links; the one that is shown says so in words as well."""
    pairs = [(text, address("/season", period, group=g, across=across), g == chosen)
             for g, text in (("", "Everybody"), *((g, g) for g in groups))]  # fmt: skip
    return _choice("Group", pairs)


def season_choice(
    path: str, winters: tuple[Period, ...], shown: Period | None, *, group: str = "", across: bool = True
) -> html.Nav:
    """Return the choice of winter as links. `shown`: None where all stand side by side; `across`: offer that."""
    pairs = [(w.name, address(path, w, group=group), w == shown) for w in winters]
    if shown is not None and shown not in winters:
        pairs.append((shown.name, address(path, shown, group=group), True))
    if across:
        pairs.append(("All side by side", address(path, group=group, across=True), shown is None))
    return _choice("Season", pairs)


def _choice(title: str, pairs: list[tuple[str, str, bool]]) -> html.Nav:
    links = []
    for text, href, current in pairs:
        words = [html.Span("Shown: ", className="unseen"), text] if current else [text]
        links.append(html.Li(dcc.Link(words, href=href, className="button chosen" if current else "button")))
    return html.Nav(
        [html.Span(title, className="choose-label"), html.Ul(links)],
        className="choose season-choice",
        **{"aria-label": title},
    )


def changes_table(season: GroupSeason, period: Period | None = None) -> html.Table:
    """Return who changed how, in words: clear changes first, then likely ones; a person's page has all measures."""
    rows = []
    for row in season.rows:
        (name, *_) = _who(row, period)
        when = [f"{row.period.name}: "] if row.period is not None else []
        over = [*when, f"{counted(row.runs, 'run')} on {counted(row.days, 'day')}"]
        name.children = [*name.children, html.Span(over, className="cause-what")]
        rows.append(html.Tr([name, html.Td(_changes(row))]))
    return html.Table(
        [
            html.Caption(f"Changes over {counted(season.days, 'day')} of practice", className="unseen"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in ("Searcher", "What changed")])),
            html.Tbody(rows),
        ],
        className="table season-changes",
    )


def _changes(row: GroupRow) -> list[Any] | str:
    if row.too_few:
        return "Too few days of practice for a trend"
    if not row.changes:
        return "No clear change"
    items = [html.Li(t.sentence, className="change-clear" if t.state == CLEAR else "quiet") for t in row.changes]
    return [html.Ul(items)]


def group_table(season: GroupSeason, period: Period | None = None) -> html.Table:
    """Return the table of people by the measures that have a head for it; a person's page has all."""
    columns = [i for i, m in enumerate(season.measures) if m.head]
    heads = ["Searcher", *(["Season"] if _side_by_side(season) else []), *(season.measures[i].head for i in columns)]
    rows = [html.Tr([*_who(row, period), *(_cell(row.cells[i]) for i in columns)]) for row in season.rows]
    return html.Table(
        [
            html.Caption(f"{counted(season.runs, 'run')} on {counted(season.days, 'day')}", className="unseen"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in heads])),
            html.Tbody(rows),
        ],
        className="table season-table",
    )


def _side_by_side(season: GroupSeason) -> bool:
    return any(row.period is not None for row in season.rows)


def _who(row: GroupRow, period: Period | None) -> list[Any]:
    group = [html.Span(row.group, className="cause-what")] if row.group else []
    name = html.Th([dcc.Link(row.name, href=person_address(row.name, row.period or period)), *group], scope="row")
    return [name] if row.period is None else [name, html.Td(row.period.name)]


def _cell(cell: GroupCell) -> html.Td:
    latest = "-" if cell.latest is None else amount(cell.latest, cell.trend.measure)
    sure = " change-clear" if cell.trend.state == CLEAR else ""
    told = cell.trend.state in (CLEAR, HINT)
    said = [html.Span(change_words(cell.trend), className=f"change{sure}")] if told else []
    return html.Td([html.Strong(latest), *said])


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
                        [
                            html.Strong(name),
                            html.Span(f"{what}; in {cost.runs} of {counted(runs, 'run')}", className="cause-what"),
                        ]
                    ),
                    html.Span(facts, className="cause-s"),
                ]
            )
        )
    return html.Ol(rows, className="cause-key season-causes")


def measure_panel(trend: Trend, chart: html.Div | None) -> html.Section:
    """Return one measure of a person: the sentence, the chart, the best run. That there are too few runs for a trend
    is for the page to say, once."""
    parts: list[Any] = [html.H2(trend.measure.name)]
    if trend.state != TOO_FEW:
        parts.append(html.P(trend.sentence, className=f"season-said said-{trend.state}"))
    if chart is not None:
        parts.append(chart)
    if best := _best(trend):
        parts.append(html.P(best, className="quiet"))
    return html.Section(parts, className="panel season-measure")


def _best(trend: Trend) -> list[Any]:
    best = trend.best
    if best is None:
        return []
    point = best.point
    good = sum(trend.measure.distance(p.figure.value) == 0.0 for p in trend.points)
    if good == len(trend.points) and trend.state == NONE:
        return []  # the sentence says so
    if good > 1:
        return [f"As good as it needs to be in {good} of {counted(len(trend.points), 'run')}."]
    words = ["Best: ", _run_link(point), f", {amount(point.figure.value, trend.measure)} on {point.date}"]
    if best.next_best is None:
        return [*words, "."]
    sure = "clearly better" if best.clear else "not clearly better"
    return [*words, f"; {sure} than the next, {amount(best.next_best.figure.value, trend.measure)}."]


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
        cells = [html.Td(_shown(found.get(m.key), m)) for m in measures]
        body.append(html.Tr([html.Th(_run_link(first), scope="row"), html.Td(first.date), *cells]))
    return html.Table(
        [
            html.Caption(f"{season.name}, run by run", className="unseen"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in heads])),
            html.Tbody(body),
        ],
        className="table season-table",
    )


def _shown(point: SeasonPoint | None, measure: SeasonMeasure) -> list[Any]:
    if point is None:
        return ["-"]
    figure = point.figure
    bounds = f"{number(measure.shown(figure.low))} to {amount(figure.high, measure)}"
    return [html.Strong(amount(figure.value, measure)), html.Span(bounds, className="change")]


def amount(value: float, measure: SeasonMeasure) -> str:
    """Return a value of a measure with its unit, "1.32 times"."""
    return number(measure.shown(value)) + ("°" if measure.unit == "deg" else f" {measure.shown_unit}")
