"""Every kind of bad input through the command line: exit code 1, one clear line, and the other run still written."""

import importlib.util
import sys
import types
from pathlib import Path

import pytest

from analyzer import cli

_spec = importlib.util.spec_from_file_location("result_builder", Path(__file__).parent / "files" / "result_builder.py")
builder = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(builder)

DRILL = """[drill]
name = "Lower bowl"
origin = { latitude = 46.0, longitude = 7.0, elevation_m = 0.0 }
[[transmitter]]
id = "A"
east_m = 12.0
north_m = 0.0
depth_m = 1.0
"""
HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">\n'


def point(i: int, lat: float | str = 46.0, lon: float | str | None = None, time: str | None = "") -> str:
    lon = f"{7 + i * 1e-5:.5f}" if lon is None else lon
    clock = "" if time is None else f"<time>{time or f'2026-01-17T09:30:{i:02d}Z'}</time>"
    return f'<trkpt lat="{lat}" lon="{lon}">{clock}</trkpt>\n'


def gpx(points) -> bytes:
    return (HEAD + "<trk><trkseg>\n" + "".join(points) + "</trkseg></trk></gpx>\n").encode()


GOOD = [point(i) for i in range(30)]


def with_fourth(**changes) -> list[str]:
    return [*GOOD[:3], point(3, **changes), *GOOD[4:]]


def swapped() -> list[str]:
    return [point(i, lat=f"{7 + i * 1e-5:.5f}", lon=46.0) for i in range(30)]


BOMB = (
    b'<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    b'<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]><gpx version="1.1"><trk><name>&c;</name></trk></gpx>'
)
EXTERNAL = (
    b'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    b'<gpx version="1.1"><trk><name>&x;</name></trk></gpx>'
)
CSV = "time,latitude,longitude\n" + "".join(f"2026-01-17T09:30:{i:02d}Z,46,{7 + i * 1e-5:.5f}\n" for i in range(30))


@pytest.fixture(autouse=True)
def pipeline(monkeypatch):
    """Put a pipeline in place that gives an invented result for every recording: reading is what is tested."""

    def analyze_drill(drill, recordings, rules, *, draws=64, seed=0, told=None):
        return [builder.make_result(r.run_id, inputs=r.inputs, rows=3, rules=rules) for r in recordings]

    fake = types.ModuleType("analyzer.engine.pipeline")
    fake.analyze_drill = analyze_drill
    monkeypatch.setitem(sys.modules, "analyzer.engine.pipeline", fake)


@pytest.fixture
def bowl(tmp_path):
    """Return a drill folder with the runs bad-1 and good-1, both good as yet."""
    folder = tmp_path / "bowl"
    for run in ("bad-1", "good-1"):
        (folder / "runs" / run).mkdir(parents=True)
        (folder / "runs" / run / "track.gpx").write_bytes(gpx(GOOD))
    (folder / "drill.toml").write_text(DRILL)
    return folder


def run_cli(bowl: Path, capsys, *more: str) -> tuple[int, list[str], list[str]]:
    out = bowl.parent / "out"
    code = cli.main(["analyze", str(bowl), "--out", str(out), *more])
    written = sorted(p.stem for p in out.glob("bowl/*.json"))
    return code, capsys.readouterr().err.splitlines(), written


