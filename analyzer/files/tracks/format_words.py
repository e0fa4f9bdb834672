"""What is read of each track format, and how people get it out of their recorders: the one home of these words.

The Load page shows them, and `python -m tests.support.formats_doc` writes them into docs/formats.md.
"""

from dataclasses import dataclass

from analyzer.files.tracks.formats import FORMATS


@dataclass(frozen=True, slots=True)
class FormatWords:
    """One format in words. `endings`: as `TrackFormat`. `read`: what is read of a file; `accuracy`: what of it says how
    exact the fixes are; `times`: whose clock they are on; `get`: which recorders write it, and how."""

    name: str
    endings: tuple[str, ...]
    read: str
    accuracy: str
    times: str
    get: str


@dataclass(frozen=True, slots=True)
class RecorderWords:
    """A common kind of recorder, and what to take from it."""

    kind: str
    take: str


_LIKE_GPX = "with offset, else `zone` of `run.toml`, else the offset that the drill's `start` is written with"
_OFFSET = "with offset, else as GPX"
_WORDS = {
    "GPX": (
        "track points of GPX 1.0 and 1.1; routes are plans and refused",
        "`sigma_m` of our own, else a radius (`hAcc`, `accuracy`, ...); HDOP as a hint",
        _LIKE_GPX,
        "most phones, handhelds and web pages: export the recorded track, with times",
    ),
    "CSV": (
        "a time with latitude and longitude, or with `east_m, north_m`; columns by many names",
        "`sigma_m`, deviations or variances east and north, else an accuracy as a radius; `hdop` as a hint",
        "with offset, in UTC, since 1970, else as GPX",
        "loggers, survey software, and anything else: a table with `time, latitude, longitude`",
    ),
    "UBX": (
        "binary messages NAV-PVT; other messages and NMEA between them are passed over",
        "horizontal accuracy, as a radius",
        "UTC",
        "receiver modules and loggers that store what the chip sends: switch NAV-PVT on",
    ),
    "NMEA": (
        "GGA, else RMC; UTF-16 too; without checksums only where no sentence of the log has one, and told",
        "GST; HDOP as a hint",
        "UTC; the date from RMC or ZDA, else the drill's",
        "loggers and survey receivers: log GGA, RMC and GST at one a second or more",
    ),
    "FIT": (
        "record messages, else a camera's position messages; files chained in one",
        "`gps_accuracy`, as a radius",
        "UTC; seconds since power-on with a correlation message",
        "watches and handhelds: the original file of the activity; record every second",
    ),
    "TCX": (
        "track points of activities",
        "as GPX",
        _OFFSET,
        "web pages for training: export the activity, where its original file is not offered",
    ),
    "KML": (
        "tracks with times (`gx:Track`, `gx:MultiTrack`), else placemarks with a time stamp; drawn lines have no times "
        "and are refused",
        "a list called `accuracy`, as a radius",
        _OFFSET,
        "phones and map programs: export with times; a file for maps alone has none",
    ),
    "KMZ": ("the KML file in it, pictures left aside", "as KML", "as KML", "as KML, packed by the program"),
    "GeoJSON": (
        "lines with `coordTimes`, `times`, `timestamps` or `time` for each position (also in `coordinateProperties`), "
        "else points with `time`, `timestamp`, `datetime`, `when` or `date`",
        "`accuracy` and the like, as a radius",
        "with offset, else as GPX; numbers are seconds or milliseconds since 1970",
        "map programs and own scripts: keep a time for each position",
    ),
    "IGC": (
        "B records with a three-dimensional fix; further digits LAD, LOD and TDS",
        "FXA, as a radius of 95.45 %",
        "UTC; the date from HFDTE, else the drill's",
        "flight recorders: the file as it is",
    ),
    "POS": (
        "text solutions of post-processing in latitude and longitude, header switched on",
        "`sdn`, `sde`",
        "GPS time (less its leap seconds), UTC or Japan's time, as the first column says",
        "survey receivers: the solution of post-processing as text, in latitude and longitude",
    ),
    "GNSS log": (
        "`Fix` lines of a phone's raw log, of one provider: the receiver, else the mixed one, else the most frequent",
        "`AccuracyMeters`, as a radius",
        "milliseconds since 1970",
        "phones with a program that logs raw measurements: the text file",
    ),
}
FORMAT_WORDS = tuple(FormatWords(form.name, form.endings, *_WORDS[form.name]) for form in FORMATS)
RECORDERS = (
    RecorderWords(
        "Watches and handhelds",
        'the original file of the activity (FIT), else GPX or TCX with times; record every second, not "smart"',
    ),
    RecorderWords("Phones", "GPX, or KML with times. An export for maps alone has no times"),
    RecorderWords(
        "Loggers and survey receivers",
        "NMEA with GGA, RMC and GST at one a second or more; or UBX with NAV-PVT; or the solution of post-processing "
        "as text in latitude and longitude with its header",
    ),
    RecorderWords("Flight recorders", "IGC as it is"),
    RecorderWords("Cameras", "the FIT file beside the film, where there is one: a film alone is not read"),
    RecorderWords("Anything else", "a table with `time, latitude, longitude`, saved as CSV"),
)


def formats_table() -> str:
    """Return the formats as a table in Markdown."""
    cells = [
        (w.name, ", ".join(f"`{ending}`" for ending in w.endings), w.read, w.accuracy, w.times, w.get)
        for w in FORMAT_WORDS
    ]
    rows = [f"| {' | '.join(row)} |" for row in cells]
    head = "| format | endings | what is read of it | accuracy | times | how to get it |\n|---|---|---|---|---|---|"
    return "\n".join([head, *rows]) + "\n"


def recorders_list() -> str:
    """Return what to take from which recorder as a list in Markdown."""
    return "".join(f"- **{one.kind}**: {one.take}.\n" for one in RECORDERS)
