"""People who are forgotten or ask for their data, and the events that they took part in.

Measured by the engine itself, on two runs of the sample day.
"""

import io
import json
import shutil
import sys
import zipfile
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.events.files.scored_json import read_scored
from analyzer.events.lone_names import toml_without_lone_names, without_lone_names, without_names, words_of
from dashboard.services.events import Events
from tests.attacks.verify_bytes import make_club

NAME = "Runa Tesslin"
"""As it stands in run.toml, and in the event."""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a workspace whose event was scored twice; a judge's reason and a comment name the person as well."""
    root = tmp_path_factory.mktemp("forgotten") / "club"
    event = make_club(root)
    text = (event / "event.toml").read_text().replace("left the area", "Runa left the area")
    (event / "event.toml").write_text(f"# Runa came late.\n{text}")
    assert cli.main(["standings", str(event), "--again", "--jobs", "1"]) == 0
    return root


@pytest.fixture
def club(made, tmp_path, monkeypatch):
    """Return a copy of it, free to be harmed."""
    monkeypatch.delenv("SEARCHWAKE_DB", raising=False)
    return Path(shutil.copytree(made, tmp_path / "club"))


def people(club, *words):
    return cli.main(["people", str(club), *words])


def verify(club):
    return cli.main(["verify", str(club / "events/cup"), "--jobs", "1"])


def places(club):
    scored = read_scored(club / "events/cup/scored.json")
    return [
        (t.scope, t.class_id, [(p.rank, p.score.bib, p.score.seconds, p.unclear) for p in t.places])
        for t in scored.standings
    ]


def mentions(club):
    """Return the files of events that hold a name of the person or of their run, in bytes or in the file's own name."""
    words = (b"Runa", b"runa-1")
    files = [p for p in (club / "events").rglob("*") if p.is_file()]
    return [
        p.relative_to(club).as_posix() for p in files if any(w in p.read_bytes() or w.decode() in p.name for w in words)
    ]


def test_an_event_holds_after_somebody_was_forgotten(club, capsys):
    before = places(club)
    assert len(mentions(club)) > 5
    assert people(club, "forget", NAME, "--yes", "--events", "anonymise") == 0
    assert "event cup: Bib 1 stands for the name; noted in its log" in capsys.readouterr().out
    assert mentions(club) == []
    assert not (club / "drills/lower_bowl/runs/runa-1").exists()
    assert places(club) == before
    text = (club / "events/cup/event.toml").read_text()
    assert text.startswith("# Bib 1 came late.\n")
    assert 'reason = "Bib 1 left the area"' in text
    assert 'runs = {lower_bowl = "bib-1"}' in text
    last = json.loads((club / "events/cup/log.jsonl").read_text().splitlines()[-1])
    assert (last["action"], last["bibs"]) == ("anonymised", ["1"])
    assert verify(club) == 0
    # Judges may go on, and no byte changes unnoticed.
    (club / "events/cup/event.toml").write_text(text.replace("penalty_s = 10", "penalty_s = 20"))
    assert cli.main(["standings", str(club / "events/cup"), "--again", "--jobs", "1"]) == 0
    assert verify(club) == 0
    path = club / "events/cup/forgotten.json"
    path.write_text(
        path.read_text().replace('"duration_s": 2', '"duration_s": 3').replace('"duration_s": 3', '"duration_s": 4')
    )
    assert verify(club) == 1
    assert "events/cup/forgotten.json was replaced after the scoring" in capsys.readouterr().err


def test_what_may_still_be_found_is_asked_for_first(club, monkeypatch, capsys):
    """The question lists the events; nothing happens without both answers."""
    files = {p: p.read_bytes() for p in club.rglob("*") if p.is_file()}
    for answer in ("", "maybe\n", "anonymise\nnobody\n"):
        monkeypatch.setattr(sys, "stdin", io.StringIO(answer))
        assert people(club, "forget", NAME) == 2
        shown = capsys.readouterr()
        assert "  event cup (Invented cup): bib 1\n" in shown.out
        assert shown.err == "nothing was removed\n"
    assert people(club, "forget", NAME, "--yes") == 2
    assert "took part in events (cup): add --events anonymise or --events leave" in capsys.readouterr().err
    assert {p: p.read_bytes() for p in club.rglob("*") if p.is_file() and p.name != "searchwake.db"} == files
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"anonymise\n{NAME}\n"))
    assert people(club, "forget", NAME) == 0
    assert verify(club) == 0


def test_left_as_they_are_events_still_name_them(club, capsys):
    assert people(club, "forget", NAME, "--yes", "--events", "leave") == 1
    assert "cup/results/summary.csv: this record of an event names them" in capsys.readouterr().err
    assert "events/cup/event.toml" in mentions(club)
    assert verify(club) == 1
    assert "drills/lower_bowl/runs/runa-1/marks.csv is gone since the scoring" in capsys.readouterr().err


