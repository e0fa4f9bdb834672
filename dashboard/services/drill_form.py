"""What is wrong with the form of a drill, field by field, and how hard the drill is. No files, no Dash.

One set of rules: a form is written as drill.toml and read back by the reader that measures drills, which tells all
that is wrong with its place; here places become fields.
"""

import re
from dataclasses import dataclass

from analyzer.engine.ideal.difficulty import drill_difficulty
from analyzer.errors import FileError, InputError, Problem
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.rules_toml import default_rules
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.files.writers import write_drill_toml
from analyzer.geometry.polyline import polygon_area
from analyzer.model.difficulty import DrillDifficulty
from analyzer.model.drill import Drill
from dashboard.view_models.drill_form import (
    EXAMPLE_ORIGIN,
    MOST_TRANSMITTERS,
    NUMBERS,
    TRANSMITTER,
    Form,
    added,
    field_of,
    most_of,
    rows,
    tables_of,
    text,
    toml_of,
)
from dashboard.view_models.typed_numbers import FieldError, number

MOST_START_M, MOST_REACH_M, MOST_GPX_BYTES = 2000.0, 200.0, 5_000_000
KEY_WORDS = {
    key: label.lower()
    for key, (label, _) in (TRANSMITTER | {"aspect_deg": NUMBERS["aspect_deg"]}).items()
    if key.endswith(("_m", "_deg"))
}
LONGEST_STRIPS_M = 50_000.0
"""Our own limit: strips this long are searched for a day, and are likely a slip of the keyboard."""


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """What a form makes: the drill, None where something is wrong, with a line for each wrong field."""

    drill: Drill | None
    errors: dict[str, str]
    start_m: tuple[float, float] = (0.0, 0.0)
    reach_m: float | None = None


def checked(form: Form) -> Checked:
    """Return the drill of a form, or a line for every field that is wrong."""
    tables, errors = tables_of(form)
    errors |= _wrong_start(form)
    if not rows(form):
        errors["transmitters"] = "there is no transmitter; add one"
    try:
        drill = parse_drill_toml(toml_of(tables), name="drill")
    except FileError as error:
        for problem in error.problems:  # what the form said of a field itself, and the first of two, stays
            errors.setdefault(field_of(problem.place, form), _words(problem))
        return Checked(None, errors)
    if errors:
        return Checked(None, errors)
    if drill.corners_m is not None:
        strips_m = polygon_area(drill.corners_m) / drill.strip_width_m
        if strips_m > LONGEST_STRIPS_M:
            line = f"the strips over this area would be {strips_m / 1000:.0f} km long"
            return Checked(None, {"strip_width_m": f"{line}; check the strip width and the corners"})
    reach = form["reach_m"].strip()
    start = (number(form["start_east"]), number(form["start_north"]))
    return Checked(drill, {}, start, number(reach) if reach else None)


def _words(problem: Problem) -> str:
    """Return the line of a problem with the words of the form in place of the keys of the file."""
    return re.sub("|".join(KEY_WORDS), lambda found: KEY_WORDS[found[0]], f"{problem.what}; {problem.do}")


def _wrong_start(form: Form) -> dict[str, str]:
    """Return what is wrong with the fields that drill.toml does not hold."""
    errors: dict[str, str] = {}
    for key, most in (("start_east", MOST_START_M), ("start_north", MOST_START_M), ("reach_m", MOST_REACH_M)):
        typed = form[key].strip()
        try:
            value = number(typed, most=most_of(key)) if typed or key != "reach_m" else 1.0
        except FieldError as error:
            errors[key] = str(error) if typed else "the start is missing; write metres from the origin, or pick it"
            continue
        if abs(value) > most or (key == "reach_m" and value <= 0.0):
            low = "above 0" if key == "reach_m" else f"at least {-most:g}"
            errors[key] = f"{value:g} is out of range; write a number {low} and at most {most:g}"
    return errors


def outlook_of(made: Checked) -> DrillDifficulty | None:
    """Return how hard the drill of a form is by the built-in rule sheet, None where the form is wrong."""
    if made.drill is None:
        return None
    return drill_difficulty(made.drill, made.start_m, default_rules(), reach_m=made.reach_m)


def file_of(drill: Drill) -> bytes:
    """Return drill.toml of a drill."""
    return write_drill_toml(drill)


def with_waypoints(form: Form, data: bytes, name: str) -> tuple[Form, str]:
    """Return the form with the waypoints of a GPX file as transmitters, and what was done in words.

    A waypoint with the name of a transmitter moves it; others are added, their depth to be filled in. As long as the
    origin is that of the example, the first waypoint becomes the origin.

    Raises
    ------
    InputError
        Where the file is no GPX file, or has no waypoint or too many.
    """
    if len(data) > MOST_GPX_BYTES:
        raise InputError(
            where=name,
            what=f"the file has {len(data) / 1e6:.0f} MB; at most 5 MB are read here",
            do="export the waypoints alone",
        )
    found = parse_waypoints(data, name=name)
    if not found:
        raise InputError(where=name, what="the file holds no waypoint", do="export waypoints as GPX, not a track")
    named = {form[f"t{row}.id"].strip(): row for row in rows(form)}
    fresh = [label for label in found if label.strip() not in named]
    if len(named) + len(fresh) > MOST_TRANSMITTERS:
        raise InputError(
            where=name,
            what=f"with its {len(found)} waypoints there would be over {MOST_TRANSMITTERS} transmitters",
            do="export those of this drill alone; nothing was taken",
        )
    said = f"{len(found)} waypoint{'s' if len(found) != 1 else ''} taken from {name}."
    if all(form[key].strip() == value for key, value in EXAMPLE_ORIGIN.items()):
        label, (latitude, longitude) = next(iter(found.items()))
        form = form | {"latitude": text(latitude), "longitude": text(longitude)}
        said += f" The origin was still the example's: it is {label or 'the first waypoint'!r} now. Check its height."
    for label, (latitude, longitude) in found.items():
        place = {"latitude": text(latitude), "longitude": text(longitude), "east_m": "", "north_m": ""}
        if label.strip() in named:
            form = form | {f"t{named[label.strip()]}.{key}": value for key, value in place.items()}
        else:
            form = added(form, id=label, **place)
    return form, said + (" Fill in the depth of each new one." if fresh else "")
