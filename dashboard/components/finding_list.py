"""The answer first: what a run cost, and the findings that cost most."""

from typing import Any

from dash import html

from analyzer.model.figure import Figure, value_of
from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.view_models.account import JOINT, account_view, not_found, unremarked_loss, without_remark
from dashboard.view_models.losses import NUMBERED, Loss, losses
from dashboard.view_models.selection import Window, widened
from dashboard.wording import PHASES, clock, figure_text, interval_text, saving_text, seconds_interval, span

ALL_ASIDE = "The coach set aside what was found in this run: see the coach's words."
OPEN = "Nobody is blamed for these. Talk the moment over, or look at a film, before any of them is called a fault."


def headline(result: RunResult) -> html.P:
    """Return how long the run took, what the reference searcher needs, what was lost, gained, and not found."""
    view = account_view(result)
    joint = sum(line.seconds for line in view.lines if line.cause == JOINT)
    words: list[Any] = [html.Strong(clock(view.seconds)), " in all. "]
    if joint:
        words += ["Signal and coarse search, ", html.Strong(clock(joint)), " of it, could not be assessed. "]
    words += ["The reference searcher needs ", html.Strong(clock(view.reference)), " for the rest" if joint else ""]
    if view.lost or view.gained or not view.nobody:
        words += ["; ", html.Strong(clock(view.lost)), " were lost and ", html.Strong(clock(view.gained))]
        words.append(" gained against it")
    unknown = view.nobody - joint
    if unknown:
        more = "more" if unknown > 0 else "less"
        words += ["; for ", html.Strong(clock(abs(unknown))), f" {more} no cause is known"]
    missing = not_found(result)
    return html.P([*words, ".", *([" ", html.Strong(missing)] if missing else [])], className="big headline")


def finding_list(result: RunResult, window: Window | None) -> html.Div:
    """Return up to three losses in full, numbered as on the plan, and the others folded away.

    Each moves all views to its window. A loss that has no place in time stands as a sentence.
    """
    cards = losses(result)
    unsaid = unremarked_loss(result)
    placed = any(loss.finding is None for loss in cards)
    loss = [html.P(unsaid, className="unremarked")] if unsaid and not placed else []
    if not cards:
        alone = ALL_ASIDE if result.findings else "" if unsaid else without_remark(result)
        return html.Div([*([html.P(alone, className="big")] if alone else []), *loss])
    items = [_card(one, number, window) for number, one in enumerate(cards, start=1)]
    more = (
        [html.Details([html.Summary(f"{len(items) - NUMBERED} more"), html.Ul(items[NUMBERED:])], className="more")]
        if len(items) > NUMBERED
        else []
    )
    return html.Div([html.Ul(items[:NUMBERED]), *more, *loss], className="findings")


def in_doubt(result: RunResult) -> html.Div | None:
    """Return what may have been so: no button, no seconds, nothing that reads like a finding; None without any."""
    if not result.possible:
        return None
    lines = [html.Li(f"{finding.text} ({100.0 * finding.probability:.0f} % likely)") for finding in result.possible]
    return html.Div([html.P(OPEN), html.Ul(lines)], className="in-doubt")


def _card(loss: Loss, number: int, window: Window | None) -> html.Li:
    """Return one loss as one large button; those after the third have no number on the plan, and none here."""
    bounds = min(a for a, _ in loss.windows), max(b for _, b in loss.windows)
    shown = widened(*bounds)
    pressed = window is not None and window.matches(shown.from_s, shown.to_s)
    known = isinstance(loss.cost, Figure)
    below = f"90 %: {seconds_interval(loss.cost)}" if known else f"{loss.cost.why[:1].upper()}{loss.cost.why[1:]}"
    name = [html.Span(str(number), className="loss-number")] if number <= NUMBERED else []
    head = [
        *name,
        html.Span(loss.title, className="loss-title"),
        html.Span(saving_text(loss.cost), className="cost-value" if known else "cost-none"),
    ]
    body = [
        html.Span(head, className="loss-head"),
        html.Span(loss.text, className="finding-text"),
        html.Span(f"{_where(loss)}{span(*bounds)}. {below}", className="finding-where"),
    ]
    button = html.Button(
        body,
        id=ids.show_window(loss.place, loss.button),
        className="finding",
        type="button",
        **{"aria-pressed": str(pressed).lower()},
    )
    return html.Li(button)


def _where(loss: Loss) -> str:
    if loss.finding is None:
        return ""
    transmitter = f", transmitter {loss.finding.transmitter}" if loss.finding.transmitter else ""
    return f"{PHASES[loss.finding.phase]}{transmitter}, "


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