def test_an_event_that_is_not_as_it_was_scored_stops_the_forgetting(club, capsys):
    """Else a judge's entry would begin to count in silence."""
    event = club / "events/cup/event.toml"
    event.write_text(event.read_text().replace("penalty_s = 10", "penalty_s = 90"))
    before = {p: p.read_bytes() for p in club.rglob("*") if p.is_file()}
    assert people(club, "forget", NAME, "--yes", "--events", "anonymise") == 2
    shown = capsys.readouterr().err
    assert "events/cup: the event is not as it was scored" in shown
    assert "searchwake standings events/cup --again first, or --events leave" in shown
    assert {p: p.read_bytes() for p in club.rglob("*") if p.is_file() and p.name != "searchwake.db"} == before


@pytest.mark.parametrize("step", ["forget_person", "score_event"])
def test_a_call_that_was_stopped_can_be_made_again(club, monkeypatch, step):
    before = places(club)

    def stop(*_, **__):
        raise KeyboardInterrupt

    place = {"forget_person": "analyzer.workspace.people.forget", "score_event": "analyzer.events.anonymise"}[step]
    with monkeypatch.context() as patch:
        patch.setattr(f"{place}.{step}", stop)
        people(club, "forget", NAME, "--yes", "--events", "anonymise")
    assert verify(club) == 1
    assert people(club, "forget", NAME, "--yes", "--events", "anonymise") == 0
    assert mentions(club) == []
    assert places(club) == before
    assert verify(club) == 0


@pytest.mark.parametrize("step", ["_anonymised_standing", "score_event"])
def test_the_next_standings_finish_what_a_killed_forgetting_had_begun(club, monkeypatch, capsys, step):
    """The person's files are gone by then; a half-written file that names them goes too."""
    before, event = places(club), club / "events/cup"

    def killed(*_, **__):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(f"analyzer.events.anonymise.{step}", killed)
        people(club, "forget", NAME, "--yes", "--events", "anonymise")
    (event / "earlier" / ".a1b2.part").write_text('{"name": "Runa"')
    assert mentions(club)
    (shown,) = [one for one in Events(club).table("cup", "overall", "").broken if "taken out" in one]
    assert shown.endswith("searchwake standings events/cup finishes it")
    with monkeypatch.context() as patch:
        patch.setattr("analyzer.events.anonymise.os.access", lambda path, mode: False)
        capsys.readouterr()
        assert cli.main(["standings", str(event)]) == 1
        assert "somebody was to be taken out of this event" in capsys.readouterr().err
    assert cli.main(["standings", str(event), "--jobs", "1"]) == 0
    assert "cup: Bib 1 stands for a name; what a stopped call had begun is done" in capsys.readouterr().out
    assert mentions(club) == []
    assert places(club) == before
    assert not any("part" in name for line in log_lines(event) for name in line.get("kept", ()))
    assert verify(club) == 0


def log_lines(event):
    return [json.loads(line) for line in (event / "log.jsonl").read_text().splitlines()]


def test_a_name_that_is_part_of_another_is_not_torn_out_of_it(club, capsys):
    """Ilvo becomes "Runa Holm": her name stays, and so does a judge's word that may be about her; it is told."""
    event = club / "events/cup/event.toml"
    text = event.read_text().replace('name = "Ilvo"', 'name = "Runa Holm"')
    event.write_text(text.replace("Runa left the area", "Runa Holm saw it, Runa Tesslin left the area"))
    assert cli.main(["standings", str(club / "events/cup"), "--again", "--jobs", "1"]) == 0
    capsys.readouterr()
    assert people(club, "forget", NAME, "--yes", "--events", "anonymise", "--lone-names", "replace") == 1
    told = capsys.readouterr().err
    assert "event cup, event.toml, line 1: Runa may be theirs or that of bib 2, Runa Holm: it is kept" in told
    assert "change it by hand and score anew with --again: # Runa came late." in told
    text = event.read_text()
    assert 'name = "Runa Holm"' in text
    assert 'reason = "Runa Holm saw it, Bib 1 left the area"' in text
    assert {e.name for t in read_scored(event.with_name("scored.json")).standings for e in t.places} == {
        "Bib 1", "Runa Holm"
    }  # fmt: skip
    assert verify(club) == 0


@pytest.fixture
def whole(club, capsys):
    """Return the club, in whose event the person stands with first and last name, and judges wrote the first alone."""
    event = club / "events/cup/event.toml"
    text = (
        event.read_text().replace('name = "Runa"', f'name = "{NAME}"').replace("# Runa came late.", "# She came late.")
    )
    event.write_text(text.replace("Runa left the area", "RÜNÁ left, helped by Tesslin's friend; not Runard"))
    assert cli.main(["standings", str(club / "events/cup"), "--again", "--jobs", "1"]) == 0
    (club / "events/cup/earlier").joinpath("x.json").write_text(
        '{"why": "Runa, again", "drill": "runa", "name": "Runa"}'
    )
    capsys.readouterr()
    return club


