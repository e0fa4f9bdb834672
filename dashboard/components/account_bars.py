"""The account as signed bars: lost against the reference searcher to the right, gained to the left."""

from dash import html

from analyzer.model.result import RunResult
from dashboard.view_models.account_steps import GAINED, LOST, NOBODYS, AccountStep, AccountSteps, account_steps
from dashboard.view_models.losses import dearest_transmitter
from dashboard.view_models.splits import answer_words
from dashboard.wording import clock, signed_clock

KEY = ((GAINED, "gained"), (LOST, "lost"), (NOBODYS, "nobody's: no cause can be named"))


def account_bars(result: RunResult) -> html.Div:
    """Return a row for the reference, one for each cause, and one for this run; the seconds add up.

    Of several transmitters, the rows of all but that with the dearest loss are folded away under their sum.
    """
    account = account_steps(result)
    kinds = {step.kind for step in account.steps}
    key = [
        html.Span(
            [html.Span(className=f"step-bar step-{kind}", **{"aria-hidden": "true"}), words], className="step-key"
        )
        for kind, words in KEY
        if kind in kinds
    ]
    searched = list(dict.fromkeys(step.transmitter for step in account.steps))
    rows = [html.Ul([_row(step, account.zero) for step in account.steps], className="account-bars")]
    if len(searched) > 1:
        open_ = dearest_transmitter(result)
        rows = [_of_one(name, account, folded=name != open_) for name in searched]
    first, last = _whole("The reference searcher", account.reference), _whole("This run", account.seconds)
    ends = [html.Ul([row], className="account-bars") for row in (first, last)]
    return html.Div([html.P(answer_words(result)), html.P(key, className="step-keys"), ends[0], *rows, ends[1]])


def _of_one(transmitter: str, account: AccountSteps, *, folded: bool) -> html.Div | html.Details:
    """Return the steps of the search for one of several transmitters, folded away or under their sum."""
    steps = [step for step in account.steps if step.transmitter == transmitter]
    title = f"Transmitter {transmitter}: " if transmitter else "No transmitter: "
    total = signed_clock(sum(step.seconds for step in steps))
    rows = html.Ul([_row(step, account.zero) for step in steps], className="account-bars")
    if folded:
        return html.Details([html.Summary([title, total]), rows], className="more steps-of-one")
    return html.Div([html.P(html.Strong([title, total]), className="steps-total"), rows], className="steps-of-one")


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
