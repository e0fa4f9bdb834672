"""The table of track formats: a format added there is known everywhere, and nothing else lists formats."""

import ast
from pathlib import Path

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import read_run, run_files
from analyzer.files.tracks import formats
from analyzer.files.tracks.fixes import Fixes
from analyzer.workspace.drill_key import drill_key
from analyzer.workspace.intake.model import TRACK
from analyzer.workspace.intake.recognise import recognise
from tests.support import formats_doc

ROOT = Path(__file__).resolve().parents[3]
DRILL = b"""[drill]
name = "Bowl"
origin = {latitude = 46.0, longitude = 7.0}
[[transmitter]]
id = "A"
east_m = 0.0
north_m = 30.0
depth_m = 1.0
"""
STEPS = b"STEPS\n" + b"\n".join(b"%d %d" % (n, 2 * n) for n in range(12))


def read_steps(data, *, name, zone=None):
    """Read the made-up format: a line that says STEPS, then east and north in metres, one line a second."""
    east, north = np.array([line.split() for line in data.decode().splitlines()[1:]], float).T
    n = len(east)
    empty = np.full(n, np.nan)
    return Fixes(
        name=name, unit="line", geographic=False, time_s=1.8e9 + np.arange(n), first=east, second=north,
        elevation_m=empty, sigma_m=empty, hdop=empty, number=np.arange(n) + 2.0, step=1.0, rows=n,
    )  # fmt: skip


@pytest.fixture
def steps(monkeypatch):
    """Add the made-up format to the table."""
    made_up = formats.TrackFormat("STEPS", (".steps", ".stp"), read_steps, in_bytes=lambda d: d.startswith(b"STEPS"))
    monkeypatch.setattr(formats, "FORMATS", (*formats.FORMATS, made_up))


@pytest.fixture
def run(tmp_path):
    """Return a run folder whose track is of the made-up format."""
    folder = tmp_path / "bowl" / "runs" / "a"
    folder.mkdir(parents=True)
    (tmp_path / "bowl" / "drill.toml").write_bytes(DRILL)
    (folder / "track.steps").write_bytes(STEPS)
    return folder


def test_a_format_of_the_table_is_recognised(steps):
    found = recognise(STEPS, name="holiday.jpg")
    assert (found.kind, found.ending, found.rows, found.problem) == (TRACK, ".steps", 12, "")
    assert found.end_s - found.begin_s == 11.0


def test_a_format_of_the_table_is_read(steps, run):
    track = read_run(run, parse_drill_toml(DRILL)).track
    assert track.north_m[:3].tolist() == [0.0, 2.0, 4.0]
    (run / "track.steps").rename(run / "track.STP")
    assert run_files(run)["track"].name == "track.STP"


def test_a_format_of_the_table_is_part_of_the_key(steps, run):
    before = drill_key(run.parents[1], settings=("1",))
    (run / "track.steps").write_bytes(STEPS + b"\n13 26")
    assert drill_key(run.parents[1], settings=("1",)) != before


def test_a_format_of_the_table_is_named_where_formats_are_listed(steps, run):
    assert "CSV" in recognise(b"no kind that is read", name="x").problem
    assert ", STEPS), reading logs" in recognise(b"no kind that is read", name="x").problem
    (run / "track.steps").unlink()
    with pytest.raises(InputError, match=r"add track\.gpx, .*track\.steps or track\.stp"):
        run_files(run)


def test_without_its_entry_the_format_is_unknown(run):
    assert recognise(STEPS, name="track.steps").kind != TRACK
    with pytest.raises(InputError, match="there is no track"):
        run_files(run)


def test_no_module_lists_endings_of_its_own():
    """Two endings of tracks in one literal are a list; the words of an error may name formats, never endings."""
    endings = set(formats.track_endings()) - {".csv"}
    for top in ("analyzer", "dashboard"):
        for path in (ROOT / top).rglob("*.py"):
            if path.name == "formats.py":
                continue
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Tuple | ast.List | ast.Set | ast.Dict):
                    parts = node.keys if isinstance(node, ast.Dict) else node.elts
                    words = {p.value for p in parts if isinstance(p, ast.Constant)}
                    assert len(words & endings) < 2, f"{path.name}:{node.lineno} lists {words & endings}"


def test_the_page_of_formats_has_a_row_for_each_of_the_table():
    rows = [line for line in (ROOT / "docs/formats.md").read_text().splitlines() if line.startswith("| ")]
    for form in formats.FORMATS:
        (row,) = (r for r in rows if r.startswith(f"| {form.name} | `"))
        assert row.split("|")[2].strip() == ", ".join(f"`{ending}`" for ending in form.endings)


def test_a_note_beside_a_track_stays_a_note(tmp_path):
    for name in ("track.gpx", "note.txt", "truth.json", "photo.jpg"):
        (tmp_path / name).write_bytes(b"x")
    assert run_files(tmp_path)["track"].name == "track.gpx"
    (tmp_path / "TRACK.txt").write_bytes(b"x")
    with pytest.raises(InputError, match=r"two tracks, TRACK\.txt and track\.gpx"):
        run_files(tmp_path)


def test_the_page_of_formats_has_the_words_of_the_program():
    text = (ROOT / "docs/formats.md").read_text(encoding="utf-8")
    assert formats_doc.renewed(text) == text, "run python -m tests.support.formats_doc"
    other = text.replace("flight recorders: the file as it is", "flight recorders")
    assert formats_doc.renewed(other) == text != other
