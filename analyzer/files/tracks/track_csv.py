"""track.csv: positions in degrees or in metres, for recorders of any kind."""

import datetime as dt

import numpy as np

from analyzer.errors import InputError
from analyzer.files.table import Table, parse_table
from analyzer.files.times import parse_utc
from analyzer.files.tracks.fixes import Fixes, decimal_step
from analyzer.model.arrays import FloatArray

OPTIONAL = ("elevation_m", "sigma_m", "hdop")


def parse_track_csv(data: bytes, *, name: str = "track.csv", zone: dt.tzinfo | None = None) -> Fixes:
    """Return the fixes of a table with `time` and `latitude`, `longitude` (degrees) or `east_m`, `north_m` (metres).

    `elevation_m`, `sigma_m` (one-axis standard deviation) and `hdop` are optional; other columns are left unread.
    `zone`: of times that bear none.

    Raises
    ------
    InputError
        Where a column is missing, or a cell is not a number or a time; the line is named.
    """
    table = parse_table(data, name=name)
    table.need("time")
    geographic = _geographic(table)
    first, second = ("latitude", "longitude") if geographic else ("east_m", "north_m")
    table.need(first, second)
    rows = table.rows
    firsts = np.array([row.number(first) for row in rows])
    seconds = np.array([row.number(second) for row in rows])
    optional = {c: np.array([row.number(c, needed=False) for row in rows]) for c in OPTIONAL}
    _check_sigmas(table, optional["sigma_m"])
    return Fixes(
        name=name,
        unit="line",
        geographic=geographic,
        time_s=np.array(
            [parse_utc(row.cells["time"], where=row.where, zone=zone) if row.cells["time"] else np.nan for row in rows]
        ),
        first=firsts,
        second=seconds,
        number=np.array([row.line for row in rows], float),
        step=decimal_step(firsts, seconds, finest=8 if geographic else 3),
        rows=len(rows),
        elevation_m=optional["elevation_m"],
        sigma_m=optional["sigma_m"],
        hdop=optional["hdop"],
    )


def _check_sigmas(table: Table, sigmas: FloatArray) -> None:
    for row, sigma in zip(table.rows, sigmas, strict=True):
        if sigma <= 0.0:
            raise InputError(
                where=row.where,
                what=f"sigma_m {sigma:g} is not above 0",
                do="leave the cell empty where the accuracy is not known",
            )


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
