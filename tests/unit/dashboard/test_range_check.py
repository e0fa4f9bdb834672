"""Range checks without a browser: tables, the form, the drill that a receiver is written into, and the bin."""

import json
import re
import shutil
import time
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

from analyzer.cli import main
from analyzer.errors import FileError, InputError
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.range_check_csv import parse_range_csv
from analyzer.model.drill import Receiver
from analyzer.workspace.runs.drill_files import with_receiver_in
from dashboard.config import RUNS_KEY, Config
from dashboard.services.range_check import RangeChecks
from dashboard.services.runs import Said

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
TABLE = """distance_m;reading_m;orientation;walk
5;5,6;broadside;out
10;11,0;broadside;out
20;22;broadside;out
26;29;broadside;out
34;-;broadside;out
38;nothing;broadside;out
"""


@pytest.fixture
def club(tmp_path):
    folder = tmp_path / "drills" / "bowl"
    (folder / "runs" / "ilvo-2").mkdir(parents=True)
    (folder / "drill.toml").write_bytes(b"# as laid out by hand\n" + (SAMPLES / "drill.toml").read_bytes())
    for name in ("track.gpx", "run.toml"):
        shutil.copy(SAMPLES / "runs" / "ilvo-2" / name, folder / "runs" / "ilvo-2" / name)
    return tmp_path


@pytest.fixture
def app(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    yield create_app(Config(club / "results", rules=club / "rules", workspace=club))
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def runs(app):
    return app.server.config[RUNS_KEY]


def typed(**more):
    values = {"transmitter_height_m": "1", "receiver_height_m": "1,0", "antennas": "3"}
    for number, line in enumerate(TABLE.splitlines()[1:]):
        distance, shown, way, walk = line.split(";")
        row = {"distance_m": distance, "reading_m": shown, "orientation": way, "walk": walk}
        if shown in ("-", "nothing"):
            row |= {"reading_m": "", "nothing": "yes"}
        values |= {f"r{number}.{key}": value for key, value in row.items()}
    return values | more


def sent(app, **form):
    answer = app.server.test_client().post("/range-check/send", data=form)
    assert answer.status_code == 303
    return app.server.config[RUNS_KEY].said(parse_qs(urlsplit(answer.headers["Location"]).query)["said"][0])


def test_a_table_is_read_with_decimal_commas():
    looks = parse_range_csv(TABLE.encode(), name="t.csv")
    assert [(look.distance_m, look.reading_m) for look in looks][:2] == [(5.0, 5.6), (10.0, 11.0)]
    assert [look.reading_m for look in looks][-2:] == [None, None]
    assert {look.orientation for look in looks} == {"broadside"}


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("distance_m,reading_m\n0,5\n", r"t.csv, line 2, distance: 0 is out of range; write a number above 0"),
        ("distance_m,reading_m\n-5,5\n", r"line 2, distance: -5 is out of range"),
        ("distance_m,reading_m\n5,abc\n", r"line 2, shown: 'abc' is not a number; write it like 12.5 or 12,5"),
        ("distance_m,reading_m\n5,\n", r"line 2, shown: nothing is entered"),
        ("distance_m,reading_m\n5,-\n9,-\n", r"every look showed nothing; begin nearer"),
        ("distance_m,reading_m,orientation\n5,5,coaxal\n", r"did you mean 'coaxial'"),
        ("distance_m,reading_m\n5,4,6\n", r"3 cells under 2 columns; with decimal commas, separate .* semicolons"),
        ("metres,reading_m\n5,4\n", r"the column distance_m is missing; head the columns distance_m, reading_m"),
        ("distance_m,reading_m\n", r"no look is entered"),
    ],
)
def test_a_wrong_table_gets_one_clear_line(table, words):
    with pytest.raises((InputError, FileError), match=words):
        parse_range_csv(table.encode(), name="t.csv")


def test_the_command_prints_the_same_as_json(tmp_path, capsys):
    (tmp_path / "club.csv").write_text(TABLE)
    assert main(["range-check", str(tmp_path / "club.csv"), "--json"]) == 0
    (check,) = json.loads(capsys.readouterr().out)["checks"]
    assert check["scale"]["low"] < 1.1 < check["scale"]["high"]
    assert check["strip_width_m"] == int(2 * check["usable_m"]["low"])
    assert main(["range-check", str(tmp_path / "club.csv")]) == 0
    assert f"strip width    {check['strip_width_m']} m" in capsys.readouterr().out
    assert main(["range-check", str(tmp_path / "gone.csv")]) == 2


