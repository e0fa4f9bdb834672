"""The table of formats on real recordings: `python -m tests.real.formats_table [FOLDER ...]`.

Each file below the folders (default: the real recordings) is read as Load reads it, and its length is compared with
that of positions that a few lines of text parsing, or fitparse where it is installed, take from it. Lengths are
geodesics of GeographicLib.
"""

import os
import re
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from geographiclib.geodesic import Geodesic

from analyzer.errors import InputError
from analyzer.files.tracks.formats import read_track, track_endings
from analyzer.files.tracks.track import timed
from analyzer.workspace.intake.model import TRACK
from analyzer.workspace.intake.recognise import recognise

ROOT = Path(__file__).parents[2]
DATA = ROOT / os.environ.get("SEARCHWAKE_REALDATA", "../shared/realdata")
RIGHTLY = {
    "no_times.kml": "a drawn line without times",
    "timed_multitrack.kml": "two recordings of one time",
    "runs_back.nmea": "two of eight times run back",
    "other_sentences.nmea": "binary messages of one receiver family, no sentence of positions",
    "phone_gnss_log.txt": "raw measurements without a position",
    "ntu_2022-10-08_roof_ublox.csv": "a table without a header",
    "ucalgary_tdcp_uwb_all_data.csv": "places of two devices in three kinds, and times of day without a date",
    "dup-fixes.igc": "several places for one second",
}
"""Refused files that nobody could use, and why."""
KINDS = {
    ".fit": "FIT",
    ".csv": "CSV",
    ".nmea": "NMEA",
    ".log": "NMEA",
    ".kml": "KML",
    ".igc": "IGC",
    ".txt": "GNSS log",
}

Place = tuple[float, float]


@dataclass
class Row:
    """What became of the files of one kind."""

    files: int = 0
    read: int = 0
    opened: int = 0
    rightly: int = 0
    wrongly: list[str] = field(default_factory=list)
    ratios: list[float] = field(default_factory=list)


def length_m(places: Iterable[Place]) -> float:
    """Return the length of a polyline of (latitude, longitude)."""
    points = list(places)
    return sum(Geodesic.WGS84.Inverse(*a, *b)["s12"] for a, b in pairwise(points))


def text_of(path: Path) -> str:
    return path.read_bytes().decode("latin-1")


def of_gpx(path: Path) -> list[Place]:
    points = re.findall(r"<(?:\w+:)?trkpt\s([^>]*)>(.*?)</(?:\w+:)?trkpt>", text_of(path), re.DOTALL)
    tags = [tag for tag, inside in points if "time>" in inside]
    return [tuple(float(re.search(rf'{k}\s*=\s*["\']([^"\']+)', t)[1]) for k in ("lat", "lon")) for t in tags]


def of_tcx(path: Path) -> list[Place]:
    pair = r"<LatitudeDegrees>([^<]+)</LatitudeDegrees>\s*<LongitudeDegrees>([^<]+)<"
    points = re.findall(r"<Trackpoint>.*?</Trackpoint>", text_of(path), re.DOTALL)
    return [(float(m[1]), float(m[2])) for p in points if (m := re.search(pair, p))]


def of_kml(path: Path) -> list[Place]:
    return [(float(b), float(a)) for a, b in re.findall(r"<gx:coord>\s*(\S+)\s+(\S+)", text_of(path))]


def of_nmea(path: Path) -> list[Place]:
    pattern = r"\$..GGA,\d[^,]*,(\d\d)(\d\d\.\d+),([NS]),(\d{3})(\d\d\.\d+),([EW]),[1-9]"
    found = re.findall(pattern, text_of(path))
    return [
        ((int(a) + float(b) / 60) * (-1 if n == "S" else 1), (int(c) + float(d) / 60) * (-1 if e == "W" else 1))
        for a, b, n, c, d, e in found
    ]


def of_igc(path: Path) -> list[Place]:
    """Return the places to a thousandth of a minute, without the further digits that some recorders add."""
    found = re.findall(r"^B\d{6}(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])A", text_of(path), re.MULTILINE)
    return [
        ((int(a) + int(b) / 60_000) * (-1 if n == "S" else 1), (int(c) + int(d) / 60_000) * (-1 if e == "W" else 1))
        for a, b, n, c, d, e in found
    ]


