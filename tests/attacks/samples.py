"""Good files of every kind to begin from: of sample_tracks, of the simulator's writers, written here, and real ones."""

import gzip
import importlib.util
import json
import os
import re
import struct
import tempfile
from functools import cache, reduce
from pathlib import Path

from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.run_line import run_line
from analyzer.events.files.rules_toml import BUILT_IN, built_in_rules_bytes
from analyzer.events.files.scored_json import SCORED_FILE
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run
from analyzer.files.names import DRILL_FILE
from analyzer.files.results.result_json import result_bytes
from analyzer.files.results.run_line_json import to_json
from analyzer.files.rules_toml import default_rules, default_rules_bytes
from analyzer.files.writers import write_drill_toml
from analyzer.lab.simulate.scenario import simulate_drill, simulate_run
from analyzer.lab.simulate.settings import DrillSettings, ReadingSettings, RecorderSettings, RunSettings
from analyzer.lab.simulate.write import run_files
from analyzer.model.result import RunResult
from tests.support.invented_logs import FILES, GEOJSON, KML, TABLES, kmz_of
from tests.support.sheets import clock, ods, office_parts, open_clock, open_parts, packed, xlsx

ROOT = Path(__file__).resolve().parents[2]
MOST_REAL_BYTES = 400_000
"""Larger real recordings are left out: reading one takes longer than a hundred of the others."""
MOST_FIT_BYTES = 10_000
ENDING_KINDS = {".gpx": "gpx", ".csv": "csv", ".nmea": "nmea", ".log": "nmea", ".fit": "fit", ".tcx": "tcx"}
KINDS_OF_RUNS = (("phone", "logged"), ("watch", "by_hand"), ("survey", "logged"))
FIT_FIRST = 1_100_000_000  # seconds of the FIT epoch, in November 2024

EVENT = b"""[event]
name = "Invented cup"
date = 2026-02-14
rules = "fastest"

[[class]]
id = "open"
name = "Open"

[[field]]
drill = "lower_bowl"
name = "Lower bowl"
time_limit_s = 420

[[entry]]
bib = 1
name = "Mara Lind"
class = "open"

[entry.runs]
lower_bowl = "mara-1"

[[judge]]
bib = 1
field = "lower_bowl"
status = "excluded"
at = 2026-02-14T10:00:00+01:00
by = "Runa Holm"
reason = "left the area"
"""
PEOPLE = b"""[[person]]
name = "Mara Lind"
group = "First season"
consent = true
consent_date = 2026-01-10
spellings = ["Mara", "M. Lind"]
note = "invented"

[[person]]
name = "Ilo Brandt"
consent = false
"""
WAYPOINTS = b"""<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="46.00001" lon="7.00001"><name>A</name></wpt>
<wpt lat="46.00002" lon="7.00012"><ele>12.5</ele><name>B</name></wpt>
</gpx>
"""
SERIES = b"time_s,east_m,north_m\n" + b"".join(b"%d,0.%d,-1.5\n" % (i, i % 10) for i in range(70))


HAND_LOG = b"""sep=;
Lauf von Mara;;;
Datum;Uhrzeit;Anzeige (m);Bemerkung
17.01.2026;09:30:05;38;geradeaus
17.01.2026;09:30:11;31,5 m;"quer,
dann hinauf"
17.01.2026;09:30:20;-;
17.01.2026;09:30:31;340 cm;
"""
HAND_MARKS = b"Laufzeit;Ereignis;Notiz\n0:00;Start;\n0:35;Erste Anzeige;\n6:04;Treffer;1,2 m\n"


def _sheets() -> list[bytes]:
    """Return spreadsheets: written here, part of it unpacked so that a change of a byte is one of a cell, and written
    by a spreadsheet program."""
    rows = [["elapsed", "Anzeige (m)", "note"], [clock(0, 0, 35), 38, "x"], [clock(0, 6, 4), "3,1 m", ""]]
    open_rows = [rows[0], [open_clock(0, 0, 35), 38, "x"], [open_clock(0, 6, 4), "3,1 m", ""]]
    made = [xlsx({"readings": rows, "people": [["Mara"]]}), ods({"readings": open_rows, "people": [["Mara"]]})]
    plain = [
        packed(office_parts({"a": rows}), compressed=False),
        packed(open_parts({"a": open_rows}), compressed=False),
    ]
    files = sorted((ROOT / "tests/data/sheets").glob("*.[xo]*"))
    return [*made, *plain, *plain, *(path.read_bytes() for path in files)]


