"""The rule sheet as a form, the list of sheets to start from, and what a sheet does to the runs of a drill."""

from typing import Any

from dash import dcc, html

from analyzer.model import measures
from analyzer.model.account import Scores
from analyzer.model.figure import Figure, value_of
from analyzer.model.phases import PHASES as PHASE_KEYS
from analyzer.model.rules import Rules
from dashboard import ids
from dashboard.components.sheet_in_force import put_button
from dashboard.view_models.entries import PreviewRow, SheetEntry
from dashboard.view_models.rule_form import KNOTS, LENGTHS, NUMBERS, PACES, TIMES, Form, form_of
from dashboard.wording import PHASES, measure_name, number

COLUMNS = ("overall", *PHASE_KEYS)


def sheet_list(entries: tuple[SheetEntry, ...], chosen: str, page: str, in_force: str | None = None) -> html.Ul:
    """Return the sheets as links that open the page with one of them.

    `chosen`: hash of the one that is open. `in_force`: of the one in force, None where no other one can be put there.
    """
    return html.Ul([html.Li(_sheet(entry, chosen, page, in_force)) for entry in entries], className="sheets")


def _sheet(entry: SheetEntry, chosen: str, page: str, in_force: str | None) -> Any:
    if entry.problem:
        return html.Div([html.Strong(entry.place), f" cannot be used: {entry.problem}"], className="run broken")
    words = [
        html.Strong(f"{entry.name}, version {entry.version}"),
        html.Span(f"{entry.sha256[:8]}, {entry.place}", className="quiet"),
    ]
    current = {"aria-current": "true"} if entry.sha256 == chosen else {}
    return html.Div(
        [
            dcc.Link(words, href=f"{page}?sheet={entry.sha256[:16]}", className="sheet", refresh=False)
            if not current
            else html.Div([*words, html.Span("open", className="tag")], className="sheet sheet-open", **current),
            *_force(entry, in_force),
            html.A(
                "Download",
                href=f"/rule-sheet/{entry.sha256}",
                download=True,
                **{"aria-label": f"Download {entry.name}, version {entry.version}"},
            ),
        ],
        className="sheet-line",
    )


def _force(entry: SheetEntry, in_force: str | None) -> list[Any]:
    """Return the word that a sheet is in force, or the button that puts it there."""
    if in_force is None:
        return []
    if entry.sha256 == in_force:
        return [html.Span("in force", className="tag")]
    return [put_button(entry, "list", "Put in force")]


def rule_form(rules: Rules) -> html.Div:
    """Return the fields of a sheet."""
    form = form_of(rules)
    return html.Div(
        [
            _fields("Reference searcher", [_numbered(key, form) for key in PACES]),
            html.Fieldset([html.Legend("Pace in coarse search"), _knots(form)], className="choice"),
            _fields("Radius and bracket", [_numbered(key, form) for key in LENGTHS]),
            _fields("After the hit, and without one", [_numbered(key, form) for key in TIMES]),
            html.Fieldset([html.Legend("Points off for measures, kept"), _deductions(rules)], className="choice kept"),
        ],
        className="rule-form",
    )


def _fields(legend: str, content: list[Any]) -> html.Fieldset:
    return html.Fieldset([html.Legend(legend), *content], className="choice")


def _numbered(key: str, form: Form) -> html.Label:
    text, unit = NUMBERS[key]
    return _field(key, text, form, unit)


def _field(key: str, label: str, form: Form, unit: str) -> html.Label:
    return html.Label(
        [html.Span(label), html.Span([_input(key, form), html.Span(unit, className="unit")], className="with-unit")],
        className="field",
    )


def _input(key: str, form: Form) -> dcc.Input:
    return dcc.Input(id=ids.rule_field(key), type="number", value=form[key], step="any", debounce=True)


def _knots(form: Form) -> html.Table:
    """Return the rows of range and pace; between them the pace goes straight."""
    head = html.Tr([html.Th("Range, m", scope="col"), html.Th("Pace, m/s", scope="col")])
    rows = [
        html.Tr(
            [
                html.Td(html.Label([html.Span(f"{word} {i + 1}", className="unseen"), _input(f"{key}_{i}", form)]))
                for key, word in (("range", "Range"), ("pace", "Pace"))
            ]
        )
        for i in range(KNOTS)
    ]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="table knots")


def _deductions(rules: Rules) -> html.Ul:
    items = []
    for item in rules.deductions:
        group, key = item.measure.split(".", 1)
        sense = "above" if item.points_per_unit > 0 else "below"
        name, measure = measure_name(group, key), measures.measure_of(group, key)
        # Shares, ratios and counts are bare numbers, in the sheet too.
        unit = measure.unit if measure is not None and measure.unit != "1" else ""
        points = f"{abs(item.points_per_unit):g} points for each {unit or 'unit'} {sense} {item.free:g} {unit}".rstrip()
        items.append(html.Li(f"{name}: {points}, at most {item.at_most:g} ({PHASES[item.phase].lower()})"))
    return html.Ul(items or [html.Li("none")], className="files")


def preview_table(rows: tuple[PreviewRow, ...]) -> html.Div:
    """Return the scores of the runs as they are and by the new sheet, with their places by overall score."""
    before, after = _places([r.before for r in rows]), _places([r.after for r in rows])
    heads = ["Run", "Place", *(PHASES[key] for key in COLUMNS)]
    body = [
        html.Tr(
            [
                html.Th([row.searcher or row.run, html.Span(row.run, className="cause-what")], scope="row"),
                html.Td(_place(before[i], after[i])),
                *(
                    [html.Td(row.problem, colSpan=len(COLUMNS), className="why")]
                    if row.after is None
                    else [html.Td(_change(row.before, row.after, key)) for key in COLUMNS]
                ),
            ]
        )
        for i, row in enumerate(rows)
    ]
    table = html.Table(
        [
            html.Caption("Scores as measured, and by this sheet"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in heads])),
            html.Tbody(body),
        ],
        className="table compared preview",
    )
    return html.Div(table, className="scroll", tabIndex="0", role="region", **{"aria-label": "Scores by this sheet"})


def _places(scores: list[Scores | None]) -> list[int | None]:
    """Return the place of each run by overall score to the tenth, equal scores sharing one; None without a score."""
    overall = [None if s is None else value_of(dict(s.by_phase)["overall"]) for s in scores]
    shown = [None if value is None else round(value, 1) for value in overall]
    return [None if value is None else 1 + sum(v > value for v in shown if v is not None) for value in shown]


def _place(before: int | None, after: int | None) -> list[Any]:
    words = "-" if after is None else str(after)
    return [html.Strong(words), *([] if before == after else [html.Span(f"was {before or '-'}", className="change")])]


def _change(before: Scores, after: Scores, key: str) -> list[Any]:
    was, now = dict(before.by_phase).get(key), dict(after.by_phase).get(key)
    if not isinstance(now, Figure):
        return [html.Em("not assessable")]
    parts: list[Any] = [
        html.Strong(number(now.value)),
        html.Span(f"{number(now.low)} to {number(now.high)}", className="cause-what"),
    ]
    moved = now.value - was.value if isinstance(was, Figure) else 0.0
    if abs(moved) < 0.05:
        return [*parts, html.Span("unchanged", className="change")]
    sign = "▲" if moved > 0.0 else "▼"
    return [*parts, html.Span(f"{sign} {number(abs(moved))}", className="change change-clear")]
