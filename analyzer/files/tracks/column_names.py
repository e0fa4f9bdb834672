"""What columns of track tables are called: by this program, and by exports of phones, loggers and web pages."""

import datetime as dt
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted
from analyzer.files.day_times import zone_of_unit
from analyzer.files.log_words import HOURS_TOO, SECONDS
from analyzer.files.times import zone_of

TIME, DATE, ELAPSED = "time", "date", "elapsed"
LATITUDE, LONGITUDE, NORTH_SOUTH, EAST_WEST = "latitude", "longitude", "letter N or S", "letter E or W"
EAST, NORTH, ELEVATION = "east_m", "north_m", "elevation"
SIGMA, RADIUS, HDOP = "sigma_m", "accuracy", "hdop"
SIGMA_EAST, SIGMA_NORTH = "deviation east", "deviation north"
VARIANCE_EAST, VARIANCE_NORTH = "variance east", "variance north"
PROVIDER = "provider"

NAMES: dict[str, tuple[str, ...]] = {
    TIME: (
        "time utc", "utc time", "utc", "utc datetime", "datetime utc", "timestamp utc", "stamp", "timestamp",
        "time stamp", "unix time millis", "unix time", "unix timestamp", "timestamp ms", "time ms", "epoch",
        "epoch time", "epoch ms", "epoch seconds", "iso time", "iso8601", "datetime", "date time",
        "date and time", "time", "recorded at", "local time", "zeitstempel", "zeitpunkt", "datum zeit",
        "datum uhrzeit", "zeit", "uhrzeit", "horodatage", "date heure", "heure", "temps", "data ora", "ora",
        "orario", "fecha hora", "hora", "tijdstip", "tijd", "tidspunkt", "tidpunkt", "tid", "datum čas", "čas",
        "czas",
    ),
    DATE: ("utc date", "date utc", "date", "local date", "datum", "data", "fecha", "dato", "giorno", "jour"),
    ELAPSED: (
        "elapsed", "elapsed s", "elapsed seconds", "seconds elapsed", "elapsed time", "time s", "seconds",
        "sekunden",
    ),
    LATITUDE: (
        "latitude", "lat", "latitude degrees", "latitude deg", "lat degrees", "lat deg", "latitude decimal",
        "latitude n/s", "gps latitude", "gps lat", "position lat", "position latitude", "location latitude",
        "location lat", "breite", "breitengrad", "geographische breite", "latitudine", "latitud",
        "breedtegraad", "breddegrad", "breddgrad", "zeměpisná šířka", "szerokość geograficzna",
    ),
    LONGITUDE: (
        "longitude", "lon", "lng", "long", "longitude degrees", "longitude deg", "lon degrees", "lon deg",
        "lng deg", "long deg", "longitude decimal", "longitude e/w", "gps longitude", "gps lon", "gps lng",
        "gps long", "position lon", "position lng", "position long", "position longitude", "location longitude",
        "location lon", "location lng", "länge", "laenge", "längengrad", "laengengrad", "geographische länge",
        "longitudine", "longitud", "lengtegraad", "lengdegrad", "längdgrad", "zeměpisná délka",
        "długość geograficzna",
    ),
    NORTH_SOUTH: ("n/s", "latitude hemisphere", "lat hemisphere", "lat dir"),
    EAST_WEST: ("e/w", "longitude hemisphere", "lon hemisphere", "lon dir"),
    EAST: ("east_m",),
    NORTH: ("north_m",),
    ELEVATION: (
        "elevation m", "elevation", "ele", "altitude", "alt", "altitude meters", "altitude m", "height",
        "height m", "altitude msl", "höhe", "hoehe", "höhe m", "meereshöhe", "quota", "altitudine", "altura",
        "altitud", "hoogte", "høyde", "höjd",
    ),
    SIGMA: ("sigma_m",),
    SIGMA_EAST: ("sde", "sd east", "std east"),
    SIGMA_NORTH: ("sdn", "sd north", "std north"),
    VARIANCE_EAST: ("position_covariance0", "position_covariance_0", "position_covariance[0]"),
    VARIANCE_NORTH: ("position_covariance4", "position_covariance_4", "position_covariance[4]"),
    RADIUS: (
        "accuracy horizontal", "horizontal accuracy", "h acc", "accuracy meters", "horizontal accuracy meters",
        "horizontal accuracy m", "accuracy m", "gps accuracy", "location accuracy", "position accuracy",
        "accuracy", "genauigkeit", "précision", "precisione", "precisión", "nauwkeurigheid", "nøyaktighet",
        "noggrannhet",
    ),
    HDOP: ("hdop",),
    PROVIDER: ("provider", "location provider"),
}  # fmt: skip
"""Names of a column by what it holds, the one to be preferred first. Case, accents, blanks, signs, units in brackets
and what stands before the last point of a name do not count."""

