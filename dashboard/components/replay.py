"""The replay of a run: two canvases, buttons and read-outs; `assets/replay.js` moves them without the server."""

from typing import Any

from dash import dcc, html

from dashboard import ids
from dashboard.components.ground import ground_switch

SPEEDS = (1, 2, 4, 8, 16)
VIEWS = (("run", "Whole run"), ("40", "40 m across"), ("12", "12 m across"))
STARTS = (("run", "with the run"), ("phase", "with every phase"))
READOUTS = (
    ("time", "Time"),
    ("phase", "Phase"),
    ("reading", "Reading"),
    ("range", "Range from the path"),
    ("pace", "Pace"),
    ("known", "Place known to (90 %)"),
    ("reference", "Reference searcher"),
)
PLAN_LABEL = "Plan with the searcher and the reference searcher; in words beside it"
LINE_LABEL = "Range and readings over the run with its phases; choose a moment below"
KEYS = "Space plays and pauses, left and right arrow step a second (with Shift ten), Home and End, plus and minus."


def replay_player(data: dict[str, Any]) -> html.Div:
    """Return the player; `data` as `dashboard.figures.replay.replay_data` gives it, sent once."""
    return html.Div(
        [
            dcc.Store(id=ids.REPLAY_DATA, data=data),
            html.Div(id=ids.REPLAY_READY, hidden=True),
            _controls(ground=data.get("under") is not None),
            html.P(KEYS, className="panel-note replay-keys"),
            html.Div(className="replay-film"),  # the script adds a film of this machine: `assets/film_beside.js`
            html.Div(
                [
                    html.Div(_canvas("plan", PLAN_LABEL), className="replay-stage"),
                    html.Div(
                        [_canvas("line", LINE_LABEL), html.Div(className="replay-seek")],  # the script adds its slider
                        className="replay-below",
                    ),
                    html.Div([_readouts(), _key()], className="replay-side"),
                ],
                className="replay-views",
            ),
            *_credit(data),
            html.P("", className="replay-said", role="status"),
        ],
        id=ids.REPLAY,
        className="replay",
    )


def _credit(data: dict[str, Any]) -> list[html.P]:
    """Return whose the picture of the ground is."""
    credit = (data.get("under") or {}).get("credit")
    return [html.P(credit, className="quiet")] if credit else []


def _canvas(name: str, label: str) -> html.Canvas:
    return html.Canvas(className=f"replay-{name}", role="img", **{"aria-label": label})


def _controls(*, ground: bool) -> html.Div:
    return html.Div(
        [
            _button("play", "Play"),
            _button("back", "Back 1 s"),
            _button("step", "On 1 s"),
            _choice("speed", "Speed", tuple((str(n), f"{n} times") for n in SPEEDS)),
            _choice("view", "View", VIEWS),
            _choice("start", "Reference starts", STARTS),
            *([ground_switch()] if ground else []),
        ],
        className="replay-controls",
    )


def _button(name: str, label: str) -> html.Button:
    return html.Button(label, type="button", className=f"button replay-{name}")


def _choice(name: str, label: str, options: tuple[tuple[str, str], ...]) -> html.Label:
    chosen = [html.Option(text, value=value) for value, text in options]
    return html.Label([label, html.Select(chosen, className=f"replay-{name}")], className="replay-choice")


def _readouts() -> html.Dl:
    return html.Dl(
        [
            html.Div([html.Dt(label), html.Dd("-", className=f"replay-{key}")], className=f"read read-{key}")
            for key, label in READOUTS
        ],
        className="readouts",
    )


def _key() -> html.Ul:
    """Return the key of the figures, by shape as well as by colour."""
    marks = (
        ("searcher", "searcher, filled; the ring holds the place in nine cases of ten"),
        ("reference", "reference searcher, hollow square"),
        ("transmitter", "transmitter, star; its ring likewise"),
        ("ideal", "field line and ideal bracket"),
        ("finding", "over time, by number: the findings that cost most"),
    )
    return html.Ul(
        [html.Li([html.Span(className=f"mark mark-{name}", **{"aria-hidden": "true"}), text]) for name, text in marks],
        className="replay-key",
    )
