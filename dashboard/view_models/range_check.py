"""The form of a range check as plain values: rows of looks, and what is in their fields. No Dash."""

from collections.abc import Mapping, Sequence

from analyzer.model.range_check import BROADSIDE, COAXIAL, UNKNOWN, Look

FIRST_ROWS, MORE_ROWS, MOST_ROWS = 16, 12, 400
LONGEST_NAME = 60
COLUMNS = ("distance_m", "reading_m", "orientation", "walk")
NOTHING = "nothing"
"""A box in each row: nothing was shown there."""
ORIENTATION_WORDS = (
    (COAXIAL, "coaxial: along the tape"),
    (BROADSIDE, "broadside: level, square to the tape"),
    (UNKNOWN, "unknown"),
)
START = {"transmitter_height_m": "1", "receiver_height_m": "1", "antennas": "3", "receiver": "", "drill": ""}


def row_count(values: Mapping[str, str]) -> int:
    """Return how many rows a form has: those filled in, some blank ones, and more where they were asked for."""
    filled = [
        int(key[1:].split(".")[0])
        for key in values
        if is_row_key(key) and values[key].strip() and not key.endswith((".orientation", ".walk"))
    ]
    asked = values.get("rows", "")
    least = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 4 else FIRST_ROWS
    return min(max([FIRST_ROWS, least, *(number + 1 for number in filled)]), MOST_ROWS)


def is_row_key(key: str) -> bool:
    """Return whether a key is that of a cell: "r12.walk"."""
    row, _, column = key.partition(".")
    number = row[1:]
    return (
        row[:1] == "r" and number.isascii() and number.isdigit() and len(number) < 4 and column in (*COLUMNS, NOTHING)
    )


def rows_of(values: Mapping[str, str]) -> list[tuple[str, dict[str, str]]]:
    """Return the rows of a form in which a distance or a reading stands, each with how a person finds it."""
    rows = []
    for number in range(row_count(values)):
        cells = {column: values.get(f"r{number}.{column}", "") for column in COLUMNS}
        if values.get(f"r{number}.{NOTHING}") == "yes":
            cells["reading_m"] = (
                f"{cells['reading_m'].strip()} and nothing shown" if cells["reading_m"].strip() else "-"
            )
        if cells["distance_m"].strip() or cells["reading_m"].strip():
            rows.append((f"Row {number + 1}", cells))
    return rows


def fields_of(looks: Sequence[Look]) -> dict[str, str]:
    """Return the fields of looks."""
    fields: dict[str, str] = {}
    for number, look in enumerate(looks):
        shown = "" if look.reading_m is None else f"{look.reading_m:g}"
        cells = (f"{look.distance_m:g}", shown, look.orientation, look.walk)
        fields |= {} if look.reading_m is not None else {f"r{number}.{NOTHING}": "yes"}
        fields |= {f"r{number}.{column}": cell for column, cell in zip(COLUMNS, cells, strict=True)}
    return fields
