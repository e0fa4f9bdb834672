"""One damaged stored file: each page shows what can be shown, and names the file in one line."""

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest

from analyzer.errors import InputError
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.workspace.people.people_toml import read_people
from dashboard import ids
from dashboard.services.events import Events
from dashboard.services.results import Service
from dashboard.services.seasons import Seasons

ROOT = Path(__file__).resolve().parents[3]
PLACES = [
    ("account", 0, "seconds", "value"),
    ("account", 0, "seconds", "low"),
    ("scores", "overall", "high"),
    ("path", "east_m", 5),
    ("run", "duration_s"),
    ("slope", "angle_deg"),
    ("transmitters", 0, "east_m"),
    ("lines", 1, "points_m", 1, 0),
]


def values_of(make_result):
    return json.loads(result_bytes(make_result()))


def damaged(values, place, value):
    *way, last = place
    at = values
    for step in way:
        at = at[step]
    assert at[last] is not None
    at[last] = value
    return json.dumps(values).encode()


@pytest.mark.parametrize("place", PLACES, ids=lambda place: ".".join(map(str, place)))
@pytest.mark.parametrize("value", [math.nan, math.inf, 1e308])
def test_a_result_with_a_number_that_is_none_is_refused_in_one_line(make_result, place, value):
    """2026-11-27: one NaN in a sum took down every page with the run in it."""
    if place[0] in ("account", "scores") and value == 1e308:
        pytest.skip("a figure may be of any size; what cannot be drawn is refused")
    with pytest.raises(InputError) as caught:
        parse_result(damaged(values_of(make_result), place, value), name="mara-1.json")
    assert str(caught.value).startswith("mara-1.json")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("place", PLACES[:3], ids=lambda place: ".".join(map(str, place)))
def test_a_figure_without_its_number_is_refused(make_result, place):
    with pytest.raises(InputError, match=r"a number as '(value|low|high)' of a figure is needed, null was found"):
        parse_result(damaged(values_of(make_result), place, None))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"[" * 100_000, "a nesting that is not read"),
        (b'{"x": ' + b"9" * 5000 + b"}", "this is not JSON"),
        (b'{"format": "searchwake-result/2", "engine": "\\ud800"}', "half of a sign"),
    ],
)
def test_what_is_no_text_of_ours_is_refused(data, words):
    with pytest.raises(InputError, match=words):
        parse_result(data)


def test_a_whole_sign_beyond_the_basic_plane_is_read(make_result):
    data = result_bytes(make_result(searcher="Mara \U0001f3d4"))
    assert parse_result(data.replace("\U0001f3d4".encode(), b"\\ud83c\\udfd4")).searcher == "Mara \U0001f3d4"


@pytest.mark.parametrize("page", ["/", "/season", "/side-by-side/lower_bowl", "/rules/lower_bowl"])
@pytest.mark.parametrize("how", ["nan", "link", "folder"])
def test_pages_show_the_other_runs_and_name_the_damaged_one(ask, results_folder, make_result, page, how):
    path = results_folder / "lower_bowl" / "aa-bad.json"
    if how == "nan":
        path.write_bytes(damaged(values_of(make_result), ("account", 0, "seconds", "value"), math.nan))
    elif how == "link":
        path.symlink_to(path.name)
    else:
        path.mkdir()
    status, text = ask(page, "?run=mara-1&run=ilo-1" if "side" in page else "")
    assert status == 200
    assert "aa-bad" in text
    assert {"/": "Mara Fennick", "/season": "runs on", "/rules/lower_bowl": "3 runs"}.get(page, "Timelines") in text


def clicked():
    """Return the body of a click on the first finding of a run."""
    button = ids.show_window("finding", 0)
    key = json.dumps(button, sort_keys=True, separators=(",", ":"))
    return {
        "output": f"{ids.ADDRESS}.search",
        "outputs": {"id": ids.ADDRESS, "property": "search"},
        "inputs": [
            [{"id": button, "property": "n_clicks", "value": 1}],
            {"id": ids.TIMELINE, "property": "clickData", "value": None},
        ],
        "changedPropIds": [f"{key}.n_clicks"],
        "state": [{"id": ids.RUN_REF, "property": "data", "value": ["lower_bowl", "mara-1"]}],
    }


def test_a_run_that_is_damaged_while_its_page_is_open_says_so(app, results_folder):
    (results_folder / "lower_bowl" / "mara-1.json").write_text("{}")
    answer = app.server.test_client().post("/_dash-update-component", json=clicked())
    assert answer.status_code in (200, 204)  # versions of Dash answer "nothing to change" in either way
    assert "search" not in answer.text
    assert "failed" not in answer.text