FEET_M = 0.3048
UNITS_M = {"": 1.0, "m": 1.0, "meter": 1.0, "meters": 1.0, "metres": 1.0, "metri": 1.0, "ft": FEET_M, "feet": FEET_M}
"""Units of lengths that stand in brackets behind a name."""
LENGTHS = (ELEVATION, RADIUS)
UNITS_ELAPSED = SECONDS | HOURS_TOO | {"", "m:ss", "mm:ss", "mm:ss.s"}
"""What may stand in brackets behind a name of times since the start: seconds, or what is written with colons."""
NO_DEGREES = frozenset({"rad", "radians", "semicircles"})
CERTAIN = (LATITUDE, LONGITUDE, NORTH_SOUTH, EAST_WEST, EAST, NORTH, SIGMA, HDOP)
"""Of these a table has one column; of others the preferred one is taken, and told."""
_UNIT = re.compile(r"[\[(]([^\[\]()]*)[\])]")
_WORD = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])")
_LATITUDES, _LONGITUDES = frozenset({"lat", "latitude"}), frozenset({"lon", "lng", "long", "longitude"})


def _plain(text: str) -> str:
    """Return a name without case, accents, blanks and signs."""
    return "".join(c for c in unicodedata.normalize("NFKD", text).casefold() if c.isalnum())