TRACKS = {
    "two tracks in one file": (HEAD.encode() + b"<trk><trkseg>" + GOOD[0].encode() + b"</trkseg></trk><trk><trkseg>"
                               + GOOD[1].encode() + b"</trkseg></trk></gpx>", ["the file holds 2 tracks"]),
    "no track inside": (HEAD.encode() + b"</gpx>", ["the file holds no track"]),
    "a route": (HEAD.encode() + b'<rte><rtept lat="46" lon="7"/></rte></gpx>', ["a route"]),
    "no times": (gpx([point(i, time=None) for i in range(30)]), ["no time stamps"]),
    "some times missing": (gpx(GOOD[:10] + [point(i, time=None) for i in range(20)]),
                           ["point 11", "20 of 30 points have no time"]),
    "naive time": (gpx(with_fourth(time="2026-01-17T09:30:03")), ["point 4", "no offset from UTC"]),
    "time that is none": (gpx(with_fourth(time="half past")), ["point 4", "'half past'", "ISO 8601"]),
    "times backwards": (gpx([*GOOD[:20], *GOOD[10:]]), ["point 21", "runs back by 9 s"]),
    "conflicting doubles": (gpx([p for i, g in enumerate(GOOD) for p in (g, point(i, lat=46.001))]),
                            ["point 2", "30 of 60 points", "second place at the same time"]),
    "latitude out of range": (gpx(with_fourth(lat=146.0)), ["point 4", "latitude 146", "not on Earth"]),
    "swapped": (gpx(swapped()), ["latitude and longitude are swapped"]),
    "another valley": (gpx([point(i, lat=46.2) for i in range(30)]), ["22.2 km from the drill"]),
    "far island": (gpx([*GOOD[:20], *[point(i, lat="0.0", lon="1.0") for i in range(20, 30)]]),
                    ["point 21", "10 of 30 points are over 2 km"]),
    "too few fixes": (gpx(GOOD[:9]), ["only 9 usable fixes", "10 are needed"]),
    "empty": (b"", ["the file is empty"]),
    "cut off": (gpx(GOOD)[:900], ["broken or cut off", "line"]),
    "binary": (bytes(range(256)) * 4, ["broken or cut off"]),
    "xml bomb": (BOMB, ["document type or an entity"]),
    "external entity": (EXTERNAL, ["document type or an entity"]),
    "another xml": (b"<kml/>", ["<kml>", "not <gpx>"]),
    "number that is none": (gpx(with_fourth(lat="x")), ["point 4", "latitude 'x' is not a number"]),
}  # fmt: skip


@pytest.mark.parametrize(("data", "pieces"), TRACKS.values(), ids=TRACKS.keys())
def test_bad_gpx(bowl, capsys, data, pieces):
    (bowl / "runs/bad-1/track.gpx").write_bytes(data)
    code, lines, written = run_cli(bowl, capsys)
    assert code == 1
    assert len(lines) == 1
    assert lines[0].startswith("bowl/bad-1/track.gpx")
    for piece in pieces:
        assert piece in lines[0]
    assert written == ["good-1"]


OTHERS = {
    "csv not utf-8": ("track.csv", CSV.encode().replace(b"46", b"\xb046", 1), ["line 2", "'°46' is not a number"]),
    "csv column missing": ("track.csv", CSV.replace("longitude", "colour", 1).encode(), ["'longitude' is missing"]),
    "csv decimal comma": ("track.csv", b"time,latitude,longitude\n2026-01-17T09:30:00Z,46,0,7,0\n",
                          ["line 2", "5 cells, the header 3", "with a point"]),
    "csv binary": ("track.csv", b"\x00\x01\x02" * 9, ["binary data"]),
    "nmea of nothing": ("track.nmea", b"hello", ["no GGA or RMC"]),
    "fit of nothing": ("track.fit", b"hello", ["not a FIT file"]),
    "tcx bomb": ("track.tcx", BOMB, ["document type or an entity"]),
    "readings a day off": ("readings.csv", b"time,reading_m\n2026-01-18T09:30:00Z,20\n", ["min from the track"]),
    "negative reading": ("readings.csv", b"elapsed,reading_m\n1,20\n2,-4\n", ["line 3", "-4 m"]),
    "absurd reading": ("readings.csv", b"elapsed,reading_m\n1,2000\n", ["line 2", "2000 m", "150 m"]),
    "unknown transmitter": ("readings.csv", b"elapsed,reading_m,transmitter\n1,20,AA\n", ["'AA' is not in drill.toml"]),
    "unknown mark": ("marks.csv", b"elapsed,mark\n1,strat\n", ["'strat' is not known", "did you mean 'start'"]),
    "start after the track": ("marks.csv", b"time,mark\n2026-01-17T10:30:00Z,start\n", ["after the last fix"]),
    "unknown run key": ("run.toml", b"antenas = 3\n", ["'antenas' is not known", "did you mean 'antennas'"]),
    "misnamed table": ("reading.csv", b"x", ["name it readings.csv"]),
    "latin-1 run.toml": ("run.toml", 'searcher = "Zoë"'.encode("latin-1"), ["line 1", "not UTF-8"]),
}  # fmt: skip


