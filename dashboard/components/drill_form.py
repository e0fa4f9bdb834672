"""The form of a drill, and beside its plan: what a click sets, how hard the drill is, and where it is saved."""

from typing import Any
from urllib.parse import quote

from dash import dcc, html

from analyzer.model.difficulty import DrillDifficulty
from analyzer.model.drill import Drill
from dashboard import ids
from dashboard.components.shell import notice
from dashboard.view_models.difficulty_words import STALE, around_line, headline, search_line, time_line, warnings
from dashboard.view_models.drill_form import NEGATIVE, NUMBERS, TEXTS, TRANSMITTER, Form, label_of, rows
from dashboard.wording import counted

HINTS = {
    "date": "like 2026-02-14",
    "start": "like 2026-02-14T09:30:00+01:00",
    "reach_m": "empty: half the strip width",
    "aspect_deg": "180 faces south",
    "angle_deg": "0 is level",
}


def drill_form(form: Form) -> list[Any]:
    """Return the fields of the whole drill; what is rarely changed is folded away."""
    return [
        _group("The drill", *_fields(form, "name", "date")),
        _group("The slope", *_fields(form, "angle_deg", "aspect_deg")),
        _group("The start of the search", *_fields(form, "start_east", "start_north")),
        html.Div(
            [
                html.H3("Transmitters"),
                html.Div(transmitter_rows(form), id=ids.LAY_ROWS),
                html.Div(
                    [
                        html.Button("Add a transmitter", id=ids.LAY_ADD, type="button", className="button"),
                        html.Button(
                            "Take waypoints from a GPX file", id=ids.LAY_GPX_OPEN, type="button", className="button"
                        ),
                        # Its own field has no name that screen readers could speak: the button opens it.
                        html.Div(dcc.Upload(id=ids.LAY_GPX, accept=".gpx"), hidden=True),
                    ],
                    className="lay-buttons",
                ),
                _error("transmitters"),
                html.Div(id=ids.LAY_SAID, role="status"),
            ]
        ),
        _group("The area", _corners(form), *_fields(form, "strip_width_m")),
        _group("The origin: where 0, 0 is on the map", *_fields(form, "latitude", "longitude", "elevation_m")),
        html.Details(
            [
                html.Summary("Start time, time limit, range of the signal"),
                *_fields(form, "start", "time_limit_s", "reach_m"),
            ],
            className="more",
        ),
        _error("all"),
    ]


def _group(legend: str, *content: Any) -> html.Fieldset:
    return html.Fieldset([html.Legend(legend), *content], className="choice")


def _fields(form: Form, *keys: str) -> list[html.Div]:
    return [_field(key, *(NUMBERS | TEXTS)[key], form) for key in keys]


def _field(key: str, label: str, unit: str, form: Form) -> html.Div:
    """Return one field with its unit, a hint, and the line that says what is wrong with it."""
    box = dcc.Input(
        id=ids.lay_field(key),
        type="text",
        value=form.get(key, ""),
        maxLength=120,
        autoComplete="off",
        inputMode=_keyboard(key),
        className="lay-text" if key in ("name", "date", "start") else "",
    )
    hint = HINTS.get(key.rpartition(".")[2])
    words = [html.Span(label), *([html.Span(hint, className="hint")] if hint else [])]
    return html.Div(
        [
            html.Label(
                [html.Span(words), html.Span([box, html.Span(unit, className="unit")], className="with-unit")],
                className="field",
            ),
            _error(key),
        ]
    )


def _keyboard(key: str) -> str:
    """Return which keyboard a phone offers for a field: that for numbers where no minus may be needed."""
    own = key.rpartition(".")[2]
    return "decimal" if own in NUMBERS | TRANSMITTER and own not in (*NEGATIVE, "id") else "text"


def _error(key: str) -> html.P:
    return html.P(id=ids.lay_error(key), className="wrong", **{"aria-live": "polite"})


def _corners(form: Form) -> html.Div:
    box = dcc.Textarea(
        id=ids.lay_field("corners"),
        value=form["corners"],
        rows=5,
        className="lay-corners",
        maxLength=4000,
        spellCheck=False,
    )
    words = [
        html.Span("Corners, in order around it"),
        html.Span("east, north in metres, one corner on each line; like 60, 80 or 60,5; 80,25", className="hint"),
    ]
    return html.Div([html.Label([html.Span(words), box], className="field field-tall"), _error("corners")])


def transmitter_rows(form: Form) -> list[html.Fieldset]:
    """Return the fields of all transmitters."""
    return [_transmitter(form, number) for number in rows(form)]


