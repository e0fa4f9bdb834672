"""track.csv: positions in degrees or in metres, for recorders of any kind."""

import datetime as dt

import numpy as np

from analyzer.errors import InputError
from analyzer.files.table import Row, Table, parse_table
from analyzer.files.times import parse_utc
from analyzer.files.tracks.fixes import Fixes, decimal_step

OPTIONAL = ("elevation_m", "sigma_m", "hdop")


def parse_track_csv(data: bytes, *, name: str = "track.csv", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of a table with `time` and `latitude`, `longitude` (degrees) or `east_m`, `north_m` (metres).

    `elevation_m`, `sigma_m` (one-axis standard deviation) and `hdop` are optional; other columns are left unread.
    `zone`: of times that bear none.

    Raises
    ------
    InputError
        Where a column is missing, or cells are not a number or a time; every such line is named.
    """
    table = parse_table(data, name=name)
    table.need("time")
    geographic = _geographic(table)
    first, second = ("latitude", "longitude") if geographic else ("east_m", "north_m")
    table.need(first, second)
    table.check_decimals(first, second, *OPTIONAL)
    values = np.array(table.read(lambda row: _row(row, first, second, zone)), float).reshape(-1, 7)
    time_s, firsts, seconds, elevation_m, sigma_m, hdop, number = values.T
    return Fixes(
        name=name,
        unit="line",
        geographic=geographic,
        time_s=time_s,
        first=firsts,
        second=seconds,
        number=number,
        step=decimal_step(firsts, seconds, finest=8 if geographic else 3),
        rows=len(values),
        elevation_m=elevation_m,
        sigma_m=sigma_m,
        hdop=hdop,
    )


def _row(row: Row, first: str, second: str, zone: dt.tzinfo | None) -> tuple[float, ...]:
    """Return time, both coordinates, what is optional, and the line of a row."""
    place = row.number(first), row.number(second)
    optional = [row.number(column, needed=False) for column in OPTIONAL]
    sigma = optional[OPTIONAL.index("sigma_m")]
    if sigma <= 0.0:
        raise InputError(
            where=row.where,
            what=f"sigma_m {sigma:g} is not above 0",
            do="leave the cell empty where the accuracy is not known",
        )
    text = row.cells["time"]
    return (parse_utc(text, where=row.where, zone=zone) if text else np.nan, *place, *optional, row.line)


def _geographic(table: Table) -> bool:
    degrees = {"latitude", "longitude"} & set(table.columns)
    metres = {"east_m", "north_m"} & set(table.columns)
    if degrees and metres:
        raise InputError(
            where=f"{table.name}, line 1",
            what="the table has degrees and metres",
            do="keep latitude and longitude, or east_m and north_m",
        )
    if not degrees and not metres:
        raise InputError(
            where=f"{table.name}, line 1",
            what="the table has no position columns",
            do="name them latitude and longitude, or east_m and north_m; "
            f"the columns found are {', '.join(table.columns)}",
        )
    return bool(degrees)
