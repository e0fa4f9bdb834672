"""The form of the checks before a drill as plain values: a row a person. No Dash."""

from collections.abc import Mapping, Sequence

from analyzer.model.checks import FAILED, LOW_BATTERY_PERCENT, NOT_DONE, PASSED, DrillCheck
from dashboard.view_models.typed_numbers import FieldError, number

COLUMNS = ("who", "receiver", "battery_percent", "firmware", "group_check", "remarks")
BLANK_ROWS, MOST_ROWS = 4, 200
GROUP_WORDS = ((NOT_DONE, "not done"), (PASSED, "passed"), (FAILED, "failed"))


def fields_of(checks: Sequence[DrillCheck]) -> dict[str, str]:
    """Return the fields of checks."""
    fields: dict[str, str] = {}
    for row, check in enumerate(checks):
        values = {column: getattr(check, column) for column in COLUMNS}
        battery = "" if check.battery_percent is None else f"{check.battery_percent:g}"
        fields |= {f"c{row}.{column}": str(value) for column, value in (values | {"battery_percent": battery}).items()}
    return fields


def row_count(values: Mapping[str, str]) -> int:
    """Return how many rows a form has: those with anything in them, and some blank ones."""
    return min(max([0, *(row + 1 for row in _rows(values))]) + BLANK_ROWS, MOST_ROWS)


def _rows(values: Mapping[str, str]) -> list[int]:
    """Return the numbers of the rows in which anything stands."""
    found = set()
    for key, value in values.items():
        row, _, column = key.partition(".")
        digits = row[1:]
        named = row[:1] == "c" and digits.isascii() and digits.isdigit() and len(digits) < 4 and column in COLUMNS
        if named and value.strip() and (column != "group_check" or value != NOT_DONE):
            found.add(int(digits))
    return sorted(found)


def checks_of(values: Mapping[str, str]) -> tuple[list[DrillCheck], list[str]]:
    """Return the checks of a form, and a line for each thing that is wrong; what a file cannot hold its reader says."""
    checks, faults = [], []
    for row in _rows(values):
        cells = {column: " ".join(values.get(f"c{row}.{column}", "").split()) for column in COLUMNS}
        battery = None
        typed = cells.pop("battery_percent").removesuffix("%").strip()
        try:
            battery = number(typed) if typed else None
        except FieldError as error:
            faults.append(f"Row {row + 1}, battery: {error}")
        if battery is not None and not 0.0 <= battery <= 100.0:
            faults.append(f"Row {row + 1}, battery: {battery:g} is out of range; write percent from 0 to 100")
        if not cells["who"]:
            faults.append(f"Row {row + 1}: nobody is named; write who it was, or empty the row")
        cells["group_check"] = cells["group_check"] or NOT_DONE
        checks.append(DrillCheck(battery_percent=battery, **cells))
    return checks, faults


def summary(checks: Sequence[DrillCheck]) -> str:
    """Return what was noted in one line, without names."""
    if not checks:
        return "nothing noted yet"
    ways = [(sum(c.group_check == way for c in checks), way) for way in (FAILED, NOT_DONE)]
    people = "1 person" if len(checks) == 1 else f"{len(checks)} people"
    parts = [people, *(f"group range check {way}: {n}" for n, way in ways if n)]
    low = sum(c.battery_percent is not None and c.battery_percent < LOW_BATTERY_PERCENT for c in checks)
    return ", ".join([*parts, *([f"{low} with a low battery"] if low else [])])