@pytest.mark.parametrize(("name", "data", "pieces"), OTHERS.values(), ids=OTHERS.keys())
def test_bad_files_of_other_kinds(bowl, capsys, name, data, pieces):
    run = bowl / "runs/bad-1"
    if name.startswith("track"):
        (run / "track.gpx").unlink()
    (run / name).write_bytes(data)
    code, lines, written = run_cli(bowl, capsys)
    assert code == 1
    assert len(lines) == 1
    assert lines[0].startswith(f"bowl/bad-1/{name}")
    for piece in pieces:
        assert piece in lines[0]
    assert written == ["good-1"]


def test_file_of_200_megabytes(bowl, capsys):
    with (bowl / "runs/bad-1/track.gpx").open("wb") as stream:
        stream.truncate(200_000_000)  # a hole: no disk is filled
    code, lines, written = run_cli(bowl, capsys)
    assert (code, written) == (1, ["good-1"])
    assert len(lines) == 1
    assert "200 MB; at most 50 MB are read" in lines[0]


def test_no_track_and_two_tracks(bowl, capsys):
    (bowl / "runs/bad-1/track.gpx").unlink()
    code, lines, _ = run_cli(bowl, capsys)
    assert code == 1
    assert "bowl/bad-1: there is no track" in lines[0]
    for name in ("track.gpx", "track.csv"):
        (bowl / "runs/bad-1" / name).write_text("x")
    code, lines, _ = run_cli(bowl, capsys)
    assert code == 1
    assert "two tracks, track.csv and track.gpx" in lines[0]


DRILLS = {
    "missing depth": ("depth_m = 1.0\n", "", ["bowl/drill.toml", "'A'", "depth_m is missing"]),
    "unknown key": ("depth_m", "depht_m", ["'depht_m' is not known", "did you mean 'depth_m'"]),
    "no origin": ("origin", "orgin", ["'orgin' is not known", "did you mean 'origin'"]),
    "text for a number": ("12.0", '"12"', ["east_m", "'12' is not a number"]),
    "not TOML": ("[drill]", "drill]", ["not TOML", "line 1"]),
    "waypoints elsewhere": ("[drill]", '[drill]\nwaypoints = "../a.gpx"', ["waypoints", "beside drill.toml"]),
    "waypoints missing": ("[drill]", '[drill]\nwaypoints = "a.gpx"', ["a.gpx", "no such file"]),
}


@pytest.mark.parametrize(("old", "new", "pieces"), DRILLS.values(), ids=DRILLS.keys())
def test_bad_drill(bowl, capsys, old, new, pieces):
    assert old in DRILL
    (bowl / "drill.toml").write_text(DRILL.replace(old, new, 1))
    code, lines, written = run_cli(bowl, capsys)
    assert (code, written, len(lines)) == (1, [], 1)
    for piece in pieces:
        assert piece in lines[0]


