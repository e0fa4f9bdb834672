"""Numbers as people type them: with a point or a comma before the decimals. What may be meant in two ways is asked."""

import re

ONE = r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)"
SEVERAL = re.compile(rf"{ONE}(?:(?:\s*;\s*|,?\s+){ONE})+|[+-]?\d+\.\d+,[+-]?\d+\.\d+|[+-]?\d+,\d+,[+-]?\d+,\d+")
"""Two numbers in one field: both halves of a position, mostly."""
GROUPED = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


class FieldError(ValueError):
    """What is wrong with the text of one field."""


def number(typed: str, *, most: float = 0.0) -> float:
    """Return a number that was typed, with a point or a comma before its decimals.

    `most`: the largest number that the field takes, where that is a thousand or more: a comma before three digits may
    then be meant to group them, and is asked about.

    Raises
    ------
    FieldError
        Where the text is not one plain number, or may be meant in two ways.
    """
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    if re.fullmatch(ONE, text):
        if GROUPED.fullmatch(text) and abs(float(text.replace(",", ""))) <= most:
            least, whole = text.replace(",", ".").rstrip("0").rstrip("."), text.replace(",", "")
            raise FieldError(f"{text!r} may mean {least} or {whole}; write {least} or {whole}")
        return float(text.replace(",", "."))
    if SEVERAL.fullmatch(text):
        raise FieldError(
            f"{text!r} is more than one number; write one here, without a blank in it, and the other in its own field"
        )
    raise FieldError(f"{text!r} is not a number; write it like 12.5 or 12,5, without a unit")


def corners(typed: str) -> list[list[float]]:
    """Return the corners of lines like "60, 80", or "60,5; 80,25" with decimal commas.

    Raises
    ------
    FieldError
        Where a line is not two numbers, or may be meant in two ways; the line is named.
    """
    return [_corner(count, line.strip()) for count, line in enumerate(filter(str.strip, typed.splitlines()), start=1)]


def _corner(count: int, line: str) -> list[float]:
    """Return the two numbers of a line: apart by a semicolon or a blank, or by its only comma."""
    parts = [part.strip().removesuffix(",").strip() for part in re.split(r";|\s+", line)]
    parts = [part for part in parts if part]
    if len(parts) == 1 and line.count(",") == 1:
        parts = line.split(",")
    if len(parts) == 1 and line.count(",") > 1:
        raise FieldError(f"corner {count}, {line!r}, has commas that may mean two things; write it like 60,5; 80,25")
    try:
        pair = [number(part) for part in parts]
    except FieldError:
        pair = []
    if len(pair) != 2:
        raise FieldError(f"corner {count}, {line!r}, is not two numbers; write east, north, like 60, 80 or 60,5; 80,25")
    return pair
