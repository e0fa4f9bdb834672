"""GNSS logs of phones: the `Fix` lines of a raw measurement log, of one provider."""

import re

from analyzer.errors import InputError
from analyzer.files.tracks.fixes import Fixes, too_many_points
from analyzer.files.tracks.point_rows import (
    DAMAGED,
    PointRow,
    check_damage,
    finite,
    finite_or_nan,
    fixes_of,
    of_calendar,
    sigma_of_radius,
)
from analyzer.files.tracks.providers import OTHER_PROVIDER, best_provider
from analyzer.files.tracks.text_lines import lines_of
from analyzer.files.tracks.xml_points import MAX_POINTS

COLUMNS = {
    "provider": ("provider",),
    "latitude": ("latitudedegrees", "latitude"),
    "longitude": ("longitudedegrees", "longitude"),
    "elevation": ("altitudemeters", "altitude"),
    "accuracy": ("accuracymeters", "accuracy"),
    "time": ("unixtimemillis", "(utc)timeinms"),
}
"""Names of the columns of a Fix line in newer and older logs, lower case."""
_HEADER = re.compile(r"(#\s*Fix|MessageType),", re.IGNORECASE)
_IN_BYTES = re.compile(rb"^(#\s*Fix|MessageType),\s*Provider,|^Fix,[A-Za-z]+,-?\d", re.MULTILINE | re.IGNORECASE)


def is_gnss_log(head: bytes) -> bool:
    """Return whether a file that begins so has Fix lines or their header."""
    return bool(_IN_BYTES.search(head))


def parse_gnss_log(data: bytes, *, name: str = "track.txt") -> Fixes:
    """Return the Fix lines of the provider that serves best; those of others are set aside and counted.

    The stated accuracy is a radius that holds 68 % of the error, as phone platforms document it.

    Raises
    ------
    InputError
        Where there is no Fix line or no header that names its columns, or too many lines are damaged.
    """
    columns: dict[str, int] = {}
    rows: list[tuple[str, PointRow]] = []
    damaged, first = 0, 0
    for number, line in enumerate(lines_of(data, name=name), start=1):
        if _HEADER.match(line):
            columns = _columns(line)
        if not line.startswith("Fix,"):
            continue
        if not columns:
            raise InputError(
                where=f"{name}, line {number}",
                what="a Fix line stands before the comment '# Fix,Provider,...' that names its columns",
                do="take the log as the phone wrote it, with its first lines",
            )
        if len(rows) >= MAX_POINTS:
            raise too_many_points(name, MAX_POINTS)
        try:
            rows.append(_row(line.split(","), columns, number))
        except (ValueError, IndexError):
            damaged, first = damaged + 1, first or number
    check_damage(name, damaged, len(rows) + damaged, what="Fix lines", first=first)
    if not rows:
        raise InputError(
            where=name, what="the log has no Fix line", do="switch positions on in the logging app, beside measurements"
        )
    best = best_provider(provider for provider, _ in rows)
    return fixes_of(
        [row for provider, row in rows if provider == best],
        name=name,
        unit="line",
        dropped={OTHER_PROVIDER: sum(p != best for p, _ in rows), DAMAGED: damaged},
    )


def _columns(header: str) -> dict[str, int]:
    """Return which field each column is; empty where one that is needed is missing."""
    names = [cell.strip().lower() for cell in header.split(",")]
    found = {key: next((names.index(n) for n in known if n in names), -1) for key, known in COLUMNS.items()}
    needed = ("provider", "latitude", "longitude", "time")
    return found if all(found[key] >= 0 for key in needed) else {}


def _row(cells: list[str], columns: dict[str, int], number: int) -> tuple[str, PointRow]:
    def optional(key: str) -> float:
        return finite_or_nan(cells[columns[key]]) if 0 <= columns[key] < len(cells) else float("nan")

    return cells[columns["provider"]].strip().lower(), PointRow(
        of_calendar(finite(cells[columns["time"]]) / 1000.0),
        finite(cells[columns["latitude"]]),
        finite(cells[columns["longitude"]]),
        optional("elevation"),
        sigma_of_radius(optional("accuracy")),
        number=number,
    )
