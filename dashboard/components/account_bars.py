"""The account as signed bars: lost against the reference searcher to the right, gained to the left."""

from dash import html

from analyzer.model.result import RunResult
from dashboard.view_models.account_steps import GAINED, LOST, NOBODYS, AccountStep, account_steps
from dashboard.view_models.splits import answer_words
from dashboard.wording import clock, signed_clock

KEY = ((GAINED, "gained"), (LOST, "lost"), (NOBODYS, "nobody's: no cause can be named"))


def account_bars(result: RunResult) -> html.Div:
    """Return a row for the reference, one for each cause, and one for this run; the seconds add up."""
    account = account_steps(result)
    kinds = {step.kind for step in account.steps}
    key = [
        html.Span(
            [html.Span(className=f"step-bar step-{kind}", **{"aria-hidden": "true"}), words], className="step-key"
        )
        for kind, words in KEY
        if kind in kinds
    ]
    return html.Div(
        [
            html.P(answer_words(result)),
            html.P(key, className="step-keys"),
            html.Ul(
                [
                    _whole("The reference searcher", account.reference),
                    *[_row(step, account.zero) for step in account.steps],
                    _whole("This run", account.seconds),
                ],
                className="account-bars",
            ),
        ]
    )


def _whole(title: str, seconds: int) -> html.Li:
    return html.Li(
        [html.Strong(title, className="step-title"), html.Strong(clock(seconds), className="step-time")],
        className="step-whole",
    )


def _row(step: AccountStep, zero: float) -> html.Li:
    place = {"left": f"{step.left:.2f}%", "width": f"{step.width:.2f}%"}
    bars = [
        html.Span(className=f"step-bar step-{step.kind}", style=place),
        html.Span(className="step-zero", style={"left": f"{zero:.2f}%"}),
    ]
    return html.Li(
        [
            html.Span([step.title, html.Span(step.where, className="cause-what")], className="step-title"),
            html.Span(bars, className="step-room", **{"aria-hidden": "true"}),
            html.Strong(signed_clock(step.seconds), className="step-time"),
        ]
    )
