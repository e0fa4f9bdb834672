"""The choice of runs that are held against each other, and the table of their measures and differences."""

from dash import dcc, html

from analyzer.model.figure import Figure, Measured, NotAssessable, holds_zero
from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.view_models.account import Totals, account_view, phase_totals
from dashboard.view_models.comparison import (
    ALIGNMENTS,
    LEAST,
    MOST,
    Selection,
    change_between,
    figure_of,
    measures_of,
    pressed,
    reference_of,
)
from dashboard.view_models.differences import pairs_of
from dashboard.view_models.entries import DrillEntry, RunEntry
from dashboard.view_models.practice import compared_practice
from dashboard.view_models.run_summary import JOINT_SHORT, loss_words, split_times
from dashboard.wording import (
    GROUPS,
    PHASES,
    PHASES_SHORT,
    amount,
    as_shown,
    clock,
    figure_text,
    has_no_spread,
    interval_text,
    measure_name,
    number,
    signed_clock,
)

MOST_ELSEWHERE = 12
"""Runs of other drills that are offered; our choice."""


def chooser(drill: DrillEntry, elsewhere: list[RunEntry], selection: Selection) -> html.Div:
    """Return the choice of runs, of the moment they are aligned on, and of the run the others are held against.

    `elsewhere`: runs of the same searchers in other drills, folded away; the newest of them, and those chosen.
    """
    runs = [(e.run, f"{e.searcher or e.run} ({e.called})", e.called) for e in drill.runs if e.problem is None]
    others = [
        (reference, f"{e.searcher} ({e.called}), {e.drill_name}", f"{e.called}, {e.drill_name}")
        for number, e in enumerate(elsewhere)
        if (reference := reference_of(e, drill.key)) in selection.runs or number < MOST_ELSEWHERE
    ]
    choices = html.Div(
        [
            _choice(
                f"Runs, {LEAST} to {MOST}", [_button("run", reference, text, selection) for reference, text, _ in runs]
            ),
            _choice("Aligned on", [_button("align", key, text, selection) for key, text in ALIGNMENTS.items()]),
            _choice("Held against", [_button("base", ref, short, selection) for ref, _, short in (*runs, *others)]),
        ],
        className="chooser",
    )
    return html.Div([*_offered(drill, selection), choices, *_elsewhere(others, selection)])


def _elsewhere(others: list[tuple[str, str, str]], selection: Selection) -> list[html.Details]:
    if not others:
        return []
    buttons = [_button("run", reference, text, selection) for reference, text, _ in others]
    chosen = any(reference in selection.runs for reference, _, _ in others)
    summary = html.Summary("The same searchers in other drills")
    return [html.Details([summary, html.Div(buttons, className="options")], className="more", open=chosen)]


def _offered(drill: DrillEntry, selection: Selection) -> list[html.Nav]:
    """Return links to pairs of runs of one searcher, none where nobody has two."""
    pairs = pairs_of(drill.runs)
    links = [
        dcc.Link(
            pair.words,
            href=drill.page("side-by-side") + Selection(pair.runs, selection.align, pair.runs[0]).query(),
            className="button",
        )
        for pair in pairs
    ]
    return [html.Nav([html.Span("Two runs of one searcher:"), *links], className="offered")] if pairs else []


def _choice(legend: str, buttons: list[html.Button]) -> html.Fieldset:
    return html.Fieldset([html.Legend(legend), html.Div(buttons, className="options")], className="choice")


def _button(kind: str, value: str, text: str, selection: Selection) -> html.Button:
    """Return one option; what a run can be held against is shown only while it is chosen."""
    return html.Button(
        text,
        id=ids.compare(kind, value),
        type="button",
        className=f"option option-{'many' if kind == 'run' else 'one'}",
        hidden=hidden(selection, kind, value),
        **{"aria-pressed": str(pressed(selection, kind, value)).lower()},
    )


def hidden(selection: Selection, kind: str, value: str) -> bool:
    """Return whether an option is out of the question: a run that is not chosen is held against nothing."""
    return kind == "base" and value not in selection.runs


def comparison_table(results: list[RunResult], transmitter: str, base: int) -> html.Table:
    """Return all measures of the searches for one transmitter, run by run, and how they differ from run `base`."""
    rows = []
    for group, name in GROUPS.items():
        keys = [key for g, key in measures_of(results, transmitter) if g == group]
        if keys:
            rows.append(html.Tr(html.Th(name, scope="rowgroup", colSpan=len(results) + 1), className="group"))
        for key in keys:
            found = [figure_of(r, transmitter, group, key) for r in results]
            figures = [None if f is None else as_shown(group, key, f) for f in found]
            rows.append(_row(measure_name(group, key), figures, base))
    return _table(f"Search for transmitter {transmitter}", results, base, rows)