MOST_NAMED, FEW_NAMED = 12, 3
"""So many columns are named in a line; our own choice, because one line has room for no more."""
LONGEST = 80
"""Characters of a name; a longer text is none, and costs the patterns more than its length."""
_MEANINGS = {_plain(name): (meaning, rank) for meaning, names in NAMES.items() for rank, name in enumerate(names)}


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column holds what. `at`: number of the column by meaning; `factor`: of a length, to metres. `zone`: the one
    that the name of the time says, None where it says none. `told`: which columns are passed over, in words."""

    names: tuple[str, ...]
    at: dict[str, int]
    factor: dict[str, float]
    zone: dt.tzinfo | None
    told: tuple[str, ...]

    def called(self, meaning: str) -> str:
        """Return the name of a column as the table has it."""
        return self.names[self.at[meaning]]


def _known(name: str) -> tuple[str, int, float] | None:
    """Return what a column holds, how far behind in preference its name is, and its factor to metres."""
    if len(name) > LONGEST:
        return None
    unit = " ".join(_UNIT.findall(name)).strip().casefold()
    bare = _UNIT.sub(" ", name)
    tries = (name, bare, name.rpartition(".")[2], bare.rpartition(".")[2])
    found = next((_MEANINGS[p] for p in map(_plain, tries) if p in _MEANINGS), None)
    if found is None or (found[0] in (LATITUDE, LONGITUDE) and unit in NO_DEGREES):
        return None
    if (found[0] in LENGTHS and unit not in UNITS_M) or (found[0] == ELAPSED and unit not in UNITS_ELAPSED):
        return None
    return (*found, UNITS_M[unit] if found[0] in LENGTHS else 1.0)


def is_header(names: Sequence[str]) -> bool:
    """Return whether names of columns hold both of a pair of coordinates."""
    found = {known[0] for name in names if (known := _known(name)) is not None}
    return {LATITUDE, LONGITUDE} <= found or {EAST, NORTH} <= found


def may_be_header(names: Sequence[str]) -> bool:
    """Return whether names of columns speak of latitudes and longitudes in some way."""
    return bool(_speaking(names, _LATITUDES) and _speaking(names, _LONGITUDES))


def _speaking(names: Sequence[str], words: frozenset[str]) -> list[str]:
    return [n for n in names if len(n) <= LONGEST and words & {w.casefold() for w in _WORD.findall(n)}]


def columns_of(names: Sequence[str], *, where: str) -> Columns:
    """Return which of the columns of a header holds what.

    Raises
    ------
    InputError
        Where a column that is needed is missing, or two hold the same and none is to be preferred.
    """
    names = tuple(name.strip().lstrip("#%").strip() for name in names)
    found: dict[str, list[tuple[int, int, float]]] = {}
    for column, name in enumerate(names):
        if (known := _known(name)) is not None:
            found.setdefault(known[0], []).append((known[1], column, known[2]))
    for meaning, those in found.items():
        those.sort()
        same = len(those) > 1 and (meaning in CERTAIN or those[0][0] == those[1][0])
        if same:
            raise _twice(meaning, [names[column] for _, column, _ in those], where)
    _check_needed(found, names, where)
    at = {meaning: those[0][1] for meaning, those in found.items()}
    if TIME in at or DATE in at:
        at.pop(ELAPSED, None)
    used = {column for those in found.values() for _, column, _ in those} if ELAPSED not in found else set(at.values())
    unused = [name for column, name in enumerate(names) if name and column not in used]
    told = tuple(
        f"{meaning} is taken from {quoted(names[at[meaning]])}, not from "
        f"{' and '.join(quoted(names[c]) for _, c, _ in those[1:])}"
        for meaning, those in found.items()
        if len(those) > 1
    )
    told += (f"columns not used: {listed_names(unused, MOST_NAMED)}",) if unused else ()
    zone = _zone(names[at[TIME]]) if TIME in at else None
    return Columns(names, at, {m: those[0][2] for m, those in found.items()}, zone, told)


def _zone(name: str) -> dt.tzinfo | None:
    """Return the zone that the name of a column of times says: "time (UTC+1)", "UTC time"; None where none."""
    told = (zone_of_unit(unit) or zone_of(unit.strip()) for unit in _UNIT.findall(name))
    of_utc = {"utc", "gmt"} & set(re.findall(r"[a-z]+", name.casefold()))
    return next((zone for zone in told if zone is not None), dt.UTC if of_utc else None)


def listed_names(names: Sequence[str], most: int) -> str:
    """Return names of columns, and how many more there are than `most`."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _twice(meaning: str, names: Sequence[str], where: str) -> InputError:
    if len({n.casefold() for n in names}) == 1:
        return InputError(where=where, what=f"the column {quoted(names[0])} appears twice", do="keep one of them")
    told = " and ".join(quoted(n) for n in names)
    return InputError(
        where=where, what=f"the columns {told} both hold the {meaning}", do="keep the one that counts, remove the other"
    )


def _check_needed(found: dict[str, list[tuple[int, int, float]]], names: Sequence[str], where: str) -> None:
    """Raise `InputError` where a table has no time, no place, half a place, or places in degrees and in metres."""
    shown = listed_names([n for n in names if n], MOST_NAMED)
    degrees, metres = [m for m in (LATITUDE, LONGITUDE) if m in found], [m for m in (EAST, NORTH) if m in found]
    if degrees and metres:
        raise InputError(
            where=where,
            what="the table has degrees and metres",
            do="keep latitude and longitude, or east_m and north_m",
        )
    if not degrees and not metres:
        near = _speaking(names, _LATITUDES) if may_be_header(names) else []
        raise InputError(
            where=where,
            what=f"no column is certain to hold the latitude, and these may: {listed_names(near, FEW_NAMED)}"
            if near
            else "the table has no position columns",
            do="name them latitude and longitude, or east_m and north_m; " + f"the columns found are {shown}",
        )
    missing = [m for m in ((LATITUDE, LONGITUDE) if degrees else (EAST, NORTH)) if m not in found]
    missing += [] if {TIME, DATE, ELAPSED} & set(found) else [TIME]
    other = [n for n in names if _plain(_UNIT.sub(" ", n)) in map(_plain, NAMES[ELAPSED])]
    if missing == [TIME] and other:
        what = f"the column {quoted(other[0])} is not in seconds"
        raise InputError(where=where, what=what, do="write seconds, or a column of times")
    if missing:
        raise InputError(
            where=where, what=f"the column {quoted(missing[0])} is missing", do=f"add it; the columns found are {shown}"
        )
