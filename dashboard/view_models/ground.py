"""The picture of the ground as pages need it: where it is fetched, and the form in which it is pinned. No files."""

import base64
import re
from collections.abc import Mapping
from dataclasses import dataclass

from analyzer.errors import InputError
from analyzer.model.drill import Drill
from analyzer.model.ground import GroundPicture, Metres, Pin
from dashboard.view_models.typed_numbers import FieldError, number

Box = tuple[float, float, float, float]
PINS = ("1", "2", "3", "4")
"""Rows of the form; two are needed, more say how well they agree."""
ROW = ("x_px", "y_px", "spot", "east_m", "north_m", "degrees")
TYPED, DEGREES = "typed", "degrees"
Row = dict[str, str]
MOST_NUMBER = 1e7
"""Above all pixels and metres that are meant; our choice."""


@dataclass(frozen=True, slots=True)
class Under:
    """A picture under a plan. `source`: its address, or itself as text; `box`: west, east, south, north, metres."""

    source: str
    box: Box
    credit: str = ""


def within(picture: GroundPicture | None) -> Under | None:
    """Return a picture that is its own address, for a page that is one file."""
    if picture is None:
        return None
    packed = base64.b64encode(picture.jpeg).decode("ascii")
    return Under(f"data:image/jpeg;base64,{packed}", picture.box, picture.credit)


def spots_of(drill: Drill) -> tuple[tuple[str, str, Metres], ...]:
    """Return the points of a drill whose place is known: key, words, east and north in metres."""
    spots = [("origin", "the drill's origin", (0.0, 0.0))]
    spots += [(f"t{i}", f"over transmitter {t.id}", (t.east_m, t.north_m)) for i, t in enumerate(drill.transmitters)]
    corners = [] if drill.corners_m is None else drill.corners_m.tolist()
    spots += [(f"c{i}", f"corner {i + 1} of the area", (east, north)) for i, (east, north) in enumerate(corners)]
    return tuple(spots)


def rows_of(pins: tuple[Pin, ...], spots: tuple[tuple[str, str, Metres], ...]) -> dict[str, Row]:
    """Return the rows of the form for pins that are saved."""
    found = {n: dict.fromkeys(ROW, "") | {"spot": TYPED} for n in PINS}
    for n, pin in zip(PINS, pins, strict=False):
        spot = next((key for key, _, place in spots if place == (pin.east_m, pin.north_m)), TYPED)
        row = {"x_px": f"{pin.x_px:.10g}", "y_px": f"{pin.y_px:.10g}", "spot": spot}
        typed = {"east_m": f"{pin.east_m:.10g}", "north_m": f"{pin.north_m:.10g}"} if spot == TYPED else {}
        found[n] |= row | typed
    return found


def typed_rows(values: Mapping[str, str]) -> dict[str, Row]:
    """Return the rows of a form that was sent."""
    return {number: {key: values.get(f"{key}-{number}", "").strip() for key in ROW} for number in PINS}


def filled_rows(rows: Mapping[str, Row]) -> list[str]:
    """Return the numbers of the rows in which something was typed or pressed."""
    return [n for n, row in rows.items() if any(row[key] for key in ROW if key != "spot")]


def degrees_of(typed: str, where: str) -> tuple[float, float]:
    """Return latitude and longitude of "47.0912, 11.3305", or with commas for points "47,0912 11,3305".

    Raises
    ------
    InputError
        Where they are not two numbers in range.
    """
    text = typed.strip().replace("°", " ")
    parts = re.split(r"\s*;\s*|,\s+|\s+", text) if re.search(r"[;\s]", text) else text.split(",")
    try:
        latitude, longitude = (float(part.replace(",", ".")) for part in parts if part)
    except ValueError:
        latitude = longitude = float("nan")
    if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
        raise InputError(
            where=where,
            what=f"{typed!r} is not a latitude and a longitude in degrees",
            do='write both with a space between them: "47.0912 11.3305"',
        )
    return latitude, longitude


def number_of(typed: str, where: str) -> float:
    """Return a number that was typed, with a point or a comma.

    Raises
    ------
    InputError
        Where it is none, or none of a picture or a drill.
    """
    try:
        value = number(typed)
    except FieldError as error:
        what, _, do = str(error).partition("; ")
        raise InputError(where=where, what=what, do=do) from None
    if abs(value) >= MOST_NUMBER:
        raise InputError(where=where, what=f"{value:g} is no number of pixels or metres", do="mend it")
    return value