def test_a_receiver_is_written_and_taken_back(app, runs, club):
    file = club / "drills/bowl/drill.toml"
    before = file.read_bytes()
    values = typed(drill="bowl", receiver="club 3", **{"seen.bowl": RangeChecks(runs).seen("bowl")})
    said = sent(app, act="use", **values)
    assert said.faults == ()
    assert file.read_bytes().startswith(b"# as laid out by hand")
    receiver = read_drill_toml(file).receiver("club 3")
    check, _ = RangeChecks(runs).answer(values)
    assert receiver.scale == pytest.approx(check.scale.value, abs=1e-4)
    assert receiver.strip_width_m == check.strip_width_m
    for _ in range(1200):
        if not runs.measuring.busy("bowl"):
            break
        time.sleep(0.05)
    assert (club / "results/bowl/ilvo-2.json").is_file()  # the drill was measured anew
    (binned,) = runs.bin()
    assert (binned.note.drill, binned.note.run) == ("bowl", "")
    answer = app.server.test_client().post("/change-run/restore", query_string={"entry": said.entry})
    assert urlsplit(answer.headers["Location"]).path == "/bin"
    assert file.read_bytes() == before


def test_of_two_who_write_the_second_is_told(app, runs, club):
    file = club / "drills/bowl/drill.toml"
    values = typed(drill="bowl", receiver="club 3", **{"seen.bowl": RangeChecks(runs).seen("bowl")})
    file.write_bytes(file.read_bytes() + b"# meanwhile\n")
    now = file.read_bytes()
    said = sent(app, act="use", **values)
    assert "changed by someone else since this page was opened" in said.faults[0]
    assert said.words["r0.distance_m"] == "5"  # nothing that was typed is lost
    assert file.read_bytes() == now


def test_a_second_receiver_of_one_name_is_asked_about(app, runs):
    def use(**more):
        return sent(app, act="use", **typed(drill="bowl", receiver="x", **more), **{"seen.bowl": checks.seen("bowl")})

    checks = RangeChecks(runs)
    assert use().faults == ()
    assert "bowl has a receiver 'x' already" in use().faults[0]
    said = use(replace="yes", transmitter_height_m="0")
    assert said.faults == ()
    assert checks.receivers("bowl") == ("x",)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"r1.distance_m": "-3"}, "Row 2, distance: -3 is out of range"),
        ({"r1.distance_m": "zwölf"}, "Row 2, distance: 'zwölf' is not a number"),
        ({"r1.reading_m": ""}, "Row 2, shown: nothing is entered"),
        ({"r1.nothing": "yes"}, "'11,0 and nothing shown' is not a number"),
        ({"receiver_height_m": "9"}, "Receiver above the snow: 9 is out of range"),
        ({"receiver": ""}, "Receiver: it has no name"),
        ({"drill": ""}, "Drill: no drill was chosen"),
        ({"drill": "gone"}, "gone: this drill is not in the workspace"),
    ],
)
def test_what_is_wrong_with_the_form_is_told_in_one_line(app, more, words):
    said = sent(app, act="use", **(typed(drill="bowl", receiver="x") | more))
    assert len(said.faults) == 1
    assert words in said.faults[0]


def test_a_table_takes_the_place_of_the_rows(runs):
    said = RangeChecks(runs).loaded({}, "t.csv", [TABLE.encode()])
    assert said.done == "6 looks taken from t.csv."
    check, faults = RangeChecks(runs).answer({"transmitter_height_m": "1", "receiver_height_m": "1", **said.words})
    assert faults == ()
    assert (check.shown, check.nothing) == (4, 2)
    assert isinstance(RangeChecks(runs).loaded({"r0.walk": "a"}, "t.csv", [b"\0\1"]), Said)
    assert RangeChecks(runs).loaded({}, "t.csv", [b"x" * 300_000]).faults[0].startswith("t.csv: the table is larger")


def test_other_receivers_and_comments_stay():
    text = (
        SAMPLES / "drill.toml"
    ).read_text() + '\n[[receiver]] # the old one\nname = "a"\nstrip_width_m = 30 # taped\n'
    new = with_receiver_in(text.encode(), Receiver("b", 1.1, 0.02, 36.0)).decode()
    assert text in new
    again = with_receiver_in(new.encode(), Receiver("a", 1.2, 0.03)).decode()
    assert "# the old one" in again
    assert len(re.findall(r"\[\[receiver\]\]", again)) == 2
    assert "strip_width_m = 30" not in again  # this range check gave none
