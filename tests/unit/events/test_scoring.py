"""Scoring, staleness and verification of an event, measured by the engine itself on two sample drills cut short."""

import json
import re
import shutil
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.events.verify import differences
from analyzer.files.source import sha256_hex
from analyzer.workspace.layout import FACTS_FILE

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks"
EVENT = """[event]
name = "Invented cup"
rules = "fastest"
[[class]]
id = "open"
[[field]]
drill = "lower_bowl"
[[entry]]
bib = 1
name = "=Runa"
class = "open"
runs = {lower_bowl = "runa-1"}
[[entry]]
bib = 2
name = "Ilvo"
class = "open"
runs = {lower_bowl = "ilvo-2"}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a workspace whose event is scored."""
    root = tmp_path_factory.mktemp("club")
    source, drill = SAMPLES / "lower_bowl", root / "drills" / "lower_bowl"
    for run in ("runa-1", "ilvo-2"):
        shutil.copytree(source / "runs" / run, drill / "runs" / run)
        toml = drill / "runs" / run / "run.toml"
        toml.write_text("\n".join(line for line in toml.read_text().splitlines() if not line.startswith("bib")))
    shutil.copy(source / "drill.toml", drill)
    (root / "events" / "cup").mkdir(parents=True)
    (root / "events" / "cup" / "event.toml").write_text(EVENT)
    assert cli.main(["standings", str(root / "events" / "cup"), "--jobs", "1"]) == 0
    return root


@pytest.fixture
def club(made, tmp_path):
    """Return a copy of it, free to be harmed."""
    return Path(shutil.copytree(made, tmp_path / "club"))


def standings(club, *more):
    return cli.main(["standings", str(club / "events" / "cup"), "--jobs", "1", *more])


def verify(club):
    return cli.main(["verify", str(club / "events" / "cup"), "--jobs", "1"])


def scored(club):
    return json.loads((club / "events/cup/scored.json").read_bytes())


def files(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_what_is_scored_is_kept_and_shown(club, capsys):
    before = files(club / "events")
    assert {"cup/scored.json", "cup/log.jsonl", "cup/results/lower_bowl/runa-1.json"} <= set(before)
    assert (
        standings(
            club, "--csv", str(club / "out.csv"), "--json", str(club / "out.json"), "--sheet", str(club / "out.html")
        )
        == 0
    )
    shown = capsys.readouterr()
    assert "=Runa" in shown.out
    assert files(club / "events") == before
    assert "'=Runa" in (club / "out.csv").read_text(encoding="utf-8-sig")
    assert json.loads((club / "out.json").read_bytes()) == scored(club)
    assert "=Runa" in (club / "out.html").read_text()
    # The marks files say so: start to probe hit.
    marks = (club / "drills/lower_bowl/runs/runa-1/marks.csv").read_text()
    first, hit = (line.split(",")[0][14:23] for line in marks.splitlines()[1:3])
    seconds = [60.0 * float(t[:2]) + float(t[3:]) for t in (first, hit)]
    time = scored(club)["scores"]["lower_bowl/1"]["lines"][0]
    assert time["seconds"] == pytest.approx(seconds[1] - seconds[0], abs=1e-3)


def test_an_entry_s_result_is_that_of_its_run_alone(club, tmp_path):
    """Each entry is fitted alone against the drill as laid: who else came changes nothing."""
    shutil.rmtree(club / "drills/lower_bowl/runs/ilvo-2")
    assert cli.main(["analyze", str(club / "drills/lower_bowl"), "--out", str(tmp_path / "out")]) == 0
    alone, entry = (
        {k: v for k, v in json.loads((place / "lower_bowl/runa-1.json").read_bytes()).items() if k != "drill_key"}
        for place in (tmp_path / "out", club / "events/cup/results")
    )
    assert entry["shared"] == "none"
    assert alone == entry


def test_one_entry_line_by_line(club, capsys):
    assert standings(club, "--field", "lower_bowl", "--bib", "1") == 0
    assert "lower_bowl/runa-1.json, probe_hits[0]" in " ".join(capsys.readouterr().out.split())
    assert standings(club, "--field", "upper") == 2
    assert "there is no table of field 'upper'" in capsys.readouterr().err


def test_a_replaced_recording_is_told_and_not_counted_until_again(club, capsys):
    before = files(club / "events")
    marks = club / "drills/lower_bowl/runs/runa-1/marks.csv"
    lines = marks.read_text().splitlines()
    marks.write_text(
        "\n".join(
            line.replace("probe_hit", "finish") if "probe_hit" in line else line
            for line in lines
            if "finish" not in line
        )
        + "\n"
    )
    assert standings(club) == 1
    shown = capsys.readouterr()
    assert "bib 1, drills/lower_bowl/runs/runa-1/marks.csv was replaced after the scoring" in shown.err
    assert "a file was changed after the scoring" in " ".join(shown.out.split())
    assert files(club / "events") == before
    was = scored(club)["integrity"]
    assert standings(club, "--again") == 0
    assert scored(club)["scores"]["lower_bowl/1"]["status"] == "stopped"
    log = [json.loads(line) for line in (club / "events/cup/log.jsonl").read_text().splitlines()]
    assert [(line["action"], line["was"]) for line in log] == [("scored", ""), ("scored again", was)]
    assert scored(club)["log_head"] == log[-1]["hash"]
    assert verify(club) == 0


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (
            lambda c: (c / "drills/lower_bowl/runs/ilvo-2/readings.csv").unlink(),
            "bib 2, drills/lower_bowl/runs/ilvo-2/readings.csv is gone since the scoring",
        ),
        (lambda c: (c / "drills/lower_bowl/runs/ilvo-2/site.gpx").write_text("x"), "is new since the scoring"),
        (
            lambda c: (c / "events/cup/event.toml").write_text(EVENT + "# a word\n"),
            "events/cup/event.toml was replaced after the scoring",
        ),
    ],
)
def test_other_changes_are_told(club, capsys, change, line):
    change(club)
    assert standings(club) == 1
    assert line in capsys.readouterr().err


