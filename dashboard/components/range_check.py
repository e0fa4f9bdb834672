"""The page of a range check: what to do outside, rows of looks, what they tell, and the drill to use it in."""

from collections.abc import Mapping
from typing import Any

from dash import dcc, html

from analyzer.model.figure import Figure, Measured
from analyzer.model.range_check import RangeCheck
from dashboard.components.run_fields import field_id, hidden, select
from dashboard.components.shell import panel
from dashboard.view_models.range_check import LONGEST_NAME, NOTHING, ORIENTATION_WORDS, START, row_count

HOW = (
    "Lay out one transmitter, and a tape from it over level ground. No other one sends. Phones and radios are away: "
    "common practice is 50 cm from a receiver that searches, 20 cm from a transmitter.",
    "Walk out along the tape. Every few metres stand, hold the receiver level, note the distance and what it shows.",
    "Walk on until nothing is shown, and note those looks too: without them no range can be told.",
    "Turn the transmitter and walk again: coaxial (along the tape), broadside (level, square to it). Three walks or "
    "more; give each its own name.",
)
HOLDS = (
    "This holds for the receiver with the transmitter that you used: one may send several times as strong as another. "
    "Use one that you lay out in the drill."
)
WIDTH = (
    "Strip width: twice the low end of the usable range, in whole metres. That the useful range is half the strip "
    "width is a recommendation of the International Commission for Alpine Rescue (2006, since under revision). That "
    "the low end is taken is our own choice."
)
USABLE = (
    "Usable range: within it nine looks in ten show a reading, from one walk to the next, with the transmitter "
    "broadside: the worse way it can lie for a receiver with three antennas."
)
USED_FOR = (
    "Runs that name this receiver are fitted from its reading scale on, and their signal search is judged by its strip "
    "width. The drill.toml as it is now goes into the bin."
)


def range_form(values: Mapping[str, str], check: RangeCheck | None, drills: list[tuple[str, str, str]]) -> list[Any]:
    """Return the parts of the page. `drills`: key, name and SHA-256 of drill.toml of each drill that can be used."""
    values = START | dict(values)
    steps = html.Ol([html.Li(step) for step in HOW])
    typed = panel("What the receiver showed", _heights(values), _table(values), _buttons())
    told = [panel("What this tells", *_told(check))] if check is not None else []
    use = [panel("Use it in a drill", _use(values, drills), note=USED_FOR)] if check is not None and drills else []
    form = html.Form(
        [hidden("rows", str(row_count(values))), typed, *told, *use],
        action="/range-check/send",
        method="post",
        className="load-form range-form",
    )
    return [panel("How to walk it", steps, html.P(HOLDS)), form, _load()]


def _heights(values: Mapping[str, str]) -> html.Div:
    antennas = [(n, f"{n} antenna{'' if n == '1' else 's'}") for n in ("3", "2", "1")]
    return html.Div(
        [
            _number("Transmitter above the snow, metres", "transmitter_height_m", values),
            _number("Receiver above the snow, metres", "receiver_height_m", values),
            select("Receiver", "antennas", antennas, values["antennas"]),
        ],
        className="load-fields",
    )


def _number(label: str, name: str, values: Mapping[str, str]) -> html.Label:
    return html.Label([html.Span(label), _cell(name, values.get(name, ""))], className="load-field")


def _cell(name: str, value: str, label: str = "", *, numeric: bool = True) -> Any:
    more: dict[str, Any] = {"inputMode": "decimal"} if numeric else {}
    one = dcc.Input(
        id=field_id(name, value), name=name, type="text", value=value, maxLength=12, autoComplete="off", **more
    )
    return html.Label([html.Span(label, className="range-label"), one]) if label else one


def _table(values: Mapping[str, str]) -> html.Div:
    return html.Div([_row(number, values) for number in range(row_count(values))], className="range-rows")


