"""readings.csv: the distance figures that the receiver showed."""

import datetime as dt
import itertools
import math
from dataclasses import dataclass

from analyzer.errors import InputError
from analyzer.files.names import READINGS_FILE
from analyzer.files.table import Row, Table, parse_table, raise_all
from analyzer.files.times import parse_elapsed, parse_utc

COLUMNS = ("time", "elapsed", "reading_m", "transmitter", "steer_deg", "heading_deg")
MAX_READING_M = 150.0
"""Our own limit, three times the range of a strong signal: beyond it a figure is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading as written. `time_s`: since 1970 UTC, or since the start mark where the log is `elapsed`."""

    where: str
    time_s: float
    reading_m: float
    transmitter: str | None
    steer_deg: float
    heading_deg: float


@dataclass(frozen=True, slots=True)
class ReadingLog:
    """A checked log in time order; `rows` counts all rows, `dropped` those set aside, by reason."""

    name: str
    elapsed: bool
    readings: tuple[ReadingRow, ...]
    rows: int
    dropped: tuple[tuple[str, int], ...] = ()


def parse_readings_csv(data: bytes, *, name: str = READINGS_FILE, zone: dt.tzinfo | None = None) -> ReadingLog:
    """Return the checked readings; rows without a figure are set aside and counted. `zone`: of times that bear none.

    Raises
    ------
    InputError
        Where a column is missing or unknown, a figure is absurd, or times run backwards; every such line is named.
    """
    table = parse_table(data, name=name)
    table.allow(*COLUMNS)
    table.need("reading_m")
    elapsed = time_column(table) == "elapsed"
    rows = table.read(lambda row: _reading(row, elapsed=elapsed, zone=zone) if row.cells["reading_m"] else None)
    readings = tuple(row for row in rows if row is not None)
    if not readings:
        raise InputError(where=name, what="no row has a reading", do="export it again, or remove it")
    back = [
        InputError(
            where=after.where,
            what=f"the time runs back by {before.time_s - after.time_s:g} s",
            do="put the rows in the order in which they happened",
        )
        for before, after in itertools.pairwise(readings)
        if after.time_s < before.time_s
    ]
    raise_all(name, back)
    without = len(table.rows) - len(readings)
    return ReadingLog(
        name=name,
        elapsed=elapsed,
        readings=readings,
        rows=len(table.rows),
        dropped=(("no reading in the row", without),) if without else (),
    )


def time_column(table: Table) -> str:
    """Return which of "time" and "elapsed" a table has.

    Raises
    ------
    InputError
        Where it has neither or both.
    """
    found = [c for c in ("time", "elapsed") if c in table.columns]
    if len(found) != 1:
        what = "the column 'time' or 'elapsed' is missing" if not found else "the table has both 'time' and 'elapsed'"
        raise InputError(
            where=f"{table.name}, line 1",
            what=what,
            do="keep one: time (ISO 8601 with offset) or elapsed (seconds or mm:ss.s)",
        )
    return found[0]


def time_of(row: Row, *, elapsed: bool, zone: dt.tzinfo | None = None) -> float:
    """Return the seconds of a row: since the start mark where `elapsed`, else since 1970 UTC."""
    if elapsed:
        return parse_elapsed(row.cells["elapsed"], where=row.where)
    return parse_utc(row.cells["time"], where=row.where, zone=zone)


def _reading(row: Row, *, elapsed: bool, zone: dt.tzinfo | None) -> ReadingRow:
    reading = row.number("reading_m")
    if not 0.0 < reading <= MAX_READING_M:
        raise InputError(
            where=row.where,
            what=f"the reading {reading:g} m is not between 0 and {MAX_READING_M:g} m",
            do="write metres; leave the cell empty where nothing was shown",
        )
    steer, heading = row.number("steer_deg", needed=False), row.number("heading_deg", needed=False)
    if not math.isnan(steer) and abs(steer) > 180.0:
        raise InputError(
            where=row.where,
            what=f"steer_deg {steer:g} is not between -180 and 180",
            do="write degrees from straight ahead, right positive",
        )
    if not math.isnan(heading) and not 0.0 <= heading <= 360.0:
        raise InputError(
            where=row.where,
            what=f"heading_deg {heading:g} is not between 0 and 360",
            do="write the true bearing in degrees",
        )
    return ReadingRow(
        where=row.where,
        time_s=time_of(row, elapsed=elapsed, zone=zone),
        reading_m=reading,
        transmitter=row.cells.get("transmitter") or None,
        steer_deg=steer,
        heading_deg=heading,
    )
