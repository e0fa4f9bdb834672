"""Latitudes and longitudes as cells of track tables write them."""

import re

import numpy as np

from analyzer.files.numbers import number_in
from analyzer.model.arrays import FloatArray

LONGEST = 40
"""Characters of a place or a time; our own choice: all writings are shorter, and a cell of thousands of blanks is not
looked at for long."""
_LETTERED = re.compile(r"([NSEW])?\s*([+-]?\d+(?:\.\d*)?)\s*°?\s*([NSEW])?", re.ASCII | re.IGNORECASE)
_SPLIT = re.compile(
    r"([NSEW])?\s*(-)?(\d{1,3})\s*°\s*(\d{1,2}(?:\.\d*)?)\s*['′’]\s*(?:(\d{1,2}(?:\.\d*)?)\s*(?:[\"″”]|''))?\s*([NSEW])?",
    re.ASCII | re.IGNORECASE,
)
_SIXTY = 60.0
_MINUTES = {"NS": (90.0, 9000.0), "EW": (180.0, 18000.0)}
"""More than any degrees, and the most that degrees and minutes make."""


def degrees_in(text: str, letters: str) -> float:
    """Return the degrees of a cell; `letters`: "NS" or "EW", those that may stand with it.

    Read are decimal degrees, with a point or a comma, with or without a letter; degrees, minutes and seconds with their
    signs.

    Raises
    ------
    ValueError
        Where it is none of these.
    """
    try:
        return number_in(text)
    except ValueError:
        pass
    plain = text.strip()
    if len(plain) > LONGEST:
        raise ValueError(text)
    plain = plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain
    found = _LETTERED.fullmatch(plain)
    if found:
        return _signed(float(found[2]), found[1], found[3], letters)
    found = _SPLIT.fullmatch(plain)
    if not found or float(found[4]) >= _SIXTY or float(found[5] or 0.0) >= _SIXTY:
        raise ValueError(text)
    value = float(found[3]) + float(found[4]) / 60.0 + float(found[5] or 0.0) / 3600.0
    return _signed(-value if found[2] else value, found[1], found[6], letters)


def turned(value: float, letter: str, letters: str) -> float:
    """Return a value to the side that a letter of another column says, which may be empty.

    Raises
    ------
    ValueError
        Where the letter is none of those, or the value has a sign of its own.
    """
    return _signed(value, letter.strip() or None, None, letters)


def _signed(value: float, before: str | None, behind: str | None, letters: str) -> float:
    letter = (before or behind or "").upper()
    if not letter:
        return value
    if (before and behind) or letter not in letters or value < 0.0:
        raise ValueError(letter)
    return -value if letter == letters[1] else value


def of_minutes(latitude: FloatArray, longitude: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Return degrees of numbers that are certainly degrees and minutes in one (ddmm.mmmm), None where they are not.

    They are where none of them can be one in degrees, and all fit that writing.
    """
    filled = np.isfinite(latitude) & np.isfinite(longitude)
    if not np.any(filled):
        return None
    for values, (least, most) in ((latitude, _MINUTES["NS"]), (longitude, _MINUTES["EW"])):
        size = np.abs(values[filled])
        if np.any(size <= least) or np.any(size > most) or np.any(size % 100.0 >= _SIXTY):
            return None
    return _to_degrees(latitude), _to_degrees(longitude)


def _to_degrees(values: FloatArray) -> FloatArray:
    size = np.abs(values)
    return np.sign(values) * (np.floor(size / 100.0) + size % 100.0 / 60.0)
