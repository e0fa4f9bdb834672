"""Runs that events name: warned of before they are moved or deleted, and told on the event page once gone."""

import json
import shutil
from urllib.parse import parse_qs, urlsplit

import pytest
from event_builder import make_event

from analyzer.workspace.runs.bin import CHANGED, DELETED, MOVED, Binned, Note
from analyzer.workspace.runs.whereabouts import Whereabouts, whereabouts
from dashboard.config import RUNS_KEY, Config
from dashboard.services.named_in_events import NamedInEvents


@pytest.fixture
def club(tmp_path):
    """Return a workspace with the events cup (scored), later (bibs 1 and 2, no runs named) and wrong (unreadable)."""
    make_event(tmp_path)
    extra = tmp_path / "drills/lower_bowl/runs/spare"
    extra.mkdir()
    (extra / "track.csv").write_text("time,east_m,north_m\n2026-02-14T10:00:00Z,1,1\n2026-02-14T10:00:01Z,2,1\n")
    return tmp_path


@pytest.fixture
def quiet(monkeypatch):
    """Measure nothing: what becomes of the runs is looked at, not their figures."""
    from dashboard.services.measuring import Measuring

    monkeypatch.setattr(Measuring, "start", lambda self, *drills: None)


@pytest.fixture
def client(club, quiet):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(club / "results", rules=club / "rules", workspace=club))
    yield app.server.test_client()
    _pages.PAGE_REGISTRY.clear()


def page_of(client, path):
    places = [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}]
    inputs = [{"id": "_pages_location", "property": k, "value": v} for k, v in (("pathname", path), ("search", ""))]
    body = {
        "output": ".._pages_content.children..._pages_store.data..",
        "outputs": places,
        "inputs": inputs,
        "changedPropIds": ["_pages_location.pathname"],
    }
    return json.dumps(client.post("/_dash-update-component", json=body).get_json(), ensure_ascii=False)


def act(client, what, run, drill="lower_bowl", **form):
    answer = client.post(f"/change-run/{what}", query_string={"drill": drill, "run": run}, data=form)
    runs = client.application.config[RUNS_KEY]
    return runs.said(parse_qs(urlsplit(answer.headers["Location"]).query)["said"][0])


def there(club, run, drill="lower_bowl"):
    return (club / "drills" / drill / "runs" / run).is_dir()


def test_a_run_of_a_standing_is_deleted_only_with_a_yes(client, club):
    said = act(client, "delete", "run-2")
    assert said.faults[0].startswith(
        "The standing of Invented cup rests on this run (bib 2, Ilo Brandt, on Lower bowl)."
    )
    assert "with yes" in said.faults[-1]
    assert there(club, "run-2")
    assert not (club / "bin").exists()
    for answer in ("no", "YES", "1"):
        assert act(client, "delete", "run-2", sure=answer).faults
    assert there(club, "run-2")
    assert act(client, "delete", "run-2", sure="yes").faults == ()
    assert not there(club, "run-2")


def test_a_run_of_a_standing_is_moved_only_with_a_yes(client, club):
    assert "bib 1, Mara Lind" in act(client, "move", "mara-1", to="gully").faults[0]
    assert there(club, "mara-1")
    assert act(client, "move", "mara-1", to="gully", sure="yes").faults == ()
    assert not there(club, "mara-1")


def test_a_run_of_no_event_needs_no_answer(client, club):
    assert act(client, "delete", "spare").faults == ()
    assert not there(club, "spare")


def test_a_run_is_known_by_the_bib_that_it_states_too(client, club):
    (club / "events/cup").rename(club / "cup")
    (club / "drills/lower_bowl/runs/spare/run.toml").write_text('bib = "02"\n')
    said = act(client, "delete", "spare")
    assert said.faults[0].startswith("Invented cup takes this run for bib 2, I, on Lower bowl.")
    assert there(club, "spare")


def test_the_page_of_a_run_warns_and_asks_before(client):
    shown = page_of(client, "/particulars/lower_bowl/mara-1")
    assert shown.count("The standing of Invented cup rests on this run (bib 1, Mara Lind, on Lower bowl)") == 2
    assert "yes, move it all the same" in shown
    assert "yes, delete it all the same" in shown
    assert "events/wrong cannot be read, so that it may name this run" in shown
    bare = page_of(client, "/particulars/lower_bowl/spare")
    assert "The standing of" not in bare
    assert "all the same" not in bare
    assert "events/wrong cannot be read" in bare


