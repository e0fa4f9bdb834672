"""A run whose files are gone after the scoring: said, and not taken for one that is still to come."""

import json
import shutil
from pathlib import Path

import pytest

from analyzer import cli
from analyzer.events.files.scored_json import read_scored
from tests.attacks.verify_bytes import make_club


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a workspace whose event finds its runs by the bibs in their run.toml."""
    root = tmp_path_factory.mktemp("lost") / "club"
    event = make_club(root)
    for bib, run in ((1, "runa-1"), (2, "ilvo-2")):
        toml = root / "drills/lower_bowl/runs" / run / "run.toml"
        toml.write_text(f"{toml.read_text()}bib = {bib}\n")
        text = (event / "event.toml").read_text()
        (event / "event.toml").write_text(text.replace(f'runs = {{lower_bowl = "{run}"}}\n', ""))
    assert cli.main(["standings", str(event), "--again", "--jobs", "1"]) == 0
    return root


@pytest.fixture
def event(made, tmp_path):
    return Path(shutil.copytree(made, tmp_path / "club")) / "events/cup"


def again(event):
    return cli.main(["standings", str(event), "--again", "--jobs", "1"])


def verify(event):
    return cli.main(["verify", str(event), "--jobs", "1"])


def score_of(event, bib):
    table = read_scored(event / "scored.json").table("lower_bowl", "")
    return next(p.score for p in table.places if p.score.bib == bib)


def test_a_lost_run_is_told_with_what_it_had_and_the_standing_before_is_kept(event, tmp_path, capsys):
    run = event.parents[1] / "drills/lower_bowl/runs/ilvo-2"
    before, had = (event / "scored.json").read_bytes(), score_of(event, "2").seconds.value
    minutes = f"{int(had // 60)}:{had % 60:04.1f}"
    kept = shutil.move(run, tmp_path / "kept")
    assert cli.main(["standings", str(event)]) == 1
    shown = capsys.readouterr().err
    assert "track.gpx is gone since the scoring: it still counts here, and --again would count without it" in shown
    assert again(event) == 1
    shown = capsys.readouterr()
    line = f"bib 2, lower_bowl: its files are gone: its run had {minutes} when it was scored before"
    assert line in shown.err
    assert "put its folder back into drills/lower_bowl/runs and score anew with --again" in shown.err
    assert "not yet on the field" not in shown.out + shown.err
    score = score_of(event, "2")
    assert (score.seconds, score.pending, score.why.startswith("its files are gone")) == (None, True, True)
    assert before in [p.read_bytes() for p in (event / "earlier").iterdir()]
    # It stays lost at the next scoring, which knows it from the log alone; and it is the same computed anew.
    assert again(event) == 1
    assert line in capsys.readouterr().err
    assert score_of(event, "2").why == score.why
    verify(event)
    assert "lower_bowl/2" not in capsys.readouterr().err
    # Back again, it counts as it did.
    shutil.move(kept, run)
    assert again(event) == 0
    assert score_of(event, "2").seconds.value == had
    assert "lost" not in json.loads((event / "log.jsonl").read_text().splitlines()[-1])
    assert verify(event) == 0


def test_a_judge_may_end_the_waiting_for_a_lost_run(event):
    shutil.rmtree(event.parents[1] / "drills/lower_bowl/runs/ilvo-2")
    with (event / "event.toml").open("a") as file:
        file.write(
            '[[judge]]\nbib = 2\nfield = "lower_bowl"\nstatus = "stopped"\nreason = "recording lost"\nby = "A judge"\n'
            "at = 2026-02-14T12:00:00+01:00\n"
        )
    assert again(event) == 0
    assert (score_of(event, "2").status, score_of(event, "2").pending) == ("stopped", False)


def test_who_never_had_a_run_is_not_yet_on_the_field(event):
    with (event / "event.toml").open("a") as file:
        file.write('[[entry]]\nbib = 3\nname = "Mara"\nclass = "open"\n')
    assert again(event) == 0
    assert score_of(event, "3").why == "not yet on the field"


def test_a_lost_run_that_an_entry_names_is_said_to_have_been_there(event, capsys):
    text = (event / "event.toml").read_text()
    (event / "event.toml").write_text(
        text.replace('name = "Ilvo"\n', 'name = "Ilvo"\nruns = {lower_bowl = "ilvo-2"}\n')
    )
    shutil.rmtree(event.parents[1] / "drills/lower_bowl/runs/ilvo-2")
    assert again(event) == 1  # the rest is scored all the same
    said = capsys.readouterr().err
    assert "there is no run 'ilvo-2' in lower_bowl, so bib" in said
    assert "has no result there any more, though it was measured for this event" in said
    assert "put its folder back into drills/lower_bowl/runs" in said