def test_an_action_that_fails_in_a_way_nobody_thought_of_is_told_above_the_page(app, monkeypatch):
    monkeypatch.setattr(Service, "result", lambda *_: 1 / 0)
    answer = app.server.test_client().post("/_dash-update-component", json=clicked())
    assert answer.status_code == 200
    assert "ZeroDivisionError" in json.dumps(answer.get_json()["sideUpdate"]["failed"])


def test_an_error_nobody_thought_of_in_one_result_is_its_own_line(results_folder, monkeypatch):
    from dashboard.services import results

    def fail(path):
        if path.stem == "ilo-1":
            raise KeyError("odd")
        return usual(path)

    usual = results.read_result
    monkeypatch.setattr(results, "read_result", fail)
    results._result.cache_clear()
    results._entry.cache_clear()
    runs = {run.run: run.problem for drill in Service(results_folder).drills() for run in drill.runs}
    assert runs["mara-1"] is None
    assert "ilo-1.json: reading itself failed (KeyError" in runs["ilo-1"]


def test_a_page_that_fails_in_a_way_nobody_thought_of_says_so(ask, monkeypatch):
    monkeypatch.setattr(Service, "drills", lambda _: 1 / 0)
    status, text = ask("/")
    assert status == 200
    assert "This page cannot be shown" in text
    assert "ZeroDivisionError" in text


def test_a_download_that_fails_in_a_way_nobody_thought_of_says_so_in_one_line(app, monkeypatch):
    from dashboard.export import routes

    monkeypatch.setitem(routes.FILES, "account.csv", ("text/csv", lambda _: 1 / 0))
    answer = app.server.test_client().get("/take/lower_bowl/mara-1/account.csv")
    assert answer.status_code == 500
    assert answer.text.count("\n") == 1
    assert "/take/lower_bowl/mara-1/account.csv: the program itself failed (ZeroDivisionError" in answer.text
    assert answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize("how", ["folder", "link"])
def test_a_people_toml_that_is_no_file_names_nobody(tmp_path, results_folder, how):
    """2026-11-27: a folder of that name was answered 500; a link to nowhere would have named everybody."""
    path = tmp_path / "people.toml"
    if how == "folder":
        path.mkdir()
    else:
        path.symlink_to("gone.toml")
    with pytest.raises(InputError):
        read_people(tmp_path)
    view = Seasons(results_folder, tmp_path).group()
    assert view.season.rows == ()
    assert any("gone" in line or "people.toml" in line for line in view.problems)


def test_standings_are_shown_where_a_file_of_the_drill_cannot_be_read(tmp_path):
    from event_builder import make_event

    make_event(tmp_path)
    path = tmp_path / "drills" / "gully" / "drill.toml"
    path.unlink()
    path.symlink_to(path.name)
    view = Events(tmp_path).table("cup", "overall", "")
    assert view.rows
    assert any("drills/gully/drill.toml cannot be read since the scoring" in line for line in view.changed)


def test_a_table_of_a_field_that_is_gone_is_refused_in_one_line(tmp_path):
    from event_builder import make_event

    scored = make_event(tmp_path) / "scored.json"
    values = json.loads(scored.read_bytes())
    values["fields"] = values["fields"][1:]
    scored.write_text(json.dumps(values))
    with pytest.raises(InputError, match=r"tables\[\d+\]: it is of a field or class that the file does not have"):
        Events(tmp_path).table("cup", "gully", "")


def test_a_drill_that_cannot_be_read_is_named_on_the_first_page(tmp_path):
    from dashboard.components.run_list import waiting_card
    from dashboard.services.intake import Intake

    (tmp_path / "drills" / "bad").mkdir(parents=True)
    (tmp_path / "drills" / "bad" / "drill.toml").write_text("[drill\n")
    (place,) = Intake(tmp_path, tmp_path / "results").places()
    assert "drill.toml" in place.problem
    assert place.problem in str(waiting_card(place.key, place.name, place.problem))


@pytest.mark.parametrize("place", [("account", 0, "seconds", "value"), ("timeline", 0, "seconds")])
def test_seconds_beyond_all_bounds_are_refused(make_result, place):
    """2026-11-27: their sum was infinite, and the account of every page with the run failed."""
    with pytest.raises(InputError, match=r"1.5e\+308 s is more than 1e\+06 s"):
        parse_result(damaged(values_of(make_result), place, 1.5e308))


def test_a_seeded_attack_on_views_finds_nothing():
    """`python -m tests.attacks.views --views 10000` is the long one."""
    command = [sys.executable, "-m", "tests.attacks.views", "--views", "96", "--seed", "457"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "96 views, 0 answered 500" in done.stdout
