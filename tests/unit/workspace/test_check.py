"""The check of files: every mistake that is made here is told, with its place; what is right is not."""

import json

import pytest
import tiny_workspace as tiny

from analyzer import cli
from analyzer.commands.check import checked
from analyzer.files.rules_toml import default_rules_bytes
from analyzer.workspace.database.index import index_workspace

EVENT = """[event]
name = "Cup"
rules = "fastest"
[[class]]
id = "open"
[[field]]
drill = "bowl"
[[entry]]
bib = 1
name = "Mara"
class = "open"
runs = {bowl = "mara-1"}
[[entry]]
bib = 2
name = "Ilo"
class = "open"
runs = {bowl = "ilo-1"}
"""


@pytest.fixture
def tidy(tmp_path, measured, monkeypatch):
    """Return a workspace in which nothing is wrong: two drills, people, an event, a sheet, results."""
    monkeypatch.delenv("SEARCHWAKE_DB", raising=False)
    club = tmp_path / "club"
    tiny.add_drill(club, "bowl", {"mara-1": "Mara", "ilo-1": "Ilo"})
    tiny.add_drill(club, "gully", {"mara-2": "MARA"})
    (club / "people.toml").write_text('[[person]]\nname = "Mara"\n[[person]]\nname = "Ilo"\n')
    for place in ("events/cup", "rules"):
        (club / place).mkdir(parents=True)
    (club / "events/cup/event.toml").write_text(EVENT)
    (club / "rules/club.toml").write_bytes(default_rules_bytes())
    index_workspace(club)
    return club


def test_where_nothing_is_wrong_nothing_is_told(tidy, capsys):
    before = {path: path.read_bytes() for path in tidy.rglob("*") if path.is_file()}
    assert cli.main(["check", str(tidy)]) == 0
    assert capsys.readouterr().out == "0 problems, 0 remarks, 0 rows set aside\n"
    assert {path: path.read_bytes() for path in tidy.rglob("*") if path.is_file()} == before