def test_the_page_of_an_event_tells_what_became_of_its_runs(client, club):
    assert "not there any more" not in page_of(client, "/standings/cup")
    act(client, "delete", "run-2", sure="yes")
    act(client, "move", "mara-1", to="gully", sure="yes")
    shutil.rmtree(club / "drills/lower_bowl/runs/run-3")
    shown = page_of(client, "/standings/cup")
    assert "Runs that are not there any more" in shown
    assert "bib 2, Ilo Brandt, on Lower bowl: its run run-2 was deleted on " in shown
    assert "bib 1, Mara Lind, on Lower bowl: its run mara-1 was moved to gully on " in shown
    assert ", where it is mara-1-2" in shown
    assert "bib 3, Runa Holm, on Lower bowl: its run run-3 is not in lower_bowl any more, and the bin does not" in shown
    assert shown.count("It counts here as it was scored; scored anew, it does not.") == 3


def test_a_run_that_is_put_back_is_told_no_more(client, club):
    entry = act(client, "delete", "run-2", sure="yes").entry
    assert "run-2 was deleted" in page_of(client, "/standings/cup")
    client.post("/change-run/restore", query_string={"entry": entry})
    assert there(club, "run-2")
    assert "not there any more" not in page_of(client, "/standings/cup")


def test_an_event_that_is_not_scored_tells_it_too(client, club):
    text = (club / "events/later/event.toml").read_text().replace("bib = 2\n", 'bib = 2\nruns = {gully = "run-2"}\n')
    (club / "events/later/event.toml").write_text(text)
    act(client, "delete", "run-2", drill="gully", sure="yes")
    shown = page_of(client, "/standings/later")
    assert "This event is not scored yet" in shown
    assert "bib 2, I, on Gully: its run run-2 was deleted on " in shown
    assert "So it does not count." in shown


def test_a_run_of_somebody_who_was_forgotten_is_not_told_as_gone(club, monkeypatch):
    from analyzer.events.files.forgotten_json import ForgottenRun
    from dashboard.services import named_in_events as subject

    shutil.rmtree(club / "drills/lower_bowl/runs/run-2")
    assert len(NamedInEvents(club).fates("cup")) == 1
    one = object.__new__(ForgottenRun)
    object.__setattr__(one, "drill", "lower_bowl")
    object.__setattr__(one, "run", "run-2")
    monkeypatch.setattr(subject, "read_forgotten", lambda folder: (one,))
    assert NamedInEvents(club).fates("cup") == ()


@pytest.mark.parametrize("event", ["../cup", "nowhere", "", "wrong"])
def test_an_event_that_cannot_be_read_or_is_none_tells_nothing(club, event):
    assert NamedInEvents(club).fates(event) == ()


def note(kind, when, drill, run, to=("", ""), problem=""):
    return Binned("x", Note(kind, when, drill, run, to_drill=to[0], to_run=to[1]), problem)


def test_a_run_is_followed_through_moves_to_where_it_is_or_was_deleted():
    first = note(MOVED, "2026-02-14T10:00:00+00:00", "a", "r", ("b", "r"))
    second = note(MOVED, "2026-02-14T11:00:00+00:00", "b", "r", ("c", "r-2"))
    third = note(DELETED, "2026-02-14T12:00:00+00:00", "c", "r-2")
    before = note(DELETED, "2026-02-14T09:00:00+00:00", "b", "r")
    aside = note(CHANGED, "2026-02-14T13:00:00+00:00", "a", "r")
    assert whereabouts((), "a", "r") == Whereabouts("", "", "a", "r")
    assert whereabouts((aside, first, before), "a", "r") == Whereabouts(MOVED, first.note.when, "b", "r")
    assert whereabouts((second, first), "a", "r") == Whereabouts(MOVED, second.note.when, "c", "r-2")
    assert whereabouts((third, second, first), "a", "r") == Whereabouts(DELETED, third.note.when, "c", "r-2")
    assert whereabouts((note(DELETED, "x", "a", "r", problem="torn"),), "a", "r").kind == ""


def test_moves_in_a_circle_end():
    there_ = note(MOVED, "2026-02-14T10:00:00+00:00", "a", "r", ("b", "r"))
    back = note(MOVED, "2026-02-14T10:00:00+00:00", "b", "r", ("a", "r"))
    assert whereabouts((back, there_), "a", "r").kind == MOVED