def test_all_mistakes_of_a_drill_are_told_at_once(bowl, capsys):
    text = DRILL.replace("46.0", '"46"', 1).replace("12.0", "12000").replace("depth_m = 1.0\n", 'depth_m = "\\n"\n')
    (bowl / "drill.toml").write_text(text)
    code, lines, written = run_cli(bowl, capsys)
    assert (code, written) == (1, [])
    assert lines == [
        "bowl/drill.toml: 3 things are wrong; mend each of them:",
        "  [drill], [origin], latitude: '46' is not a number; write a number without quotation marks",
        "  [[transmitter]] 1 'A', east_m: 12000 is out of range; write a number at least -2000 and at most 2000",
        "  [[transmitter]] 1 'A', depth_m: '\\n' is not a number; write a number without quotation marks",
    ]


def test_all_mistakes_of_run_settings_are_told_at_once(bowl, capsys):
    (bowl / "runs/bad-1/run.toml").write_text("searcher = 5\nantennas = 4\ncarry_height_m = 9\n")
    code, lines, written = run_cli(bowl, capsys)
    assert (code, written) == (1, ["good-1"])
    assert lines == [
        "bowl/bad-1/run.toml: 3 things are wrong; mend each of them:",
        "  searcher: 5 is not a text; write it in quotation marks",
        "  antennas: 4 antennas; write 1, 2 or 3",
        "  carry_height_m: 9 is out of range; write a number at least 0 and at most 3",
    ]


def test_folder_without_drill_or_runs(bowl, capsys):
    (bowl / "drill.toml").rename(bowl / "other.toml")
    code, lines, _ = run_cli(bowl, capsys)
    assert (code, len(lines)) == (1, 1)
    assert lines[0].startswith("bowl: there is no drill.toml")
    (bowl / "other.toml").rename(bowl / "drill.toml")
    (bowl / "runs").rename(bowl / "run")
    code, lines, _ = run_cli(bowl, capsys)
    assert (code, len(lines)) == (1, 1)
    assert lines[0].startswith("bowl: there is no run in runs/")


RULE_SHEETS = {
    "form before": (
        b"[reference]\n",
        b"[weights]\n[reference]\n",
        ["line 11, weights", "searchwake rules --renew club.toml"],
    ),
    "unknown measure": (b"fine.reach_m", b"fine.reach", ["did you mean 'fine.reach_m'"]),
    "negative radius": (b"fine_radius_m = 3.0", b"fine_radius_m = -3.0", ["fine_radius_m", "out of range"]),
    "unknown phase": (b'phase = "coarse_search"', b'phase = "coarse"', ["'coarse' is not known"]),
}


@pytest.mark.parametrize(("old", "new", "pieces"), RULE_SHEETS.values(), ids=RULE_SHEETS.keys())
def test_bad_rule_sheet_is_wrong_usage(bowl, capsys, old, new, pieces):
    from importlib import resources

    sheet = resources.files("analyzer.files").joinpath("default_rules.toml").read_bytes()
    assert old in sheet
    (bowl.parent / "club.toml").write_bytes(sheet.replace(old, new, 1))
    code, lines, written = run_cli(bowl, capsys, "--rules", str(bowl.parent / "club.toml"))
    assert (code, written, len(lines)) == (2, [], 1)
    assert lines[0].startswith("club.toml")
    for piece in pieces:
        assert piece in lines[0]


def test_set_aside_rows_are_counted_in_the_result(bowl, capsys):
    import json

    (bowl / "runs/bad-1/track.gpx").write_bytes(
        gpx([*GOOD[:4], GOOD[3], point(0, "0.0", "0.0", "2026-01-17T09:30:03.5Z"), *GOOD[4:]])
    )
    code, lines, written = run_cli(bowl, capsys)
    assert (code, lines, written) == (0, [], ["bad-1", "good-1"])
    inputs = json.loads((bowl.parent / "out/bowl/bad-1.json").read_bytes())["inputs"]
    track = next(i for i in inputs if i["role"] == "track")
    assert (track["rows"], track["used"]) == (32, 30)
    assert track["dropped"] == [
        {"reason": "no fix (0, 0)", "count": 1}, {"reason": "the same point again", "count": 1}]  # fmt: skip
    assert {i["role"] for i in inputs} == {"drill", "track"}
