"""The page of a joint signal search: what it says, and why it says nothing."""

import dataclasses
import datetime as dt
import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from analyzer.files.results.result_json import write_result
from analyzer.model.team import MemberShare, TeamSearch
from dashboard.components.team import team_line
from dashboard.figures.team import team_figure
from dashboard.services.team import APART, NO_AREA, NO_FOLDER, NO_TEAM, Teams
from dashboard.view_models.team import covered_sentence, first_sentence, member_sentence, member_words, with_words

SAMPLE = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
CORNERS = np.array([[-40.0, -50.0], [40.0, -50.0], [40.0, 50.0], [-40.0, 50.0]])


@pytest.fixture
def teams(tmp_path):
    folder = tmp_path / "lower_bowl"
    folder.mkdir()
    shutil.copy(SAMPLE / "drill.toml", folder)
    return Teams(lambda: [folder])


def run_of(make_result, name, later_s=0.0, **changes):
    result = make_result(run_id=name.lower(), searcher=name)
    zero = result.time_zero + dt.timedelta(seconds=later_s)
    return dataclasses.replace(result, time_zero=zero, team=True, corners_m=CORNERS, **changes)


def search(sure=0.99, second="bo", left_out=(), first="ana"):
    shares = tuple(
        MemberShare(run, name, 0.5, 0.3, 120.0, heard)
        for run, name, heard in (("ana", "Ana", 100.0), ("bo", "Bo", 112.0), ("cara", "Cara", np.nan))
    )
    return TeamSearch(100.0, 0.81, 0.12, shares, first, second, sure, np.zeros((1, 2)), np.zeros(1), left_out)


def test_sentences():
    assert covered_sentence(search(), 10.0) == (
        "Until the first signal, 1:30 after the first set out, 81\u00a0% of the area was covered: "
        "12\u00a0% by more than one, 19\u00a0% by nobody."
    )
    assert covered_sentence(search(first=""), 10.0).startswith("In all, 81")
    assert first_sentence(search()) == "Ana heard first, 0:12 before Bo."
    assert "cannot be told" in first_sentence(search(sure=0.8))
    assert first_sentence(search(second="")) == "Ana heard first."
    assert "of Cara it is not known when" in first_sentence(search(left_out=("cara",)))
    close = first_sentence(search(left_out=("cara",), sure=0.6))
    assert close.startswith("Ana and Bo heard so close together")
    assert close.endswith("Of Cara it is not known when.")
    alone = first_sentence(search(left_out=("bo", "cara"), second="", sure=1.0))
    assert alone == "Ana is the only one of whom it is known when. Of Bo, Cara it is not known when."
    assert "Until the first signal that is known of, " in covered_sentence(search(left_out=("cara",)), 10.0)
    assert "not known" in first_sentence(search(first=""))
    assert member_words(search().members[2], 10.0).endswith("120\u00a0m; when the first reading came is not known.")
    assert member_words(search().members[1], 10.0) == (
        "covered 50\u00a0% of the area, 30\u00a0% alone, on 120\u00a0m; first reading at 1:42."
    )


def test_runs_stand_on_one_clock(teams, make_result):
    view = teams.view("lower_bowl", [run_of(make_result, "Ana"), run_of(make_result, "Bo", later_s=30.0)])
    first, second = view.search.members
    assert second.heard_s - first.heard_s == pytest.approx(30.0)
    assert view.search.first == "ana"
    assert view.search.until_s == pytest.approx(first.heard_s)
    assert 0.0 < view.search.covered <= 1.0
    json.dumps(team_figure(view.results, view.grid_m, view.search.count, view.paths_m), default=list)


def test_a_path_is_drawn_by_the_searchers_name_without_markup(teams, make_result):
    view = teams.view("lower_bowl", [run_of(make_result, "<b>Ana</b>"), run_of(make_result, "Bo")])
    names = [
        trace["name"]
        for trace in team_figure(view.results, view.grid_m, view.search.count, view.paths_m)["data"]
        if "name" in trace
    ]
    assert "<b>Ana</b>" not in names
    assert "Bo" in names


@pytest.mark.parametrize(
    ("drill", "changes", "why"),
    [
        ("lower_bowl", {"team": False}, NO_TEAM),
        ("lower_bowl", {"corners_m": None}, NO_AREA),
        ("elsewhere", {}, NO_FOLDER),
        ("lower_bowl", {"time_zero": dt.datetime(2020, 1, 1, tzinfo=dt.UTC)}, APART.format(6)),
    ],
)
def test_why_nothing_is_shown(teams, make_result, drill, changes, why):
    both = [run_of(make_result, "Ana"), dataclasses.replace(run_of(make_result, "Bo"), **changes)]
    if "time_zero" not in changes:
        both = [dataclasses.replace(one, **changes) for one in both]
    view = teams.view(drill, both)
    assert view.search is None
    assert view.why == why


def test_the_debrief_of_a_member_says_with_whom_and_who_heard_first(teams, make_result):
    both = [run_of(make_result, "Ana"), run_of(make_result, "Bo", later_s=30.0)]
    line = str(team_line(teams.view("lower_bowl", both), both[1], both, "/team/lower_bowl"))
    assert "Searched with Ana." in line
    assert "Ana heard first, 0:30 before Bo." in line
    assert "/team/lower_bowl" in line
    apart = team_line(teams.view("elsewhere", both), both[0], both, "/team/elsewhere")
    assert NO_FOLDER in str(apart)


def test_names_of_a_team():
    assert with_words([]) == "A team drill, with no other run yet"
    assert with_words(["Ana"]) == "Searched with Ana"
    assert with_words(["Ana", "Bo", "Cara"]) == "Searched with Ana, Bo and Cara"
    assert with_words(list("ABCDEF")) == "Searched with A, B, C, D and 2 more"
    assert member_sentence(search(), "bo") == (
        "Ana heard first, 0:12 before Bo. Together 81\u00a0% of the area was covered. "
        "Until then this searcher covered 50\u00a0%, 30\u00a0% alone."
    )
    assert "Together" not in member_sentence(search(first=""), "bo")


def test_only_the_debrief_of_a_team_drill_has_the_line(ask, results_folder, make_result):
    assert "Searched with" not in ask("/run/lower_bowl/mara-1")[1]
    for name in ("Ana", "Bo"):
        write_result(results_folder / "lower_bowl" / f"{name.lower()}.json", run_of(make_result, name))
    _, text = ask("/run/lower_bowl/bo")
    assert "Searched with Ana." in text
    assert "u002fteam\\u002flower_bowl" in text