RUN = "drills/bowl/runs/mara-1"
TIMES = "".join(f"2026-01-17T09:30:{s:02d}Z,30,A\n" for s in (1, 2))
MISTAKES = {
    "two tracks": (
        lambda c: (c / RUN / "track.gpx").write_text("<gpx/>"),
        (f"{RUN}: there are two tracks, track.csv and track.gpx", "keep one"),
    ),
    "a track that is none": (lambda c: (c / RUN / "track.csv").write_text("x\n1\n"), (f"{RUN}/track.csv, line 1: ",)),
    "no track": (lambda c: (c / RUN / "track.csv").unlink(), (f"{RUN}: there is no track",)),
    "a table nobody reads": (
        lambda c: (c / RUN / "reading.csv").write_text("x"),
        (f"{RUN}/reading.csv: no file of this name is read", "readings.csv"),
    ),
    "an unknown transmitter": (
        lambda c: (c / RUN / "readings.csv").write_text("time,reading_m,transmitter\n" + TIMES.replace("A", "B")),
        (f"{RUN}/readings.csv, line 2: the transmitter 'B' is not in drill.toml (2 rows)",),
    ),
    "a mark of an unknown transmitter": (
        lambda c: (c / RUN / "marks.csv").write_text("time,mark,transmitter\n2026-01-17T09:30:09Z,probe_hit,Z\n"),
        (f"{RUN}/marks.csv, line 2: the transmitter 'Z'",),
    ),
    "readings after the track": (
        lambda c: (c / RUN / "readings.csv").write_text("time,reading_m\n2026-01-17T09:34:00Z,30\n"),
        (f"{RUN}/readings.csv: 1 of 1 readings lie more than 90 s after the last fix",),
    ),
    "readings of another day": (
        lambda c: (c / RUN / "readings.csv").write_text("time,reading_m\n2026-01-18T09:30:00Z,30\n"),
        (f"{RUN}/readings.csv: the readings lie 1440 min from the track",),
    ),
    "a slip in run.toml": (
        lambda c: (c / RUN / "run.toml").write_text('seacher = "Mara"\nantennas = 4\n'),
        (f"{RUN}/run.toml: the key 'seacher' is not known", f"{RUN}/run.toml, antennas: 4 antennas"),
    ),
    "a drill that cannot be read": (
        lambda c: (c / "drills/bowl/drill.toml").write_text("[drill]\nname = 3\n"),
        ("drills/bowl/drill.toml, [drill], name: 3 is not a text", "drills/bowl/drill.toml: there is no transmitter"),
    ),
    "a drill without runs": (
        lambda c: (c / "drills/empty/runs").mkdir(parents=True),
        ("drills/empty/runs: there is no run",),
    ),
    "ids but for capitals": (
        lambda c: tiny.add_drill(c, "bowl", {"Mara-1": "Mara"}),
        ("the run Mara-1 has the same id but for capitals",),
    ),
    "one recording in two runs": (
        lambda c: (c / "drills/bowl/runs/ilo-1/track.csv").write_bytes((c / RUN / "track.csv").read_bytes()),
        (f"{RUN}: its track is that of drills/bowl/runs/ilo-1, byte for byte",),
    ),
    "one recording in two drills": (
        lambda c: (c / "drills/gully/runs/mara-2/track.csv").write_bytes((c / RUN / "track.csv").read_bytes()),
        (f"drills/gully/runs/mara-2: its track is that of {RUN}, byte for byte",),
    ),
    "a slip in a name": (
        lambda c: (c / RUN / "run.toml").write_text('searcher = "Marra"\n'),
        (f"{RUN}/run.toml: the searcher 'Marra' is not in people.toml; did you mean 'Mara'?",),
    ),
    "people.toml": (
        lambda c: (c / "people.toml").write_text("[[person]]\nnme = 1\n"),
        ("people.toml, [[person]] 1: ",),
    ),
    "an entry without its run": (
        lambda c: (c / "events/cup/event.toml").write_text(EVENT.replace("ilo-1", "ilo-2").replace("mara-1", "mara-9")),
        ("there is no run 'ilo-2' in bowl/runs; did you mean 'ilo-1'?", "there is no run 'mara-9' in bowl/runs"),
    ),
    "an event of a drill that is gone": (
        lambda c: (c / "events/cup/event.toml").write_text(EVENT.replace("bowl", "bowls")),
        ("events/cup/event.toml, [[field]] 1, drill: there is no drill 'bowls' in drills/; did you mean 'bowl'?",),
    ),
    "a bib that is there twice": (
        lambda c: (c / "events/cup/event.toml").write_text(EVENT.replace("bib = 2", "bib = 1")),
        ("events/cup/event.toml, [[entry]] 2, bib: bib 1 is there twice",),
    ),
    "a bib that nobody has": (
        lambda c: (tiny.add_drill(c, "bowl", {"zoe-1": "Mara"}) / "runs/zoe-1/run.toml").write_text("bib = 9\n"),
        ("drills/bowl/runs/zoe-1/run.toml, bib: no entry has the bib 9",),
    ),
    "a sheet of the form before": (
        lambda c: (c / "rules/old.toml").write_text("[weights]\nfine_search = 1\n"),
        ("rules/old.toml, line 1, weights: this rule sheet is of the form before",),
    ),
    "a sheet of events": (
        lambda c: (c / "rules/cup.toml").write_text("[event_rules]\nkind = 1\n"),
        ("rules/cup.toml, ",),
    ),
    "a stale result": (
        lambda c: (c / RUN / "track.csv").write_text((c / RUN / "track.csv").read_text() + "\n"),
        ("results/bowl/mara-1.json: the result is stale: track.csv has changed since", "searchwake index"),
    ),
    "a result of a drill that changed": (
        lambda c: (c / "drills/gully/drill.toml").write_text(tiny.DRILL.format(name="gully").replace("12", "13")),
        ("results/gully/mara-2.json: the result is stale: drill.toml has changed since",),
    ),
    "a result of the format before": (
        lambda c: (c / "results/bowl/mara-1.json").write_text('{"format": "searchwake-result/1"}'),
        ("results/bowl/mara-1.json: this is not a result of the format",),
    ),
    "a result whose run is gone": (
        lambda c: (c / "results/bowl/zoe-1.json").write_text("{}"),
        ("results/bowl/zoe-1.json: there is no such run any more",),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_every_mistake_is_told(tidy, capsys, name):
    make, told = MISTAKES[name]
    make(tidy)
    assert cli.main(["check", str(tidy)]) == 1
    lines = capsys.readouterr().out.splitlines()
    for words in told:
        assert any(words in line and not line.startswith(("remark", "set aside")) for line in lines), lines


def test_mistakes_of_many_files_are_told_at_once(tidy, capsys):
    for name in ("a slip in run.toml", "an unknown transmitter", "a sheet of the form before", "a stale result"):
        MISTAKES[name][0](tidy)
    assert cli.main(["check", str(tidy), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["format"] == "searchwake-check/1"
    places = [problem["where"] for problem in found["problems"]]
    for place in (
        f"{RUN}/run.toml",
        f"{RUN}/readings.csv, line 2",
        "rules/old.toml, line 1, weights",
        "results/bowl/mara-1.json",
    ):
        assert place in places
    assert all(set(problem) == {"where", "what", "do"} and all(problem.values()) for problem in found["problems"])


def test_remarks_are_no_faults(tidy, capsys):
    (tidy / RUN / "helmet.mp4").write_text("film")
    (tidy / "drills/bowl/notes.txt").write_text("windy")
    for name in ("late.gpx", "late.csv"):
        (tidy / "drills/bowl" / name).write_text("x")
    (tidy / "minutes.odt").write_text("x")
    tiny.add_drill(tidy, "bowl", {"guest-1": "Teodor"})
    assert cli.main(["check", str(tidy)]) == 0
    lines = capsys.readouterr().out.splitlines()
    for words in (
        f"{RUN}/helmet.mp4: nobody reads this file",
        "drills/bowl/notes.txt: nobody reads this",
        "remark: drills/bowl/late.gpx: nobody reads this; put it into a run's folder, or name it as waypoints",
        "minutes.odt: nobody reads this",
        "the searcher 'Teodor' is not in people.toml",
        "drills/bowl/runs/guest-1: it is not measured yet",
        "1 run of no entry set aside: guest-1",
    ):
        assert [line for line in lines if line.startswith("remark: ") and words in line], words
    assert "remark: drills/bowl/late.csv: nobody reads this; put it into a run's folder" in lines
    assert lines[-1] == "0 problems, 8 remarks, 0 rows set aside"


def test_a_log_takes_the_day_and_the_clock_of_its_drill(tidy, capsys):
    (tidy / RUN / "readings.txt").write_text("Uhrzeit;Anzeige;Pfeil\n10:30:05;30;links\n10:30:09;28;\n")
    assert cli.main(["check", str(tidy / RUN)]) == 1
    told = capsys.readouterr().out
    assert "readings.txt, line 2: the time '10:30:05' has no date" in told
    assert "date in drill.toml" in told
    drill = tidy / "drills/bowl/drill.toml"
    dated = "[drill]\ndate = 2026-01-17\nstart = 2026-01-17T10:30:00+01:00\n"
    drill.write_text(drill.read_text().replace("[drill]\n", dated))
    assert cli.main(["check", str(tidy / RUN)]) == 0
    assert capsys.readouterr().out.splitlines()[-2:] == [
        "set aside: readings.txt: 1 in 'Pfeil' (column C), which is not read",
        "0 problems, 0 remarks, 1 row set aside",
    ]
    (tidy / RUN / "timing.xlsx").write_bytes(b"x")
    assert cli.main(["check", str(tidy / RUN)]) == 0
    assert (
        "remark: timing.xlsx: nobody reads this file; if it is a log, call it readings or marks"
        in capsys.readouterr().out
    )


def test_what_is_set_aside_is_counted(tidy, capsys):
    text = "time,reading_m\n2026-01-17T09:30:05Z,30\n2026-01-17T09:30:06Z,\n2026-01-17T09:30:07Z,\n"
    (tidy / RUN / "readings.csv").write_text(text)
    assert cli.main(["check", str(tidy / RUN)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "set aside: readings.csv: 2 no reading in the row", "0 problems, 0 remarks, 2 rows set aside"
    ]  # fmt: skip


def test_a_drill_and_a_run_are_checked_by_themselves(tidy, capsys):
    MISTAKES["an unknown transmitter"][0](tidy)
    for folder, where in (
        (tidy / "drills/bowl", "runs/mara-1/readings.csv, line 2"),
        (tidy / RUN, "readings.csv, line 2"),
    ):
        assert [one.where for one in checked(folder).problems] == [where]
    (tidy / "drills/bowl/drill.toml").unlink()
    assert checked(tidy / RUN).problems[0].what == "there is no drill.toml in the folder"


@pytest.mark.parametrize("folder", ["", "club/drills/none", "club/people.toml"])
def test_wrong_usage(tidy, tmp_path, capsys, folder):
    assert cli.main(["check", str(tmp_path / folder)]) == 2
    assert "this is no folder of a workspace, a drill or a run" in capsys.readouterr().err