def test_stored_files_that_are_not_as_they_were_written_are_told(club, capsys):
    """As after a kill in the middle of --again: results are newer than the standings."""
    path = club / "events/cup/results/lower_bowl/runa-1.json"
    path.write_text(path.read_text() + " ")
    assert standings(club) == 1
    assert "results/lower_bowl/runa-1.json: the file was changed after the scoring" in capsys.readouterr().err
    assert standings(club, "--again") == 0


def test_verify_finds_nothing_where_nothing_is_wrong(club, capsys):
    before = files(club)
    assert verify(club) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    # Two results, summary.csv, what is kept of the measuring and of the reading, scored.json.
    assert "6 files computed anew and compared: all as stored" in shown.out
    assert files(club) == before


def test_verify_names_one_changed_byte_of_a_result(club, capsys):
    path = club / "events/cup/results/lower_bowl/runa-1.json"
    data = path.read_bytes()
    place = data.index(b'"duration_s":') + len(b'"duration_s":')
    path.write_bytes(data[:place] + (b"9" if data[place : place + 1] != b"9" else b"8") + data[place + 1 :])
    assert len(path.read_bytes()) == len(data)
    assert verify(club) == 1
    shown = capsys.readouterr().err
    true = json.loads(data)["run"]["duration_s"]
    false = json.loads(path.read_bytes())["run"]["duration_s"]
    assert f"results/lower_bowl/runa-1.json, run.duration_s: stored {false}, computed anew {true}" in shown
    assert "results/lower_bowl/runa-1.json: the file was changed after the scoring" in shown


@pytest.mark.parametrize("place", [40, 400, 4000, -2])
def test_verify_names_any_changed_byte(club, capsys, place):
    path = club / "events/cup/results/lower_bowl/ilvo-2.json"
    data = bytearray(path.read_bytes())
    data[place] ^= 1
    path.write_bytes(bytes(data))
    assert verify(club) == 1
    assert "results/lower_bowl/ilvo-2.json" in capsys.readouterr().err


def test_verify_names_a_changed_place_and_its_hash(club, capsys):
    path = club / "events/cup/scored.json"
    text = path.read_text()
    path.write_text(text.replace('"rank": 2', '"rank": 1', 1))
    assert path.read_text() != text
    assert verify(club) == 1
    shown = capsys.readouterr().err
    assert "scored.json, integrity: the file was changed after it was written" in shown
    assert "places[1].rank: stored 1, computed anew 2" in shown


@pytest.mark.parametrize(
    ("harm", "line"),
    [
        (lambda e: (e / "results/lower_bowl/runa-1.json").unlink(), "runa-1.json: is not stored, but computed anew"),
        (lambda e: (e / "results/lower_bowl/more.json").write_text("{}"), "more.json: is stored, but nothing gives it"),
        (lambda e: (e / "results/lower_bowl/runa-1.json").write_text("{"), "what is stored cannot be read"),
        (lambda e: (e / "scored.json").write_text("{}"), "this is not of the format searchwake-event/3"),
        (lambda e: (e / "scored.json").unlink(), "the event is not scored yet; log.jsonl says that it was"),
        (lambda e: (e / "log.jsonl").unlink(), "log.jsonl: it is missing"),
        (lambda e: (e / "results/summary.csv").write_text("drill\n"), "summary.csv, line 1"),
    ],
)
def test_verify_names_what_is_missing_or_more(club, capsys, harm, line):
    harm(club / "events" / "cup")
    assert verify(club) == 1
    assert line in capsys.readouterr().err