def split_table(results: list[RunResult], base: int) -> html.Table:
    """Return the time of each phase run by run with the reference's and what was lost, and what cost each run most."""
    each = [dict(split_times(tuple(phase_totals(account_view(result))))) for result in results]
    names = list(dict.fromkeys(name for splits in each for name in splits))
    order = (JOINT_SHORT, *PHASES_SHORT.values())
    rows = [
        html.Tr([html.Th(f"{name[0].upper()}{name[1:]}", scope="row"), *[_split(splits.get(name)) for splits in each]])
        for name in sorted(names, key=order.index)
    ]
    totals = [phase_totals(account_view(result))[-1] for result in results]
    rows.append(html.Tr([html.Th("In all", scope="row"), *[_split(total) for total in totals]]))
    practice = compared_practice(results)
    rows += [_texts(title, cells) for title, cells in practice.moments]
    losses = [html.Td(loss_words(result) or "-") for result in results]
    rows.append(html.Tr([html.Th("What cost most", scope="row"), *losses]))
    head = html.Thead(html.Tr([html.Th("Phase", scope="col"), *compared_heads(results, base)]))
    return html.Table([html.Caption("Splits, min:s"), head, html.Tbody(rows)], className="table compared splits-table")


def order_table(results: list[RunResult], base: int) -> html.Table | None:
    """Return which transmitter each run found first, second and so on, and what each cost; None where there is one."""
    order = compared_practice(results).order
    if not order:
        return None
    head = html.Thead(html.Tr([html.Th("Found", scope="col"), *compared_heads(results, base)]))
    rows = [_texts(place, cells) for place, cells in order]
    caption = html.Caption("From the start, or the hit before, min:s")
    return html.Table([caption, head, html.Tbody(rows)], className="table compared splits-table")


def _texts(title: str, cells: tuple[str, ...]) -> html.Tr:
    return html.Tr([html.Th(title, scope="row"), *[html.Td(text or "-") for text in cells]])


def _split(split: Totals | None) -> html.Td:
    if split is None:
        return html.Td("-")
    lost = f", lost {signed_clock(split.lost)}" if split.lost else ""
    return html.Td(
        [
            html.Strong(clock(split.seconds)),
            html.Span(f"reference {clock(split.reference)}{lost}", className="cause-what"),
        ]
    )


def score_table(results: list[RunResult], base: int) -> html.Table:
    """Return the scores, run by run, and how they differ from run `base`."""
    keys = list(dict.fromkeys(key for r in results for key, _ in r.scores.by_phase))
    rows = [_row(PHASES.get(key, key), [dict(r.scores.by_phase).get(key) for r in results], base) for key in keys]
    return _table("Scores", results, base, rows)


def compared_heads(results: list[RunResult], base: int) -> list[html.Th]:
    """Return the heads of the runs' columns; that of `base` says that the others are held against it."""
    several = len({r.drill for r in results}) > 1
    names = [f"{r.called}, {r.drill}" if several else r.called for r in results]
    return [
        html.Th(
            [
                html.Span(str(n + 1), className=f"run-number run-number-{n + 1}"),
                f" {r.searcher or r.called}",
                html.Span(f"{names[n]}, held against" if n == base else names[n], className="cause-what"),
            ],
            scope="col",
        )
        for n, r in enumerate(results)
    ]


def _table(caption: str, results: list[RunResult], base: int, rows: list[html.Tr]) -> html.Table:
    head = html.Thead(html.Tr([html.Th("Measure", scope="col"), *compared_heads(results, base)]))
    return html.Table([html.Caption(caption), head, html.Tbody(rows)], className="table compared")


def _row(name: str, figures: list[Measured | None], base: int) -> html.Tr:
    cells = [
        _cell(figure, None if n == base else change_between(figures[base], figure), against=n != base)
        for n, figure in enumerate(figures)
    ]
    return html.Tr([html.Th(name, scope="row"), *cells])


def _cell(figure: Measured | None, change: Figure | None, *, against: bool) -> html.Td:
    if not isinstance(figure, Figure):
        why = figure.why if isinstance(figure, NotAssessable) else "not measured in this run"
        return html.Td([html.Em("not assessable"), html.Span(why, className="cause-what")], className="why")
    if has_no_spread(figure):
        return html.Td(html.Strong(figure_text(figure)))  # without an interval no difference can be called clear
    parts = [html.Strong(figure_text(figure)), html.Span(interval_text(figure), className="cause-what")]
    if against:
        parts.append(_change(change))
    return html.Td(parts)


def _change(change: Figure | None) -> html.Span:
    """Return a difference in words and with a sign; one that uncertainty may have made is called so."""
    if change is None:
        return html.Span("no difference can be told", className="change")
    if holds_zero(change):
        return html.Span("≈ no clear difference", className="change")
    sign, word = ("▲", "more") if change.value > 0.0 else ("▼", "less")
    least, most = sorted((abs(change.low), abs(change.high)))
    return html.Span(
        [
            f"{sign} {amount(abs(change.value), change.unit)} {word}",
            html.Span(f"{number(least)} to {amount(most, change.unit)}", className="cause-what"),
        ],
        className="change change-clear",
    )
