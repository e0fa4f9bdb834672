"""The fields of a drill as a form: all of them text, as typed. From a drill, and back to the tables of drill.toml.

No Dash. What a value may be is decided where drill.toml is read; here only text is turned into numbers.
"""

import json
import re
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from analyzer.model.drill import MAX_DISTANCE_M, Drill, Transmitter
from dashboard.view_models.typed_numbers import FieldError, corners, number

Form = dict[str, str]
Tables = dict[str, Any]

NUMBERS = {
    "latitude": ("Latitude of the origin", "°"),
    "longitude": ("Longitude of the origin", "°"),
    "elevation_m": ("Height of the origin", "m"),
    "angle_deg": ("Slope angle", "°"),
    "aspect_deg": ("Aspect: bearing downhill", "°"),
    "strip_width_m": ("Strip width", "m"),
    "time_limit_s": ("Time limit", "s"),
    "start_east": ("Start, east", "m"),
    "start_north": ("Start, north", "m"),
    "reach_m": ("Signal heard first at", "m"),
}
TEXTS = {
    "name": ("Name", ""),
    "date": ("Date", ""),
    "start": ("Start time", ""),
    "corners": ("Corners of the area: east, north", "m"),
}
TRANSMITTER = {
    "id": ("Name", ""),
    "east_m": ("East", "m"),
    "north_m": ("North", "m"),
    "depth_m": ("Depth", "m"),
    "axis_bearing_deg": ("Antenna bearing", "°"),
    "axis_tilt_deg": ("Antenna tilt", "°"),
    "latitude": ("Latitude", "°"),
    "longitude": ("Longitude", "°"),
    "position_sigma_m": ("Known to within (1 sigma)", "m"),
}
POSITION = ("east_m", "north_m", "latitude", "longitude")
THOUSANDS = dict.fromkeys(("east_m", "north_m", "start_east", "start_north"), MAX_DISTANCE_M) | {
    "elevation_m": 9000.0,
    "time_limit_s": 86_400.0,
}
"""Fields in which "1,250" may be meant as a thousand and more, with the largest number that they take."""
NEGATIVE = ("latitude", "longitude", "start_east", "start_north", "east_m", "north_m", "axis_tilt_deg")
"""Fields that may need a minus, which the number keyboards of some phones do not have."""
LABELS = {key: label for key, (label, _) in (NUMBERS | TEXTS).items()}
MOST_TRANSMITTERS = 20
EXAMPLE_ORIGIN = {"latitude": "46", "longitude": "9", "elevation_m": "2000"}


def example(today: str) -> Form:
    """Return the form that a first visit begins with: an invented drill that needs no change to be looked at."""
    form = dict.fromkeys((*NUMBERS, *TEXTS), "")
    form |= EXAMPLE_ORIGIN | {
        "name": "New drill",
        "date": today,
        "angle_deg": "25",
        "aspect_deg": "180",
        "strip_width_m": "40",
        "corners": "0, 0\n60, 0\n60, 80\n0, 80",
        "start_east": "30",
        "start_north": "0",
    }
    return form | row(0, id="T1", east_m="38", north_m="46", depth_m="1.2", axis_bearing_deg="60", axis_tilt_deg="10")


def row(number: int, **values: str) -> Form:
    """Return the fields of one transmitter; what is not given is empty."""
    return {f"t{number}.{key}": values.get(key, "") for key in TRANSMITTER}


def rows(form: Form) -> tuple[int, ...]:
    """Return the numbers of the transmitters of a form, in their order."""
    return tuple(sorted({int(key[1:].partition(".")[0]) for key in form if re.match(r"t\d+\.", key)}))


def without(form: Form, number: int) -> Form:
    """Return the form without one transmitter."""
    return {key: value for key, value in form.items() if not key.startswith(f"t{number}.")}


def added(form: Form, **values: str) -> Form:
    """Return the form with one more transmitter, under the next free name unless one is given."""
    taken = {form[f"t{n}.id"].strip() for n in rows(form)}
    name = next(f"T{n}" for n in range(1, len(taken) + 2) if f"T{n}" not in taken)
    return form | row(max(rows(form), default=-1) + 1, **({"id": name} | values))


def form_of(drill: Drill) -> Form:
    """Return the form of a drill; a start that its file does not hold lies on its first corner, or below its first
    transmitter."""
    form = dict.fromkeys((*NUMBERS, *TEXTS), "")
    corners = [] if drill.corners_m is None else drill.corners_m.tolist()
    first = drill.transmitters[0]
    east, north = drill.start_m or (corners[0] if corners else (first.east_m, first.north_m - 20.0))
    form |= {
        "name": drill.name,
        "date": "" if drill.date is None else drill.date.isoformat(),
        "latitude": text(drill.origin.latitude),
        "longitude": text(drill.origin.longitude),
        "elevation_m": text(drill.origin.elevation_m),
        "angle_deg": text(drill.slope.angle_deg),
        "aspect_deg": text(drill.slope.aspect_deg),
        "strip_width_m": text(drill.strip_width_m),
        "time_limit_s": text(drill.time_limit_s),
        "start": "" if drill.start is None else drill.start.isoformat(),
        "corners": "\n".join(f"{text(e)}, {text(n)}" for e, n in corners),
        "start_east": text(east),
        "start_north": text(north),
    }
    for place, item in enumerate(drill.transmitters):
        form |= row(place, **_texts(item))
    return form