def _transmitter(form: Form, number: int) -> html.Fieldset:
    def fields(*keys: str) -> list[html.Div]:
        return [_field(f"t{number}.{key}", *TRANSMITTER[key], form) for key in keys]

    name = form[f"t{number}.id"].strip()
    return html.Fieldset(
        [
            html.Legend(f"Transmitter {name}" if name else "Transmitter"),
            html.Div(
                fields("id", "depth_m", "east_m", "north_m", "axis_bearing_deg", "axis_tilt_deg"), className="lay-pair"
            ),
            html.P("Antenna: bearing from north, tilt above level. Leave both empty where unknown.", className="hint"),
            html.Details(
                [
                    html.Summary("Latitude and longitude instead, accuracy"),
                    html.Div(fields("latitude", "longitude", "position_sigma_m"), className="lay-pair"),
                ],
                className="more",
            ),
            html.Button(f"Remove {name}".strip(), id=ids.lay_remove(number), type="button", className="link-button"),
        ],
        className="choice",
        id=f"lay-t{number}",
    )


def pick_buttons(form: Form, target: str) -> list[html.Button]:
    """Return the buttons that say what a click on the plan sets; `target` is the one that holds."""
    known = [(f"t{n}", form[f"t{n}.id"].strip() or "no name") for n in rows(form)]
    choices = [("start", "Start"), *known, ("new", "New transmitter"), ("corner", "Next corner")]
    held = target if target in dict(choices) else "start"
    return [
        html.Button(
            text,
            id=ids.lay_pick(what),
            type="button",
            className="option option-one",
            **{"aria-pressed": str(what == held).lower()},
        )
        for what, text in choices
    ]


def answer(drill_difficulty: DrillDifficulty) -> list[Any]:
    """Return in words how hard the drill is from its start."""
    return [
        html.P(headline(drill_difficulty), className="lay-headline"),
        html.P(time_line(drill_difficulty), className="big"),
    ]


def details(drill: Drill, drill_difficulty: DrillDifficulty) -> list[Any]:
    """Return how the search goes from the start, what each transmitter is like from all sides, and what to check."""
    return [
        html.Ul(
            [html.Li(search_line(s, drill_difficulty.reach_m)) for s in drill_difficulty.searches],
            className="lay-lines",
        ),
        html.Ul(
            [html.Li(around_line(a, drill_difficulty.reach_m)) for a in drill_difficulty.around],
            className="lay-lines quiet",
        ),
        *[notice(text) for text in warnings(drill, drill_difficulty)],
    ]


def mend(errors: dict[str, str], form: Form) -> list[Any]:
    """Return what has to be mended before the plan can follow."""
    return [
        notice(STALE),
        html.Ul(
            [html.Li([html.Strong(f"{label_of(key, form)}: "), words]) for key, words in errors.items()],
            className="lay-lines",
        ),
    ]


def download_link(data: bytes | None) -> Any:
    """Return the link that takes the file away; a word where there is none."""
    if data is None:
        return html.P("There is no file to download while a field is wrong.", className="quiet")
    address = "data:application/toml;charset=utf-8," + quote(data.decode("utf-8"))
    return html.A("Download drill.toml", href=address, download="drill.toml", className="button")


def save_buttons(key: str) -> list[html.Button]:
    """Return the buttons that save; `key`: the folder of the drill that is open, empty for a new one."""
    return [
        html.Button("Save this drill", id=ids.lay_save("own"), type="button", className="button lay-save"),
        html.Button("Save as another drill", id=ids.lay_save("new"), type="button", className="button", hidden=not key),
    ]


def question(text: str) -> html.Div:
    """Return a question that has to be answered before a drill with runs is changed."""
    sure = html.Button("Yes, change it", id=ids.lay_save("sure"), type="button", className="button")
    other = html.P("Or give it another name above and press “Save as another drill”: then nothing is changed.")
    return html.Div([notice(text), sure, other])


def said_saved(key: str, runs: int) -> html.Div:
    """Return the words for a drill that was saved; its `runs` are being measured."""
    words: list[Any] = [f"Saved: drills/{key}/drill.toml."]
    if runs:
        link = dcc.Link(
            f"Its {counted(runs, 'run')} {'is' if runs == 1 else 'are'} measured now: what moved",
            href=f"/measured/{key}",
        )
        words += [" ", link, "."]
    onward = html.Div(
        [
            dcc.Link("Load runs of this drill", href=f"/load?drill={quote(key, safe='')}", className="button"),
            plan_link(key),
        ],
        className="lay-buttons",
    )
    return html.Div([html.P(words, className="notice", role="status"), onward])


def plan_link(key: str) -> dcc.Link:
    """Return the link to the laying plan of a drill as it is saved."""
    return dcc.Link("Laying plan, for the instructor", href=f"/laying-plan/{quote(key, safe='')}", className="button")