def of_gnss_log(path: Path) -> list[Place]:
    cells = [line.split(",") for line in text_of(path).splitlines() if line.startswith("Fix,")]
    own = [c for c in cells if c[1] == "GPS"] or cells
    return [(float(c[2]), float(c[3])) for c in own]


def of_csv(path: Path) -> list[Place]:
    """Return the places in the columns whose names hold the words, of rows that have both; split at commas."""
    lines = [line.replace('"', "").split(",") for line in text_of(path).splitlines()]
    columns = [next(i for i, c in enumerate(lines[0]) if word in c.lower()) for word in ("latitude", "longitude")]
    pairs = [[cells[i] for i in columns] for cells in lines[1:] if len(cells) > max(columns)]
    return [(float(a), float(b)) for a, b in pairs if a and b]


def of_fit(path: Path) -> list[Place]:
    """Return the places that another library reads, none where it is not there or refuses the file."""
    try:
        from fitparse import FitFile
    except ImportError:
        return []
    try:
        rows = [m.get_values() for m in FitFile(str(path)).get_messages("record")]
    except Exception:  # whatever that library raises: then there is nothing to compare with
        return []
    pairs = [(r.get("position_lat"), r.get("position_long")) for r in rows]
    return [(a * 180 / 2**31, b * 180 / 2**31) for a, b in pairs if a is not None and b is not None]


OTHERS: dict[str, Callable[[Path], list[Place]]] = {
    "GPX": of_gpx, "TCX": of_tcx, "KML": of_kml, "NMEA": of_nmea, "IGC": of_igc, "GNSS log": of_gnss_log, "FIT": of_fit,
    "CSV": of_csv,
}  # fmt: skip


def kind_of(path: Path) -> str:
    return KINDS.get(path.suffix.lower(), path.suffix.lower().removeprefix(".").upper())


def look_at(path: Path, row: Row) -> None:
    """Read one file, and put what became of it into the row of its kind."""
    data = path.read_bytes()
    found = recognise(data, name=path.name)
    row.files += 1
    if found.kind == TRACK and (found.ending and not found.problem):
        row.read += 1
    elif found.ending:
        row.opened += 1
    elif path.name in RIGHTLY:
        row.rightly += 1
        return
    else:
        row.wrongly.append(f"{path.name}: {found.problem}")
        return
    own = read_track(data, name=f"x{found.ending}")
    own = own if own.parts else timed(own)[0]
    places = OTHERS[kind_of(path)](path) if kind_of(path) in OTHERS else []
    other = length_m(place for place in places if abs(place[0]) <= 90.0)
    if other > 0.0:
        row.ratios.append(length_m(zip(own.first.tolist(), own.second.tolist(), strict=True)) / other)


def table(folders: list[Path]) -> Iterator[str]:
    """Yield the lines of the table, and the line of each file that was wrongly refused."""
    rows: dict[str, Row] = defaultdict(Row)
    endings = {*KINDS, *track_endings()}
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.suffix.lower() in endings and "LICENSES" not in path.parts:
                try:
                    look_at(path, rows[kind_of(path)])
                except InputError as error:
                    rows[kind_of(path)].wrongly.append(str(error))
    yield (
        "| kind | files | read | opened into its tracks | rightly refused | wrongly refused "
        "| length over that of another reading |"
    )
    yield "|---|---|---|---|---|---|---|"
    for kind, row in sorted(rows.items()):
        span = f"{min(row.ratios):.3f} to {max(row.ratios):.3f} ({len(row.ratios)})" if row.ratios else "-"
        yield f"| {kind} | {row.files} | {row.read} | {row.opened} | {row.rightly} | {len(row.wrongly)} | {span} |"
    for row in rows.values():
        yield from row.wrongly


if __name__ == "__main__":
    sys.stdout.write("".join(f"{line}\n" for line in table([Path(argument) for argument in sys.argv[1:]] or [DATA])))
