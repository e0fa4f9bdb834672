"""The table of track formats: what each is called, how its files end, how it is recognised and what reads it.

A format is added here and in its own reader; folders, cache keys, recognition and the texts that list formats follow.
Light on purpose: a reader and its library are imported when a file is read.
"""

import datetime as dt
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analyzer.files.tracks.fixes import Fixes

TOML_ENDING = ".toml"
WAYPOINT_ENDINGS = (".gpx",)
"""Endings of the files beside drill.toml that a drill may take its positions from."""
SENTENCE_BODY = rb"[ -#%-)+-~]{0,250}+"
"""What stands between name and checksum of an NMEA sentence: no $ and no *, which begin and end one. The standard has
82 characters at most; 250 is our own choice, because some receivers write more digits."""
_NMEA_SENTENCE = re.compile(rb"\$[A-Z]{2}[A-Z]{3}," + SENTENCE_BODY + rb"\*[0-9A-Fa-f]{2}")


@dataclass(frozen=True, slots=True)
class TrackFormat:
    """One format. A file is of it where any of `in_bytes`, `xml_root` and `columns` says so.

    `endings`: lower case with the dot; a run's track is stored under the first. `read`: bytes, `name`
    and `zone`, of times that bear none, None for none -> fixes.
    `title`: bytes -> name of the track in the file, "" without. `xml_root`: local name of the outermost element.
    `columns`: sets of column names, lower case, of which a table has all of one.
    """

    name: str
    endings: tuple[str, ...]
    read: "Callable[..., Fixes]"
    in_bytes: Callable[[bytes], bool] | None = None
    xml_root: str = ""
    columns: tuple[frozenset[str], ...] = ()
    title: Callable[[bytes], str] | None = None


def _gpx(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.gpx import parse_gpx

    return parse_gpx(data, name=name, zone=zone)


def _gpx_title(data: bytes) -> str:
    from analyzer.files.tracks.gpx import track_title

    return track_title(data)


def _csv(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.track_csv import parse_track_csv

    return parse_track_csv(data, name=name, zone=zone)


def _nmea(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.nmea import parse_nmea

    del zone  # its times are UTC by the standard
    return parse_nmea(data, name=name)


def _fit(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.fit import parse_fit

    del zone  # its times are UTC by the standard
    return parse_fit(data, name=name)


def _tcx(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.tcx import parse_tcx

    return parse_tcx(data, name=name, zone=zone)


FORMATS: tuple[TrackFormat, ...] = (
    TrackFormat("GPX", (".gpx",), _gpx, xml_root="gpx", title=_gpx_title),
    TrackFormat(
        "CSV", (".csv",), _csv, columns=(frozenset({"latitude", "longitude"}), frozenset({"east_m", "north_m"}))
    ),
    TrackFormat("NMEA", (".nmea",), _nmea, in_bytes=lambda data: bool(_NMEA_SENTENCE.search(data[:65_536]))),
    TrackFormat("FIT", (".fit",), _fit, in_bytes=lambda data: data[8:12] == b".FIT"),
    TrackFormat("TCX", (".tcx",), _tcx, xml_root="TrainingCenterDatabase"),
)


def track_endings() -> tuple[str, ...]:
    """Return the endings of all formats."""
    return tuple(ending for form in FORMATS for ending in form.endings)


def run_endings() -> tuple[str, ...]:
    """Return the endings of the files that a run folder is read from; its tables are CSV."""
    return (*track_endings(), TOML_ENDING)


def format_named(file: str) -> TrackFormat:
    """Return the format of a file by its ending, which must be one of `track_endings()`."""
    ending = PurePath(file).suffix.lower()
    return next(form for form in FORMATS if ending in form.endings)


def format_in_bytes(data: bytes) -> TrackFormat | None:
    """Return the format that bytes show of themselves, None where they do not."""
    return next((form for form in FORMATS if form.in_bytes is not None and form.in_bytes(data)), None)


def format_of_xml(root: str) -> TrackFormat | None:
    """Return the format with an outermost XML element of that local name, None where there is none."""
    return next((form for form in FORMATS if form.xml_root and form.xml_root == root), None)


def format_of_table(columns: Iterable[str]) -> TrackFormat | None:
    """Return the format of a table with these columns, None where there is none."""
    found = set(columns)
    return next((form for form in FORMATS if any(wanted <= found for wanted in form.columns)), None)


def listed(words: Iterable[str], last: str) -> str:
    """Return "a, b {last} c"."""
    *most, end = words
    return f"{', '.join(most)} {last} {end}" if most else end