def _sheets_of_runs() -> list[bytes]:
    """Return workbooks with a sheet for each run; of one that is not packed a change of a byte is one of a cell."""
    rows = [["elapsed", "Anzeige (m)"], [clock(0, 0, 35), 38], [clock(0, 6, 4), "3,1 m"]]
    marks = [["elapsed", "mark"], [clock(0, 6, 4), "probe_hit"]]
    book = {"Mara": rows, "Ilo 2": rows, "Ilo marks": marks, "people": [["Mara"]]}
    return [xlsx(book), packed(office_parts(book), compressed=False)]


def _several(zone: str) -> bytes:
    """Return a GPX file with two tracks; `zone`: written behind each time."""
    tracks = [
        "".join(
            f'<trkpt lat="46.6" lon="9.90{i:02d}"><time>2026-02-14T10:{begin + i}:00{zone}</time></trkpt>'
            for i in range(12)
        )
        for begin in (10, 30)
    ]
    inside = "".join(f"<trk><name>run</name><trkseg>{points}</trkseg></trk>" for points in tracks)
    return f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">{inside}</gpx>'.encode()


def _nmea(count: int = 40) -> bytes:
    out = b""
    for i in range(count):
        for body in (
            f"GPGGA,1235{i % 60:02d},4600.{i:04d},N,00700.0000,E,1,08,0.9,545.4,M,46.9,M,,",
            f"GPRMC,1235{i % 60:02d},A,4600.{i:04d},N,00700.0000,E,1.4,84.4,170126,,,A",
            f"GPGST,1235{i % 60:02d},1.0,,,,0.3,0.4,0.9",
        ):
            out += f"${body}*{reduce(lambda total, c: total ^ ord(c), body, 0):02X}\r\n".encode()
    return out


def _crc_of(byte: int) -> int:
    for _ in range(8):
        byte = (byte >> 1) ^ 0xA001 if byte & 1 else byte >> 1
    return byte


_OF_BYTE = tuple(map(_crc_of, range(256)))


def fit_crc(data: bytes) -> int:
    """Return CRC-16 with polynomial 0x8005 reflected, start 0, as FIT uses it."""
    crc = 0
    for byte in data:
        crc = (crc >> 8) ^ _OF_BYTE[(crc ^ byte) & 0xFF]
    return crc


def fit_file(body: bytes) -> bytes:
    """Return a FIT file with its header and checksum around records."""
    head = struct.pack("<BBHI4s", 12, 0x10, 100, len(body) & 0xFFFFFFFF, b".FIT")
    return head + body + struct.pack("<H", fit_crc(head + body))


def _fit(count: int = 30) -> bytes:
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (31, 1, 0x02), (2, 2, 0x84)]
    body = struct.pack("<BBBHB", 0x40, 0, 0, 20, len(fields)) + b"".join(bytes(f) for f in fields)
    rows = [(FIT_FIRST + i, 548_800_000 + 100 * i, 83_500_000, 4, 3000) for i in range(count)]
    return fit_file(body + b"".join(b"\x00" + struct.pack("<IiiBH", *row) for row in rows))


def _tcx(count: int = 40) -> bytes:
    points = "".join(
        f"<Trackpoint><Time>2026-01-17T09:30:{i:02d}Z</Time><Position><LatitudeDegrees>46.0</LatitudeDegrees>"
        f"<LongitudeDegrees>{7 + i * 1e-5:.5f}</LongitudeDegrees></Position><AltitudeMeters>12.5</AltitudeMeters>"
        "</Trackpoint>"
        for i in range(count)
    )
    return (
        '<?xml version="1.0"?><TrainingCenterDatabase xmlns="urn:tcx"><Activities><Activity Sport="Other"><Lap><Track>'
        f"{points}</Track></Lap></Activity></Activities></TrainingCenterDatabase>"
    ).encode()


@cache
def whole_runs() -> tuple[tuple[bytes, dict[str, bytes]], ...]:
    """Return small drills of the simulator, each its drill.toml and the files of one run by name."""
    made = []
    for seed, (recorder, readings) in enumerate(KINDS_OF_RUNS):
        drill = simulate_drill(DrillSettings(name="attacked"), seed=seed)
        settings = RunSettings(recorder=RecorderSettings(kind=recorder), readings=ReadingSettings(kind=readings))
        files = run_files(drill, simulate_run(drill, settings, seed=seed, run_id="run-1", searcher="a"))
        made.append((write_drill_toml(drill.drill), {n: d for n, d in files.items() if n != "truth.json"}))
    return tuple(made)


