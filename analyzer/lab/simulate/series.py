"""Position errors that real recorders made, as text to noise series. The caller reads the file.

Two layouts: our own, `time_s,east_m,north_m`; and a table of phones carried on foot beside a survey-grade receiver
(columns per phone: single-epoch fix, carrier-smoothed fix, reference; UTM metres; 0.0 stands for missing; times
HH.MM.SS), of which the differences to the reference are taken.
"""

import csv
import io
import math

import numpy as np

from analyzer.errors import InputError
from analyzer.lab.simulate.noise_models import SeriesNoise
from analyzer.model.arrays import FloatArray

GAP_AT_MOST_S = 5.0
LEAST_S = 60.0
FARTHEST = 1e9
"""Seconds and metres; our own choice, because no error of a recorder is as large, and its square does not overflow."""
PHONE_KINDS = {"single_epoch": ("raw_psr", "_meters_"), "carrier_smoothed": ("adr", "_approx_meters_")}


def series_from_csv(text: str, *, name: str = "noise.csv") -> SeriesNoise:
    """Return the series of a table with columns time_s, east_m, north_m.

    Raises
    ------
    InputError
        Where a column or a number is missing, or times do not rise.
    """
    wanted = ("time_s", "east_m", "north_m")
    found = _rows(text, name)
    missing = [c for c in wanted if not found or c not in found[0]]
    if missing:
        raise InputError(
            where=f"{name}, line 1",
            what=f"the column {missing[0]} is missing",
            do="name the columns time_s, east_m, north_m",
        )
    rows: list[list[float]] = []
    for line, row in enumerate(found, start=2):
        try:
            values = [float(row[c]) for c in wanted]
        except (TypeError, ValueError):
            values = [math.nan]
        if not all(abs(value) <= FARTHEST for value in values) or (rows and values[0] <= rows[-1][0]):
            raise InputError(
                where=f"{name}, line {line}",
                what="not three numbers, or a time that does not rise",
                do="write seconds, metres, metres, in time order",
            )
        rows.append(values)
    if len(rows) < 2:
        raise InputError(where=name, what=f"{len(rows)} rows are no series", do="give at least a minute of errors")
    table = np.array(rows)
    return SeriesNoise(table[:, 0], table[:, 1:], name)


def _rows(text: str, name: str) -> list[dict[str, str]]:
    try:
        return list(csv.DictReader(io.StringIO(text)))
    except csv.Error as error:
        raise InputError(
            where=name, what=f"the rows cannot be split into cells ({error})", do="check quotation marks and line ends"
        ) from None


def phone_series(text: str, *, kind: str = "single_epoch", unit: str = "uut1") -> tuple[SeriesNoise, ...]:
    """Return the errors of one phone, cut at gaps of more than 5 s, pieces of a minute and more.

    Parameters
    ----------
    text : str
        The table described above.
    kind : {"single_epoch", "carrier_smoothed"}
    unit : {"uut1", "uut2"}
        Which phone: uut1 walked, uut2 mostly stood.

    Raises
    ------
    InputError
        Where it is another table.
    """
    try:
        pieces = _phone_pieces(text, kind, unit)
    except (csv.Error, KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(
            where="the table of phones",
            what=f"it is not as it was published ({type(error).__name__})",
            do="copy it again from where it came",
        ) from None
    long = [np.array(p) for p in pieces if p[-1][0] - p[0][0] >= LEAST_S]
    return tuple(_as_series(p, f"{kind} {unit} piece {i + 1}") for i, p in enumerate(long))


def _phone_pieces(text: str, kind: str, unit: str) -> list[list[tuple[float, float, float]]]:
    """Return time, east and north of the errors of one phone, in pieces without gaps."""
    column, tail = PHONE_KINDS[kind]
    pieces: list[list[tuple[float, float, float]]] = []
    last = None
    for row in csv.DictReader(io.StringIO(text)):
        fix = [float(row[f"{column}_UTM11_{axis}{tail}{unit}"]) for axis in ("easting", "northing")]
        reference = [float(row[f"rtk_reference_UTM11_{axis}_meters_{unit}"]) for axis in ("easting", "northing")]
        if 0.0 in (*fix, *reference):
            continue
        hours, minutes, seconds = (float(part) for part in row["timestamp"].split(".")[:3])
        at = 3600.0 * hours + 60.0 * minutes + seconds
        if last is None or last[0] != row["test_run"] or not 0.0 < at - last[1] <= GAP_AT_MOST_S:
            pieces.append([])
        pieces[-1].append((at, fix[0] - reference[0], fix[1] - reference[1]))
        last = (row["test_run"], at)
    return pieces


def _as_series(piece: FloatArray, name: str) -> SeriesNoise:
    return SeriesNoise(piece[:, 0] - piece[0, 0], piece[:, 1:], name)