def _row(number: int, values: Mapping[str, str]) -> html.Fieldset:
    def of(column: str, otherwise: str = "") -> str:
        return values.get(f"r{number}.{column}", otherwise)

    before = values.get(f"r{number - 1}.orientation", "unknown") if number else "unknown"
    nothing = [("", "a reading"), ("yes", "nothing shown")]
    picked = [html.Option(words, value=value, selected=value == of(NOTHING)) for value, words in nothing]
    ways = [
        html.Option(words, value=value, selected=value == of("orientation", before))
        for value, words in ORIENTATION_WORDS
    ]
    return html.Fieldset(
        [
            html.Legend(f"Row {number + 1}"),
            _cell(f"r{number}.distance_m", of("distance_m"), "Taped, m"),
            _cell(f"r{number}.reading_m", of("reading_m"), "Shown, m"),
            html.Label([html.Span("or", className="range-label"), html.Select(picked, name=f"r{number}.{NOTHING}")]),
            html.Label(
                [html.Span("Transmitter", className="range-label"), html.Select(ways, name=f"r{number}.orientation")]
            ),
            _cell(f"r{number}.walk", of("walk", "1"), "Walk", numeric=False),
        ],
        className="range-row",
    )


def _buttons() -> html.Div:
    return html.Div(
        [
            html.Button("Work it out", type="submit", name="act", value="work", className="button button-go"),
            html.Button("More rows", type="submit", name="act", value="more", className="button"),
        ],
        className="run-pages",
    )


def _told(check: RangeCheck) -> list[Any]:
    width = "not assessable: there is no usable range" if check.strip_width_m is None else f"{check.strip_width_m} m"
    rows = (
        ("Reading scale, broadside", figure_words(check.scale, 3)),
        ("Usable range", figure_words(check.usable_m, 1)),
        ("Strip width, proposed", width),
        ("Looks", f"{check.shown} with a reading, {check.nothing} with nothing shown"),
    )
    table = html.Dl([part for name, words in rows for part in (html.Dt(name), html.Dd(words))], className="range-told")
    notes = [html.P(words) for words in (*check.remarks, USABLE, WIDTH)]
    return [html.Div(table, role="status"), *notes]


def figure_words(figure: Measured, digits: int) -> str:
    """Return a figure with its interval in words, or why there is none."""
    if not isinstance(figure, Figure):
        return f"not assessable: {figure.why}"
    unit = "" if figure.unit == "1" else f" {figure.unit}"
    between = f"{figure.low:.{digits}f} to {figure.high:.{digits}f}"
    return f"{figure.value:.{digits}f}{unit} (90 % interval {between})"


def _use(values: Mapping[str, str], drills: list[tuple[str, str, str]]) -> html.Div:
    # the state of each drill as the answer was shown: of two who write, the second is told
    seen = [hidden(f"seen.{key}", digest) for key, _, digest in drills]
    options = [("", "choose …"), *((key, f"{name} ({key})") for key, name, _ in drills)]
    name = dcc.Input(
        id=field_id("receiver", values["receiver"]), name="receiver", type="text", value=values["receiver"],
        maxLength=LONGEST_NAME, autoComplete="off",
    )  # fmt: skip
    replace = [("", "no, tell me"), ("yes", "yes, replace it")]
    return html.Div(
        [
            *seen,
            html.Div(
                [
                    html.Label([html.Span("Name of the receiver, your own"), name], className="load-field"),
                    select("Drill", "drill", options, values["drill"]),
                    select("If the drill has one of this name", "replace", replace, ""),
                ],
                className="load-fields",
            ),
            html.Button("Use it in this drill", type="submit", name="act", value="use", className="button button-go"),
        ]
    )


def _load() -> Any:
    slot = html.Div(
        className="file-slot",
        **{
            "data-name": "table",
            "data-label": "A table: distance_m, reading_m (- for nothing shown), orientation, walk",
        },
    )
    button = html.Button("Take the table", type="submit", className="button")
    form = html.Form(
        [slot, button], action="/range-check/send", method="post", encType="multipart/form-data", className="load-form"
    )
    return panel("Or load a table", form, note="It takes the place of the rows above.")
