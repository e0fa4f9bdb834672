"""The answer first: what a run cost, and the findings that cost most."""

from typing import Any

from dash import html

from analyzer.model.account import Finding
from analyzer.model.figure import Figure, value_of
from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.view_models.account import JOINT, account_view, not_found, unremarked_loss, without_remark
from dashboard.view_models.coach import reasons_of
from dashboard.view_models.order import costliest
from dashboard.view_models.selection import Window, widened
from dashboard.wording import PHASES, SEVERITIES, clock, figure_text, interval_text, saving_text, seconds_interval, span

FIRST = 3
ALL_ASIDE = "The coach set aside what was found in this run: see the coach's words."
OPEN = "Nobody is blamed for these. Talk the moment over, or look at a film, before any of them is called a fault."


def headline(result: RunResult) -> html.P:
    """Return how long the run took, what the reference searcher needs, what was lost, gained, and not found."""
    view = account_view(result)
    joint = any(line.cause == JOINT for line in view.lines)
    words: list[Any] = [html.Strong(clock(view.seconds)), " in all. The reference searcher needs "]
    words += [html.Strong(clock(view.reference)), " for what could be assessed; " if joint else "; "]
    words += [html.Strong(clock(view.lost)), " were lost and ", html.Strong(clock(view.gained)), " gained against it"]
    if view.nobody:
        more = "more" if view.nobody > 0 else "less"
        words += ["; ", html.Strong(clock(abs(view.nobody))), f" {more} cannot be given to a cause"]
    missing = not_found(result)
    return html.P([*words, ".", *([" ", html.Strong(missing)] if missing else [])], className="big headline")


def finding_list(result: RunResult, window: Window | None) -> html.Div:
    """Return up to three findings in full and the others folded away; each moves all views to its window.

    Where no finding speaks of the largest loss, a sentence does.
    """
    findings, unsaid = costliest(result.findings), unremarked_loss(result)
    loss = [html.P(unsaid, className="unremarked")] if unsaid else []
    doubtful = _in_doubt(result)
    if not findings:
        nothing = [] if unsaid else [html.P(without_remark(result), className="big")]
        return html.Div([*nothing, *loss, *doubtful])
    aside = reasons_of(result.words, findings)
    items = [_card(finding, number, window) for number, finding in enumerate(findings) if finding.id not in aside]
    if not items:
        return html.Div([html.P(ALL_ASIDE, className="big"), *loss, *doubtful])
    more = (
        [
            html.Details(
                [html.Summary(f"{len(items) - FIRST} more"), html.Ol(items[FIRST:], start=FIRST + 1)], className="more"
            )
        ]
        if len(items) > FIRST
        else []
    )
    return html.Div([html.Ol(items[:FIRST]), *more, *loss, *doubtful], className="findings")


def _in_doubt(result: RunResult) -> list[html.Details]:
    """Return what may have been so, folded away: no button, no seconds, nothing that reads like a finding."""
    if not result.possible:
        return []
    lines = [html.Li(f"{finding.text} ({100.0 * finding.probability:.0f} % likely)") for finding in result.possible]
    count = len(lines)
    title = f"{count} thing{'s' if count > 1 else ''} that the evidence leaves open"
    return [html.Details([html.Summary(title), html.P(OPEN), html.Ul(lines)], className="more in-doubt")]


def _card(finding: Finding, number: int, window: Window | None) -> html.Li:
    """Return one finding as one large button."""
    shown = widened(finding.from_s, finding.to_s)
    pressed = window is not None and window.matches(shown.from_s, shown.to_s)
    where = f"{PHASES[finding.phase]}{f', transmitter {finding.transmitter}' if finding.transmitter else ''}"
    cost = [html.Span(saving_text(finding.saving_s), className="cost-value")]
    known = isinstance(finding.saving_s, Figure)
    below = f"90 %: {seconds_interval(finding.saving_s)}" if known else finding.saving_s.why
    cost.append(html.Span(below, className="cost-range"))
    body = [
        html.Span(cost, className="cost"),
        html.Span(
            [
                html.Span(finding.text, className="finding-text"),
                html.Span(
                    [
                        html.Span(
                            SEVERITIES.get(finding.severity, finding.severity), className=f"tag tag-{finding.severity}"
                        ),
                        f" {where}, {span(finding.from_s, finding.to_s)}",
                    ],
                    className="finding-where",
                ),
            ],
            className="finding-body",
        ),
    ]
    button = html.Button(
        body,
        id=ids.show_window("finding", number),
        className="finding",
        type="button",
        **{"aria-pressed": str(pressed).lower()},
    )
    return html.Li(button)


def scores_row(result: RunResult) -> html.Dl:
    """Return the scores with their intervals; a phase without one says why."""
    cells = []
    for key, score in result.scores.by_phase:
        known = value_of(score) is not None
        label = figure_text(score) if known else "not assessable"
        cells.append(
            html.Div(
                [
                    html.Dt(PHASES.get(key, key)),
                    html.Dd(label, className="score-value" if known else "score-none"),
                    html.Dd(interval_text(score), className="score-range"),
                ],
                className=f"score score-{key}",
            )
        )
    return html.Dl(cells, className="scores")
