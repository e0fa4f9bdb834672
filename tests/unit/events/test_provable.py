"""What is kept of a scoring can be proved: no byte changes unnoticed, no second scoring passes for the first one.

Measured by the engine itself, on two runs of the sample day.
"""

import json
import os
import shutil

import pytest

from analyzer import cli
from analyzer.events.decisions_log import append_log, line_bytes, line_hash
from analyzer.events.files.scored_json import parse_scored, read_scored
from analyzer.events.written import earlier_faults
from tests.attacks.verify_bytes import JUDGE, changed_bytes, files_of, make_club


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a workspace whose event was scored twice."""
    root = tmp_path_factory.mktemp("provable") / "club"
    make_club(root)
    return root


@pytest.fixture
def event(made, tmp_path):
    """Return the event in a copy of it, free to be harmed."""
    return shutil.copytree(made, tmp_path / "club") / "events" / "cup"


def standings(event, *more):
    return cli.main(["standings", str(event), "--jobs", "1", *more])


def verify(event):
    return cli.main(["verify", str(event), "--jobs", "1"])


def log_of(event):
    return [json.loads(line) for line in (event / "log.jsonl").read_text().splitlines()]


def test_any_changed_byte_is_named(event, tmp_path):
    """A short run of `python -m tests.attacks.verify_bytes`."""
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    out = changed_bytes(event, scratch, changes=24, seed=10)
    assert out.missed == []
    assert len(out.rounds) > 8  # of 20 files


def test_a_log_whose_last_line_was_written_anew_with_a_right_hash_is_named(event, capsys):
    """Who rewrites the line and its hash has another head than scored.json, and than the list on paper."""
    lines = log_of(event)
    lines[-1] |= {"at": "2026-01-01T00:00:00Z"}
    lines[-1]["hash"] = line_hash(lines[-1])
    (event / "log.jsonl").write_bytes(b"".join(line_bytes(line) + b"\n" for line in lines))
    assert verify(event) == 1
    assert "scored.json, log_head: stored" in capsys.readouterr().err
    assert standings(event) == 1


def test_scored_again_from_nothing_is_refused_and_logged_as_what_it_is(event, capsys):
    """Issue 10: scored.json deleted, the penalty changed and scored once more passed for the first scoring."""
    (event / "scored.json").unlink()
    (event / "event.toml").write_text((event / "event.toml").read_text().replace("penalty_s = 10", "penalty_s = 90"))
    before = files_of(event)
    assert standings(event) == 2
    shown = capsys.readouterr().err
    assert "cup/scored.json: the file is missing, and log.jsonl says that this event was scored (last at" in shown
    assert len(shown.strip().splitlines()) == 1
    assert files_of(event) == before
    assert standings(event, "--again") == 0
    assert [line["action"] for line in log_of(event)] == [
        "scored", "scored again", "scored again, scored.json was missing"
    ]  # fmt: skip
    assert verify(event) == 0


def test_a_missing_log_is_named_and_stays_noted(event, capsys):
    head = read_scored(event / "scored.json").log_head
    (event / "log.jsonl").unlink()
    assert standings(event) == 1
    assert "log.jsonl: it is missing" in capsys.readouterr().err
    assert verify(event) == 1
    assert "log.jsonl: it is missing" in capsys.readouterr().err
    assert standings(event, "--again") == 0
    assert log_of(event)[0]["found"] == ["log.jsonl: it is missing"]
    assert read_scored(event / "scored.json").log_head != head  # the lists on paper tell them apart


def test_the_head_stands_on_every_list_and_says_which_version_made_it(event, tmp_path, capsys):
    head = log_of(event)[-1]["hash"]
    shown = " ".join(head[i : i + 4] for i in range(0, 16, 4))
    out = {name: tmp_path / f"out.{name}" for name in ("csv", "sheet")}
    assert standings(event, "--csv", str(out["csv"]), "--sheet", str(out["sheet"])) == 0
    printed = " ".join(capsys.readouterr().out.split())
    version = read_scored(event / "scored.json").engine
    assert f"Searchwake {version}. Log head {shown}" in printed
    assert all(line.endswith(f",{version},{shown}") for line in out["csv"].read_text().splitlines()[1:])
    page = out["sheet"].read_text()
    assert f"Log head <strong>{shown}</strong>" in page
    assert f"Searchwake {version}" in page
    assert verify(event) == 0
    assert f"Log head {shown}" in capsys.readouterr().out


def test_an_earlier_standing_is_kept_and_watched(event, capsys):
    first, second = log_of(event)
    (name, _), *more = second["kept"].items()
    assert more == []
    kept = event / "earlier" / name
    assert parse_scored(kept.read_bytes()).integrity == first["integrity"]
    assert name.startswith(first["at"].replace(":", ""))
    kept.unlink()
    assert verify(event) == 1
    assert f"earlier/{name}: this earlier standing is missing" in capsys.readouterr().err


def test_a_judges_entry_measures_nothing(event, monkeypatch, capsys):
    """It does not count until it is asked for, and then nothing but the ranking is done anew."""
    results = {p: p.read_bytes() for p in (event / "results").rglob("*.json")}
    shown = read_scored(event / "scored.json")
    (event / "event.toml").write_text((event / "event.toml").read_text() + JUDGE.replace("bib = 1", "bib = 2"))
    assert standings(event) == 1
    assert "judges' entries since then do not count yet; --again ranks anew and measures nothing" in (
        capsys.readouterr().err
    )
    assert read_scored(event / "scored.json") == shown

    def refuse(*_, **__):
        raise AssertionError("measured or read a result again")

    monkeypatch.setattr("analyzer.engine.pipeline.analyze_drill", refuse)
    monkeypatch.setattr("analyzer.events.measured.parse_result", refuse)
    assert standings(event, "--again") == 0
    before, after = (dict(seconds_of(s)) for s in (shown, read_scored(event / "scored.json")))
    assert after["2"] == before["2"] + 10.0
    assert after["1"] == before["1"]
    assert {p: p.read_bytes() for p in (event / "results").rglob("*.json")} == results


def seconds_of(scored):
    return [(p.score.bib, p.score.seconds.value) for p in scored.table("lower_bowl", "").places]


def test_a_result_that_was_changed_does_not_count_at_the_next_scoring(event):
    """Its size and key are as they were: its hash is not, so its run is measured again and it is set aside."""
    path = event / "results/lower_bowl/ilvo-2.json"
    written = path.read_bytes()
    place = written.rindex(b'"at_s":') + len(b'"at_s":') if b'"at_s":' in written else len(written) // 2
    other = b"9" if written[place : place + 1] != b"9" else b"8"
    path.write_bytes(written[:place] + other + written[place + 1 :])
    assert standings(event, "--again") == 0
    assert path.read_bytes() == written
    assert path.with_name("ilvo-2.json.earlier").is_file()
    assert "the result of bib 2 on lower_bowl: the file was changed" in " ".join(log_of(event)[-1]["found"])
    assert verify(event) == 0


def test_what_cannot_be_meant_leaves_one_without_a_place_and_ranks_the_rest(event, capsys):
    """A bonus larger than the time, and a run with a bib that nobody has."""
    text = (event / "event.toml").read_text()
    (event / "event.toml").write_text(text.replace("penalty_s = 10", "bonus_s = 3000"))
    stray = shutil.copytree(
        event.parents[1] / "drills/lower_bowl/runs/runa-1", event.parents[1] / "drills/lower_bowl/runs/stray"
    )
    (stray / "run.toml").write_text("bib = 77\n")
    assert standings(event, "--again") == 1
    shown = capsys.readouterr().err
    assert "event.toml, [[judge]] 1, bonus_s: bib 1 has 3000 s of bonus on lower_bowl, more than the time of" in shown
    assert "lower_bowl/runs/stray/run.toml, bib: no entry has the bib 77: the run is set aside" in shown
    places = {p.score.bib: p for p in read_scored(event / "scored.json").table("overall", "").places}
    assert (places["1"].rank, places["2"].rank) == (None, 1)
    assert "bonus_s" in read_scored(event / "scored.json").table("lower_bowl", "").places[1].score.why


@pytest.mark.parametrize("act", ["standings", "again"])
def test_a_folder_that_cannot_be_written_to_is_one_line(event, capsys, monkeypatch, act):
    """The system refuses every new file of the event; what is there stays."""
    if act == "standings":
        for name in ("scored.json", "log.jsonl"):
            (event / name).unlink()
    before = {p: p.read_bytes() for p in event.rglob("*") if p.is_file()}
    monkeypatch.setattr("analyzer.events.store.os.access", lambda path, mode: False)
    assert standings(event, *(["--again"] if act == "again" else [])) == 2
    shown = capsys.readouterr().err
    assert "cup: the event's folder cannot be written to; allow writing to events/cup" in shown
    assert len(shown.strip().splitlines()) == 1
    assert {p: p.read_bytes() for p in event.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize("written", ['{"format": "searchwake-event/2", "integrity": "0123456789ab"}', "{", "\x00"])
def test_a_standing_that_cannot_be_read_any_more_is_kept(event, written, capsys):
    """Of an earlier version, or damaged: told, and put away as it is when the event is scored anew."""
    (event / "scored.json").write_text(written)
    assert standings(event) == 2
    assert "scored.json" in capsys.readouterr().err
    assert standings(event, "--again") == 0
    last = log_of(event)[-1]
    (name,) = last["kept"]
    assert (event / "earlier" / name).read_text() == written
    assert last["was"] == ("0123456789ab" if "format" in written else "unreadable")
    assert ("01234567" in name) is ("format" in written)
    assert verify(event) == 0


@pytest.mark.parametrize("first", [True, False])
def test_a_call_that_was_killed_after_the_logs_line_is_finished_by_the_next(event, monkeypatch, first):
    """Without it a first scoring would look like one whose scored.json was taken away."""
    import analyzer.events.store as store

    if first:
        for name in ("scored.json", "log.jsonl"):
            (event / name).unlink()
    write = store.write_atomic

    def killed(path, data):
        if path.name == "scored.json":
            raise KeyboardInterrupt
        write(path, data)

    with monkeypatch.context() as patch:
        patch.setattr(store, "write_atomic", killed)
        standings(event, *([] if first else ["--again"]))
    lines = log_of(event)
    assert (event / "scored.json").is_file() is not first
    assert standings(event) == 0
    assert log_of(event) == lines
    assert read_scored(event / "scored.json").log_head == lines[-1]["hash"]
    assert not (event / ".scored-next.json").exists()
    assert verify(event) == 0


def test_what_a_killed_call_left_in_a_read_only_folder_is_told_and_the_standing_shown(event, monkeypatch, capsys):
    before = (event / "scored.json").read_bytes()
    (event / ".scored-next.json").write_bytes(before)
    with monkeypatch.context() as patch:
        patch.setattr("analyzer.events.store.os.access", lambda path, mode: False)
        assert standings(event) == 1
        shown = capsys.readouterr()
        assert "Invented cup: overall" in shown.out
        assert "cannot be written to" in shown.err
        assert "what a stopped call had begun is not finished, and the standing is shown as it is" in shown.err
        assert standings(event, "--again") == 2
    assert standings(event) == 0
    assert not (event / ".scored-next.json").exists()


def test_halves_of_files_that_a_killed_call_left_are_taken_away_once_no_call_can_be_writing_them(event):
    (event / "earlier").mkdir(exist_ok=True)
    old, new = event / "earlier" / ".a1b2.part", event / ".c3d4.part"
    for path in (old, new):
        path.write_text('{"name": "Runa"')
    os.utime(old, (0, 0))
    assert standings(event) == 0
    assert (old.exists(), new.exists()) == (False, True)


def test_a_scoring_that_another_call_finished_meanwhile_is_no_error(event, monkeypatch):
    """The file of what was begun was gone then, and the folder was said not to be writable."""
    import analyzer.events.store as store

    append = store.append_log

    def finished_by_another(folder, **what):
        head = append(folder, **what)
        (folder / ".scored-next.json").unlink()
        return head

    monkeypatch.setattr(store, "append_log", finished_by_another)
    assert standings(event, "--again") == 0
    assert verify(event) == 0


def test_an_earlier_standing_that_was_removed_with_somebody_is_not_missed(tmp_path):
    append_log(tmp_path, action="scored again", kept={"a.json": "0" * 64, "b.json": "1" * 64})
    append_log(tmp_path, action="anonymised", kept={"a.json": ""})
    assert earlier_faults(tmp_path) == ["earlier/b.json: this earlier standing is missing"]
    (tmp_path / "earlier").mkdir()
    (tmp_path / "earlier" / "a.json").write_text("back again")
    assert "earlier/a.json: this earlier standing was changed" in earlier_faults(tmp_path)[0]


def test_a_begun_scoring_that_the_log_does_not_tell_of_counts_for_nothing(event):
    before = (event / "scored.json").read_bytes()
    (event / ".scored-next.json").write_bytes(before.replace(b'"rank": 2', b'"rank": 1'))
    assert standings(event) == 0
    assert (event / "scored.json").read_bytes() == before
    assert not (event / ".scored-next.json").exists()