def test_a_damaged_track_leaves_the_entry_without_place_and_says_why(club, capsys):
    (club / "drills/lower_bowl/runs/runa-1/track.gpx").write_text("<gpx")
    assert standings(club, "--again") == 1
    shown = capsys.readouterr()
    assert "lower_bowl/runa-1/track.gpx" in shown.err
    assert scored(club)["scores"]["lower_bowl/1"]["seconds"] is None
    assert "track.gpx" in scored(club)["scores"]["lower_bowl/1"]["why"]


def test_scoring_again_tells_of_a_result_that_went_missing(club, capsys):
    """Marks that were lost made a finisher one who did not finish, and --again said nothing of it."""
    (club / "drills/lower_bowl/runs/runa-1/marks.csv").unlink()
    standings(club, "--again")
    told = r"^bib 1, field lower_bowl: had \d+:\d\d\.\d when .* \(nothing marked: "
    assert re.search(told, capsys.readouterr().err, re.MULTILINE)
    found = scored(club)
    assert found["scores"]["lower_bowl/1"]["pending"] is True, "without marks nobody knows how it ended"
    assert found["tables"][0]["waiting"] == 1
    standings(club, "--again")
    assert "when it was scored before" not in capsys.readouterr().err


def test_a_result_and_its_kept_hash_changed_together_are_measured_again(club):
    """The hash that was scored goes before the one that lies beside the results."""
    event = club / "events/cup"
    name, facts = "lower_bowl/runa-1.json", event / "results" / FACTS_FILE
    before = (event / "results" / name).read_bytes()
    (event / "results" / name).write_bytes(before.replace(b"1", b"2", 1))
    kept = json.loads(facts.read_bytes())
    kept["runs"][name]["sha256"] = sha256_hex((event / "results" / name).read_bytes())
    facts.write_text(json.dumps(kept))
    assert standings(club, "--again") == 0
    assert (event / "results" / name).read_bytes() == before


def test_differences_name_keys():
    found = list(differences({"a": [1, {"b": 2.0}], "c": 1}, {"a": [1, {"b": 2.5}], "d": None}))
    assert found == [("a[1].b", 2.0, 2.5), ("c", 1, "nothing"), ("d", "nothing", None)]
    assert list(differences([1], [1, 2])) == [("", [1], [1, 2])]
    assert list(differences(1, 1.0)) == [("", 1, 1.0)]


@pytest.mark.parametrize("command", ["standings", "verify"])
def test_no_processes_is_wrong_usage(command, capsys):
    assert cli.main([command, "events/cup", "--jobs", "0"]) == 2
    assert "0' is no whole number from 1" in capsys.readouterr().err


def test_an_event_scored_by_an_earlier_version_is_told_and_scored_anew_on_request(club, capsys):
    path = club / "events/cup/scored.json"
    was = scored(club)["integrity"]
    path.write_text(path.read_text().replace("searchwake-event/3", "searchwake-event/2"))
    old = path.read_bytes()
    assert standings(club) == 2
    assert "scored by an earlier version (searchwake-event/2)" in capsys.readouterr().err
    assert path.read_bytes() == old
    assert standings(club, "--again") == 0
    assert [kept.read_bytes() for kept in (club / "events/cup/earlier").iterdir()] == [old]
    assert scored(club)["format"] == "searchwake-event/3"
    assert json.loads((club / "events/cup/log.jsonl").read_text().splitlines()[-1])["was"] == was


def test_a_confirmation_of_what_is_not_proposed_stops_the_scoring_with_one_line(club, capsys):
    text = (
        '\n[[judge]]\nbib = 1\nfield = "lower_bowl"\nconfirms = "covered_twice"\nreason = "seen"\nby = "A judge"\n'
        "at = 2026-02-14T10:12:00Z\n"
    )
    before = (club / "events/cup/scored.json").read_bytes()
    (club / "events/cup/event.toml").write_text(EVENT + text)
    assert standings(club, "--again") == 2
    shown = capsys.readouterr().err.strip()
    assert "event.toml, [[judge]] 1, confirms: covered_twice is not proposed for bib 1 on lower_bowl" in shown
    assert "\n" not in shown
    assert (club / "events/cup/scored.json").read_bytes() == before
