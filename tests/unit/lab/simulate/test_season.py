"""The sample season: known changes, an event that scores, files that say they are invented; and that a season's page
finds what was put in."""

import datetime as dt
import itertools
import json
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from analyzer.cli import main
from analyzer.engine.pipeline import analyze_drill
from analyzer.engine.run_line import run_line
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate.faults import FaultPlan, WrongWay
from analyzer.lab.simulate.scenario import simulate_drill, simulate_run
from analyzer.lab.simulate.season import (
    ABSENT,
    DAYS,
    EVENT_FOLDER,
    FIELDS,
    SLOWS_EARLIER,
    STAYS,
    TURNS_SOONER,
    entries,
    event_toml,
    people_of_club,
    season_drills,
    season_truth,
)
from analyzer.seasons.model import BETTER, CLEAR
from analyzer.seasons.trend import person_season
from analyzer.workspace.people.people_toml import parse_people, people_bytes


def test_who_searches_when():
    drills = season_drills(3)
    days, fields = drills[:DAYS], drills[DAYS:]
    assert [len(d.starters) for d in days] == [13] * DAYS
    assert len(entries()) == 24
    assert [f.folder for f in fields] == list(FIELDS)
    assert [len(f.starters) for f in fields] == [24, 24, 23]
    assert not any(s.bib == str(ABSENT[0]) for s in fields[FIELDS.index(ABSENT[1])].starters)
    dates = [d.drill.drill.date for d in days]
    assert {b - a for a, b in itertools.pairwise(dates)} == {dt.timedelta(days=7)}
    seeds = [s.seed for d in drills for s in d.starters]
    assert len(set(seeds)) == len(seeds)


def test_everything_says_that_it_is_invented():
    for one in season_drills(0):
        assert "(invented)" in one.drill.drill.name
    assert "(invented)" in tomllib.loads(event_toml())["event"]["name"]
    assert all("invented" in p.note for p in people_of_club().persons)
    assert "invented" in season_truth(0)["invented"]


def test_known_changes_are_those_that_are_carried_out():
    """The faults of the plans follow the course of the truth file; of the one who stays they do not hang on the day."""
    truth = {p["name"]: p for p in season_truth(0)["people"]}
    wanted = truth[TURNS_SOONER]["seconds_the_wrong_way"]
    paces = truth[SLOWS_EARLIER]["pace_into_the_last_metres_mps"]
    stays = []
    for day, one in enumerate(season_drills(0)[:DAYS]):
        plans = {(s.name, s.run_id): s.plans["T1"] for s in one.starters}
        for (name, _), plan in plans.items():
            if name == TURNS_SOONER:
                assert plan.wrong_way.longest_s == pytest.approx(wanted[day], abs=1.5)
            if name == SLOWS_EARLIER:
                assert plan.late_slow_down.pace_mps == pytest.approx(paces[day], abs=0.2)
            if name == STAYS:
                stays.append((day, plan.wrong_way.longest_s))
    early, late = ([m for d, m in stays if (d < DAYS / 2) == first] for first in (True, False))
    assert abs(np.mean(early) - np.mean(late)) < 1.0


def test_event_and_people_read_back():
    draft = parse_event_toml(event_toml().encode())
    assert (len(draft.entries), len(draft.fields), len(draft.judge)) == (24, 3, 1)
    people = parse_people(people_bytes(people_of_club()))
    assert people == people_of_club()
    assert {p.group for p in people.persons} == {"Tuesday group", "Saturday group"}
    assert sum(not p.consent for p in people.persons) == 1


def test_plans_of_given_size_are_walked():
    drill = simulate_drill(seed=5)
    lasted = []
    for longest_s in (3.0, 6.0):
        plan = FaultPlan(wrong_way=WrongWay(metres=30.0, after=0.8, notice_s=0.5, longest_s=longest_s))
        (done,) = simulate_run(drill, seed=1, plans={"T1": plan}).truth.faults
        assert done.name == "wrong_way"
        # The way out, and the stop at its end until the searcher stands and has stood.
        assert longest_s + 0.5 <= done.to_s - done.from_s <= longest_s + 2.5
        lasted.append(done.to_s - done.from_s)
    assert lasted[1] - lasted[0] == pytest.approx(3.0, abs=0.2)


def test_the_season_shows_what_was_put_in():
    """A cut of the season: three people, eight days, no event. Both changes are found and clear.

    It measures 48 runs, which takes 7 s: this is the only test of the way from a known change to the sentence. What
    chance does to the third, who does not change, is not for one season to tell: see the trend's own tests.
    """
    lines = []
    for one in season_drills(0, people=3, event=False):
        results = analyze_drill(one.drill.drill, [run.recording for run in one.runs()], default_rules(), draws=16)
        lines += [run_line(result, one.folder, result.run_id) for result in results]
    seasons = {
        name: person_season(name, [x for x in lines if x.searcher == name])
        for name in (TURNS_SOONER, SLOWS_EARLIER, STAYS)
    }
    for person in season_truth(0)["people"]:
        trends = {t.measure.key: t for t in seasons[person["name"]].trends}
        if person["measure"]:
            found = trends[person["measure"]]
            assert (found.state, found.way) == (CLEAR, BETTER), person["name"]
        else:
            assert trends["turnaround_s"].state != CLEAR
            assert trends["pace_at_3_m"].state != CLEAR
    assert seasons[TURNS_SOONER].causes[0].cause == "wrong_way"


def test_the_command_writes_a_workspace(tmp_path, monkeypatch, capsys):
    small = tuple(replace(d, starters=d.starters[:1]) for d in (season_drills(4)[0], season_drills(4)[DAYS]))
    monkeypatch.setattr("analyzer.commands.simulate.season_drills", lambda seed: small)
    assert main(["simulate", str(tmp_path / "club"), "--season", "--seed", "4"]) == 0
    assert "invented" in capsys.readouterr().out
    club = tmp_path / "club"
    assert (club / "drills" / "practice_1" / "runs" / "kaja-1" / "track.gpx").is_file()
    event = parse_event_toml((club / "events" / EVENT_FOLDER / "event.toml").read_bytes())
    assert event.name == "Spring cup (invented)"
    assert parse_people((club / "people.toml").read_bytes()) == people_of_club()
    assert json.loads((club / "truth_season.json").read_text())["seed"] == 4
    assert main(["simulate", str(club), "--season"]) == 2
    assert "there is a workspace already" in capsys.readouterr().err