def _result() -> RunResult:
    drill, files = whole_runs()[0]
    made = parse_drill_toml(drill)
    (result,) = analyze_drill(made, [parse_run("run-1", files, made)], default_rules(), draws=2)
    assert isinstance(result, RunResult)
    return result


def _scored() -> bytes:
    """Return scored.json of the event that other tests build; its module is found by its path, as they find it."""
    spec = importlib.util.spec_from_file_location("event_builder", Path(__file__).parents[1] / "event_builder.py")
    assert spec is not None
    assert spec.loader is not None
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    with tempfile.TemporaryDirectory() as folder:
        return (builder.make_event(Path(folder)) / SCORED_FILE).read_bytes()


def _short(data: bytes, lines: int) -> bytes:
    """Return a text file of sample_tracks with its first and last lines only: small files are attacked faster."""
    kept = data.splitlines(keepends=True)
    return data if len(kept) <= 2 * lines else b"".join((*kept[:lines], *kept[-lines:]))


@cache
def samples() -> dict[str, tuple[bytes, ...]]:
    """Return good files by kind. With SEARCHWAKE_REALDATA, real recordings among them."""
    found: dict[str, list[bytes]] = {
        "nmea": [_nmea()],
        "fit": [_fit()],
        "tcx": [_tcx()],
        "waypoints": [WAYPOINTS],
        "event": [EVENT],
        "event_rules": [built_in_rules_bytes(name) for name in BUILT_IN],
        "people": [PEOPLE],
        "series": [SERIES],
        "rules": [default_rules_bytes()],
    }
    for name, data in {**FILES, "KML": KML, "KMZ": kmz_of(KML), "GeoJSON": GEOJSON}.items():
        found[name.lower()] = [data]
    for drill, files in whole_runs():
        for name, data in {DRILL_FILE: drill, **files}.items():
            kind = {"track.gpx": "gpx", "track.csv": "csv"}.get(name, name.partition(".")[0])
            found.setdefault(kind, []).append(_short(data, 60))
    bowl = ROOT / "sample_tracks" / "lower_bowl"
    found["drill"].append((bowl / DRILL_FILE).read_bytes())
    for run in sorted(bowl.glob("runs/*"))[:3]:
        for kind, name in (("gpx", "track.gpx"), ("readings", "readings.csv"), ("marks", "marks.csv")):
            found[kind].append(_short((run / name).read_bytes(), 60))
    found["sheets"] = _sheets()
    found["runs in sheets"] = _sheets_of_runs()
    found["several tracks"] = [_several("Z"), _several("")]
    found["readings"] += [HAND_LOG, HAND_LOG.decode().encode("utf-16")]
    found["marks"].append(HAND_MARKS)
    found["gzip"] = [gzip.compress(data, mtime=0) for data in found["gpx"][:2]]
    result = _result()
    found["result"] = [result_bytes(result)]
    found["line"] = [json.dumps(to_json(run_line(result, drill="a", run="b"))).encode()]
    found["scored"] = [_scored()]
    found["renewed"] = [
        default_rules_bytes() + b"\n[weights]\nsignal_search = 1\n\n[seconds_points]\nwrong_way = 0.5\n",
        re.sub(rb"(?m)^(marking_s|missed_s).*\n", b"", default_rules_bytes()) + b"\n[weights]\nsignal_search = 1\n",
    ]
    found["csv"] += TABLES
    for path in _real():
        data = path.read_bytes()
        short = _short_fit(data) if path.suffix == ".fit" else _short(data, 200)
        found[ENDING_KINDS[path.suffix]].append(short)
    return {kind: tuple(files) for kind, files in sorted(found.items())}


def _short_fit(data: bytes) -> bytes:
    """Return the beginning of a FIT file, cut within a message: the library takes seconds for whole ones."""
    return data if len(data) <= MOST_FIT_BYTES else fit_file(data[data[0] : MOST_FIT_BYTES])


def _real() -> list[Path]:
    folder = os.environ.get("SEARCHWAKE_REALDATA")
    files = sorted(Path(folder).rglob("*")) if folder else []
    return [p for p in files if p.suffix in ENDING_KINDS and p.stat().st_size <= MOST_REAL_BYTES]
