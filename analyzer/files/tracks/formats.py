"""The table of track formats: what each is called, how its files end, how it is recognised and what reads it.

A format is added here and in its own reader; folders, cache keys, recognition and the texts that list formats follow.
Light on purpose: a reader and its library are imported when a file is read.
"""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import import_module
from pathlib import PurePath
from typing import TYPE_CHECKING

from analyzer.files.names import is_meant_as_log
from analyzer.files.tracks.packed import gunzip, is_gzip, is_kmz

if TYPE_CHECKING:
    from analyzer.files.tracks.fixes import Fixes

TOML_ENDING = ".toml"
WAYPOINT_ENDINGS = (".gpx",)
"""Endings of the files beside drill.toml that a drill may take its positions from."""
COMMON_ENDINGS = (".txt", ".json")
"""Endings of files of many kinds: of these only the one called `track` is a run's input, a note stays a note."""
PACKED_ENDING = ".gz"
"""A track may be packed with gzip; the ending of its format stands before this one."""
HEAD_BYTES = 65_536
"""Recognisers look at so much of a file; our own choice, because long comments may stand before the first fix."""


@dataclass(frozen=True, slots=True)
class TrackFormat:
    """One format. A file is of it where `in_bytes`, `xml_root` or its columns say so.

    `endings`: lower case with the dot; a run's track is stored under the first. `read`: bytes, `name`
    and `zone`, of times that bear none, None for none -> fixes.
    `title`: bytes -> name of the track in the file, "" without. `xml_root`: local name of the outermost element.
    `table`: whether it is a table whose columns say what it is.
    """

    name: str
    endings: tuple[str, ...]
    read: "Callable[..., Fixes]"
    in_bytes: Callable[[bytes], bool] | None = None
    xml_root: str = ""
    table: bool = False
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


def _kml(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.kml import parse_kml

    return parse_kml(data, name=name, zone=zone)


def _kmz(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.kml import parse_kmz

    return parse_kmz(data, name=name, zone=zone)


def _geojson(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.geojson import parse_geojson

    return parse_geojson(data, name=name, zone=zone)


def _ubx(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.ubx import parse_ubx

    del zone  # its times are UTC by the protocol
    return parse_ubx(data, name=name)


def _pos(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.pos_solution import parse_pos_solution

    del zone  # its first column says which clock it is
    return parse_pos_solution(data, name=name)


def _igc(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.igc import parse_igc

    del zone  # its times are UTC by the specification
    return parse_igc(data, name=name)


def _gnss_log(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    from analyzer.files.tracks.gnss_log import parse_gnss_log

    del zone  # its times count from 1970 UTC
    return parse_gnss_log(data, name=name)


def _of_head(module: str, function: str) -> Callable[[bytes], bool]:
    """Return a recogniser that is imported when the first file is looked at, and sees the first 64 kB."""

    def recogniser(data: bytes) -> bool:
        return bool(getattr(import_module(f"analyzer.files.tracks.{module}"), function)(data[:HEAD_BYTES]))

    return recogniser


FORMATS: tuple[TrackFormat, ...] = (
    TrackFormat("GPX", (".gpx",), _gpx, xml_root="gpx", title=_gpx_title),
    TrackFormat("CSV", (".csv",), _csv, table=True),
    # Before NMEA: a log with both states the accuracy of each fix in its binary messages.
    TrackFormat("UBX", (".ubx",), _ubx, in_bytes=_of_head("ubx", "is_ubx")),
    TrackFormat("NMEA", (".nmea",), _nmea, in_bytes=_of_head("nmea_text", "is_nmea")),
    TrackFormat("FIT", (".fit",), _fit, in_bytes=lambda data: data[8:12] == b".FIT"),
    TrackFormat("TCX", (".tcx",), _tcx, xml_root="TrainingCenterDatabase"),
    TrackFormat("KML", (".kml",), _kml, xml_root="kml"),
    TrackFormat("KMZ", (".kmz",), _kmz, in_bytes=is_kmz),
    TrackFormat("GeoJSON", (".geojson", ".json"), _geojson, in_bytes=_of_head("geojson", "is_geojson")),
    TrackFormat("IGC", (".igc",), _igc, in_bytes=_of_head("igc", "is_igc")),
    TrackFormat("POS", (".pos",), _pos, in_bytes=_of_head("pos_solution", "is_pos_solution")),
    TrackFormat("GNSS log", (".txt",), _gnss_log, in_bytes=_of_head("gnss_log", "is_gnss_log")),
)


def track_endings() -> tuple[str, ...]:
    """Return the endings of all formats."""
    return tuple(ending for form in FORMATS for ending in form.endings)


def run_endings() -> tuple[str, ...]:
    """Return the endings of the files that a run folder is read from; its tables are CSV."""
    return (*track_endings(), TOML_ENDING)


def is_track_name(file: str) -> bool:
    """Return whether a file of a run folder is called as its track must be, in capitals or not, packed or not."""
    path = PurePath(_unpacked_name(file))
    return path.stem == "track" and path.suffix in track_endings()


def is_run_input(file: str) -> bool:
    """Return whether a file of a run folder is one that is read, or would be under its proper name."""
    ending = PurePath(_unpacked_name(file)).suffix
    own = ending in run_endings() and ending not in COMMON_ENDINGS
    return (own or is_track_name(file) or is_meant_as_log(file)) and file[:1] not in (".", "~")


def format_named(file: str) -> TrackFormat:
    """Return the format of a file by its ending, which must be one of `track_endings()`, packed or not."""
    ending = PurePath(_unpacked_name(file)).suffix
    return next(form for form in FORMATS if ending in form.endings)


def read_track(data: bytes, *, name: str, zone: dt.tzinfo | None = None) -> "Fixes":
    """Return the fixes of a track by the ending of its name; what is packed with gzip is unpacked first.

    Raises
    ------
    InputError
        As the reader of its format; where the packed data is damaged or too large.
    """
    content = gunzip(data, name=name) if is_gzip(data) else data
    return format_named(name).read(content, name=name, zone=zone)


def _unpacked_name(file: str) -> str:
    return file.lower().removesuffix(PACKED_ENDING)


def format_in_bytes(data: bytes) -> TrackFormat | None:
    """Return the format that bytes show of themselves, None where they do not."""
    return next((form for form in FORMATS if form.in_bytes is not None and form.in_bytes(data)), None)


def format_of_xml(root: str) -> TrackFormat | None:
    """Return the format with an outermost XML element of that local name, None where there is none."""
    return next((form for form in FORMATS if form.xml_root and form.xml_root == root), None)


def format_of_table() -> TrackFormat:
    """Return the format of tables."""
    return next(form for form in FORMATS if form.table)


def listed(words: Iterable[str], last: str) -> str:
    """Return "a, b {last} c"."""
    *most, end = words
    return f"{', '.join(most)} {last} {end}" if most else end