def _texts(item: Transmitter) -> dict[str, str]:
    numbers = {key: text(getattr(item, key, None)) for key in TRANSMITTER if key != "id"}
    return {"id": item.id} | numbers


def text(value: float | None) -> str:
    """Return a number as typed: the shortest text that reads back as the same, without a needless ".0"."""
    if value is None:
        return ""
    return repr(float(value)).removesuffix(".0")


def most_of(key: str) -> float:
    """Return the largest number that a field takes, as far as a thousand and more fit into it; else 0."""
    return THOUSANDS.get(key.rpartition(".")[2], 0.0)


def tables_of(form: Form) -> tuple[Tables, dict[str, str]]:
    """Return the tables of drill.toml that a form makes, and a line for every field whose text is not what it has to
    be. Such a text goes into the tables as it is, an empty field not at all, but for the names."""
    errors: dict[str, str] = {}

    def typed(key: str, read: Callable[[str], Any], own: str = "") -> Tables:
        """Return the entry of one field, under its own key in the file: its key without the transmitter."""
        text, own = form.get(key, "").strip(), own or key.rpartition(".")[2]
        if not text and own not in ("name", "id"):
            return {}
        try:
            return {own: read(text)}
        except FieldError as error:
            errors[key] = str(error)
            return {own: text}

    def numbers(keys: Iterable[str]) -> Tables:
        return {own: value for key in keys for own, value in typed(key, partial(number, most=most_of(key))).items()}

    drill = typed("name", str) | typed("date", str) | typed("start", str) | numbers(("time_limit_s", "strip_width_m"))
    drill |= {"origin": numbers(EXAMPLE_ORIGIN), "slope": numbers(("angle_deg", "aspect_deg"))}
    transmitters = [
        typed(f"t{row}.id", str) | numbers(f"t{row}.{key}" for key in TRANSMITTER if key != "id") for row in rows(form)
    ]
    area = typed("corners", corners, "corners_m")
    start = numbers(("start_east", "start_north"))
    if len(start) == 2 and all(isinstance(v, float) and abs(v) <= MAX_DISTANCE_M for v in start.values()):
        area |= {"start_m": list(start.values())}
    return {"drill": drill, "area": area, "transmitter": transmitters}, errors


def field_of(place: str, form: Form) -> str:
    """Return the field that a place in drill.toml is of: "t0.depth_m" of "transmitter[1].depth_m".

    What is wrong with a transmitter as a whole is its position: that goes to the first field of it that is empty.
    """
    if place == "transmitter":
        return "transmitters"
    inside = re.fullmatch(r"transmitter\[(\d+)\](?:\.(\w+))?", place)
    if inside is None:
        own = place.rpartition(".")[2]
        return "corners" if own == "corners_m" else own if own in LABELS else "all"
    start = f"t{rows(form)[int(inside[1]) - 1]}"
    empty = (key for key in POSITION if not form.get(f"{start}.{key}", "").strip())
    return f"{start}.{inside[2] or next(empty, POSITION[0])}"


def toml_of(tables: Tables) -> bytes:
    """Return tables of texts, numbers, lists and tables as TOML."""
    lines = []
    for name, value in tables.items():
        for table in value if isinstance(value, list) else [value]:
            lines.append(f"[[{name}]]" if isinstance(value, list) else f"[{name}]")
            lines += [f"{key} = {_value(item)}" for key, item in table.items()]
    return ("\n".join(lines) + "\n").encode("utf-8", "replace")


def _value(item: Any) -> str:
    if isinstance(item, dict):
        return "{" + ", ".join(f"{key} = {_value(value)}" for key, value in item.items()) + "}"
    if isinstance(item, list):
        return "[" + ", ".join(_value(value) for value in item) + "]"
    if isinstance(item, str):  # a JSON text is a TOML text, but for one control character
        return json.dumps(item, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(float(item))


def label_of(key: str, form: Form) -> str:
    """Return the words that name a field in a list of what is wrong: "T2, depth"."""
    start, _, own = key.partition(".")
    if own in TRANSMITTER:
        return f"{form.get(f'{start}.id', '').strip() or 'A transmitter'}, {TRANSMITTER[own][0].lower()}"
    return LABELS.get(key, "The drill")


def started(form: Form, asked: str) -> Form:
    """Return the form with the start of an address, "30,0"; as it was where that is no place."""
    parts = asked.split(",")
    try:
        east, north = (text(number(part)) for part in parts)
    except ValueError:
        return form
    return form | {"start_east": east, "start_north": north}


def picked(form: Form, target: str, east_m: float, north_m: float) -> tuple[Form, str]:
    """Return the form with something put where the plan was clicked, to the tenth of a metre, and the next target.

    `target`: start | corner | new | t0, t1, ... A transmitter given by latitude and longitude gets metres instead.
    """
    east, north = text(round(float(east_m), 1) + 0.0), text(round(float(north_m), 1) + 0.0)
    if target == "corner":
        lines = [*filter(str.strip, form["corners"].splitlines()), f"{east}, {north}"]
        return form | {"corners": "\n".join(lines)}, target
    place = {"east_m": east, "north_m": north, "latitude": "", "longitude": ""}
    if target == "new":
        after = added(form, **place)
        return after, f"t{max(rows(after))}"
    if f"{target}.east_m" in form:
        return form | {f"{target}.{key}": value for key, value in place.items()}, target
    return form | {"start_east": east, "start_north": north}, "start"