def test_a_lone_first_name_is_shown_and_replaced_on_request(whole, monkeypatch, capsys):
    """Whatever its capitals and accents, as a word of its own, in earlier standings too; nothing happens unasked."""
    event = whole / "events/cup"
    text = event.joinpath("event.toml").read_text()
    assert people(whole, "forget", NAME, "--yes", "--events", "anonymise") == 2
    assert "add --lone-names replace or --lone-names keep\nnothing was removed" in capsys.readouterr().err
    monkeypatch.setattr(sys, "stdin", io.StringIO("anonymise\nperhaps\n"))
    assert people(whole, "forget", NAME) == 2
    shown = capsys.readouterr().out
    assert 'event cup, event.toml, line 29: RÜNÁ: "RÜNÁ left, helped by Tesslin\'s friend; not Runard"' in shown
    assert "event cup, event.toml, line 29: Tesslin: " in shown
    assert "event cup, earlier/x.json: Runa: Runa, again" in shown
    assert event.joinpath("event.toml").read_text() == text
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"anonymise\nreplace\n{NAME}\n"))
    assert people(whole, "forget", NAME) == 0
    text = event.joinpath("event.toml").read_text()
    assert 'reason = "Bib 1 left, helped by Bib 1\'s friend; not Runard"' in text
    earlier = json.loads(event.joinpath("earlier/x.json").read_text())
    assert earlier == {"why": "Bib 1, again", "drill": "runa", "name": "Runa"}
    for path in event.rglob("*"):
        assert not path.is_file() or "RÜNÁ" not in path.read_text(errors="replace"), path
    assert verify(whole) == 0


def test_a_lone_first_name_that_is_kept_is_told_at_the_end(whole, capsys):
    assert people(whole, "forget", NAME, "--yes", "--events", "anonymise", "--lone-names", "keep") == 1
    told = capsys.readouterr().err
    assert "event cup, event.toml, line 29: Tesslin still stands there; change it by hand" in told
    assert "Tesslin's friend" in (whole / "events/cup/event.toml").read_text()
    assert verify(whole) == 0


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("jose alvarez and Jose\u0301", "Bib 7 and Bib 7"),
        ("Joseph, José-María, de, drills/jose/x, jose.gpx", "Joseph, José-María, de, drills/jose/x, jose.gpx"),
        ("JOSÉ  ÁLVAREZ's; Alvarez.", "Bib 7's; Bib 7."),
        ("Straße", "Straße"),
    ],
)
def test_names_are_found_whatever_their_accents_and_as_words_of_their_own(text, left):
    names = ("José Álvarez",)
    assert words_of(["Anna de Vries", "mk"]) == {"anna", "vries", "mk"}
    assert without_lone_names(without_names(text, names, "Bib 7"), words_of(names), "Bib 7") == left


def test_only_reasons_and_comments_of_the_file_are_free_words():
    """A name that is a key or an id as well ("field") breaks nothing."""
    text = '''[[field]]  # Field, north
drill = "field"
[[judge]]
field = "field"
reason = """Field left
the field"""
by = "Field"
'''
    assert toml_without_lone_names(text, ["field"], "Bib 7") == (
        text.replace("# Field", "# Bib 7").replace("Field left\nthe field", "Bib 7 left\nthe Bib 7")
    )


def test_export_holds_what_events_have_of_them(club, tmp_path, capsys):
    out = tmp_path / "runa.zip"
    assert people(club, "export", NAME, "--out", str(out)) == 0
    assert "1 event\n" in capsys.readouterr().out
    with zipfile.ZipFile(out) as archive:
        standing = json.loads(archive.read("events/cup/standing.json"))
        assert (
            archive.read("events/cup/results/lower_bowl/runa-1.json")
            == (club / "events/cup/results/lower_bowl/runa-1.json").read_bytes()
        )
        assert not [n for n in archive.namelist() if n.startswith("events") and b"Ilvo" in archive.read(n)]
    scored = json.loads((club / "events/cup/scored.json").read_bytes())
    assert standing["entries"] == [{"bib": "1", "name": "Runa", "class": "open"}]
    assert set(standing["scores"]) == {"lower_bowl/1", "overall/1"}
    assert standing["scores"]["lower_bowl/1"] == scored["scores"]["lower_bowl/1"]
    assert {(p["scope"], p["of"]) for p in standing["places"]} == {("lower_bowl", 2), ("overall", 2)}
