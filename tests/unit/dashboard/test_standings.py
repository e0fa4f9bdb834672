"""The door to events, their pages and their files, over an invented event."""

import csv
import io
import json
import shutil

import pytest
from event_builder import make_event

from analyzer.errors import InputError
from analyzer.events.model import OVERALL
from dashboard import ids
from dashboard.components.standings import accounts
from dashboard.services.events import EventMissingError, Events, NotScoredError
from dashboard.view_models.standings import AccountView, event_address, table_address


@pytest.fixture
def club(tmp_path):
    """Return a workspace with an event."""
    make_event(tmp_path)
    return tmp_path


@pytest.fixture
def client(club):
    """Return a client of a dashboard over it."""
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    _pages.PAGE_REGISTRY.clear()
    yield create_app(Config(club / "results", workspace=club)).server.test_client()
    _pages.PAGE_REGISTRY.clear()


def test_events_are_listed_and_one_that_is_wrong_says_why(club):
    found = {e.key: e for e in Events(club).entries()}
    cup = found["cup"]
    assert (cup.name, cup.entries, cup.fields, cup.scored) == ("Invented cup", 5, 2, True)
    assert found["later"].scored is False
    assert found["wrong"].problem.startswith("event.toml: ")
    assert "[event]" in found["wrong"].problem
    assert Events(None).entries() == ()


def test_a_table_and_its_accounts(club):
    view = Events(club).table("cup", "lower_bowl", "")
    assert [(row.place, row.bib) for row in view.rows] == [("1", "2"), ("2", "3"), ("2", "1"), ("4", "4"), ("", "5")]
    assert [row.span != "" for row in view.rows] == [True, True, True, False, False]  # 3 min behind, no doubt
    assert (view.changed, view.broken) == ((), ())
    account = Events(club).account("cup", "lower_bowl", "3")[0]
    assert [line.adds for line in account.lines] == ["190.9 s", "20.0 s", "20.0 s", "230.9 s"]
    assert account.debrief == "/run/lower_bowl/run-3"
    assert [(p.state, p.adds, p.likely) for p in account.proposals] == [
        ("confirmed: seen (A judge, 2026-02-14T10:14:00+01:00)", "20.0 s", "93 %")
    ]
    assert view.rows[1].parts == (("Time", "3:10.9"),)
    assert view.rows[1].penalties == (
        "+20.0 s: Probing beside the lowest spot, A, at 1:30.0; confirmed: seen (A judge)",
        "+20.0 s: left the area (A judge)",
    )


def test_an_entry_whose_run_is_gone_has_no_link_to_a_debrief(club):
    """2026-11-27: the link of somebody who was forgotten led to a page that is not there."""
    shutil.rmtree(club / "drills/lower_bowl/runs/run-3")
    account = Events(club).account("cup", "lower_bowl", "3")[0]
    assert account.debrief == ""
    assert account.lines
    assert Events(club).account("cup", "gully", "3")[0].debrief == "/run/gully/run-3"


def test_proposals_that_wait_are_counted_and_listed(club):
    view = Events(club).table("cup", OVERALL, "")
    assert view.state == ("2 proposals wait for a judge and are not counted.",)
    assert [(p.bib, p.field, p.state) for p in view.proposals] == [
        ("2", "Gully", "waits for a judge"),
        ("3", "Gully", "waits for a judge"),
        ("3", "Lower bowl", "confirmed: seen (A judge, 2026-02-14T10:14:00+01:00)"),
    ]
    assert view.proposals[0].key == 'field = "gully", confirms = "off_lowest", transmitter = "A"'
    assert view.columns == ("Lower bowl", "Gully")
    row = next(row for row in view.rows if row.bib == "3")
    assert (dict(row.parts), row.total) == ({"Lower bowl": "3:50.9", "Gully": "5:10.0"}, "9:00.9")
    assert [a.title for a in Events(club).account("cup", OVERALL, "3")] == ["Overall", "Lower bowl", "Gully"]


def test_what_is_not_there(club):
    events = Events(club)
    for key in ("gone", "../events/cup", "..%2Fevents%2Fcup", ""):
        with pytest.raises(EventMissingError):
            events.table(key, OVERALL, "")
    with pytest.raises(EventMissingError, match="no table of field 'ridge'"):
        events.table("cup", "ridge", "")
    with pytest.raises(EventMissingError, match="no entry with the bib '9'"):
        events.account("cup", OVERALL, "9")
    with pytest.raises(NotScoredError):
        events.table("later", OVERALL, "")
    (club / "events/cup/scored.json").write_text("{")
    with pytest.raises(InputError, match="this is not JSON"):
        events.table("cup", OVERALL, "")


def test_changes_after_the_scoring_are_told_and_change_nothing(club):
    before = Events(club).table("cup", OVERALL, "")
    (club / "drills/gully/runs/run-2/track.csv").write_text("time,east_m,north_m\n")
    (club / "events/cup/results/gully/run-3.json").unlink()
    after = Events(club).table("cup", OVERALL, "")
    assert len(after.changed) == 1
    assert "run-2/track.csv was replaced after the scoring" in after.changed[0]
    assert after.broken == ("results/gully/run-3.json: the file is missing",)
    assert [(row.place, row.bib) for row in after.rows] == [(row.place, row.bib) for row in before.rows]
    stale = [row.bib for row in after.rows if "stale: a file was changed after the scoring" in row.remarks]
    assert stale == ["2"]
    scored = club / "events/cup/scored.json"
    scored.write_text(scored.read_text().replace('"rank": 2', '"rank": 1'))
    assert "its integrity hash differs" in Events(club).table("cup", OVERALL, "").broken[0]


@pytest.mark.parametrize(
    ("scope", "bib", "words"), [("lower_bowl", "3", ["230.9 s"]), (OVERALL, "3", ["Overall", "Lower bowl", "Gully"])]
)
def test_an_entry_unfolds_on_the_page(client, scope, bib, words):
    lines, fold = ({"type": kind, "bib": bib} for kind in (ids.ENTRY_LINES, ids.ENTRY_FOLD))
    body = {
        "output": f'{{"bib":["MATCH"],"type":"{ids.ENTRY_LINES}"}}.children',
        "outputs": {"id": lines, "property": "children"},
        "inputs": [{"id": fold, "property": "n_clicks", "value": 1}],
        "changedPropIds": [f'{{"bib":"{bib}","type":"{ids.ENTRY_FOLD}"}}.n_clicks'],
        "state": [
            {"id": lines, "property": "children", "value": None},
            {"id": ids.EVENT_REF, "property": "data", "value": ["cup", scope]},
        ],
    }
    response = client.post("/_dash-update-component", json=body)
    assert response.status_code == 200
    for word in words:
        assert word in response.get_data(as_text=True)


def test_files_to_take_away(club, client):
    answer = client.get("/take-event/cup/standings.csv")
    assert answer.status_code == 200
    assert "attachment" in answer.headers["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig"))))
    assert len(rows) == 5 * 3 * 2  # every entry on two fields and overall, once among all and once in its class
    assert {row["name"] for row in rows if row["bib"] == "4"} == {"'=cmd()|<img src=x onerror=window.harmed=1>"}
    assert client.get("/take-event/cup/standings.json").data == (club / "events/cup/scored.json").read_bytes()
    page = client.get("/take-event/cup/list.html")
    assert page.headers["Content-Disposition"] == "inline"
    assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    assert b"<img" not in page.data


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/take-event/cup/event.toml", 404, "There are: standings.csv"),
        ("/take-event/gone/standings.csv", 404, "There is no event 'gone'."),
        ("/take-event/later/list.html", 404, "not scored yet"),
    ],
)
def test_files_that_are_not_there(client, address, status, words):
    answer = client.get(address)
    assert answer.status_code == status
    assert words in answer.get_data(as_text=True)


def test_a_damaged_scoring_is_one_line(club, client):
    (club / "events/cup/scored.json").write_text(json.dumps({"format": "searchwake-event/3"}))
    answer = client.get("/take-event/cup/list.html")
    assert answer.status_code == 422
    assert "scored.json: the file has no 'engine'" in answer.get_data(as_text=True)


def test_addresses():
    assert event_address("a b/c") == "/standings/a%20b%2Fc"
    assert table_address("cup", OVERALL, "") == "/standings/cup"
    assert table_address("cup", "lower bowl", "öpen") == "/standings/cup?field=lower+bowl&class=%C3%B6pen"


def test_the_way_to_the_debrief_says_that_it_is_another_result():
    """2026-11-27: a run is measured for the workspace and for the event, and the link opened the other of the two."""
    (section,) = accounts((AccountView("Field", "", (), "/run/field/bib-1"),))
    (paragraph,) = section.children[1:]
    link, said = paragraph.children
    assert link.href == "/run/field/bib-1"
    assert "rests on the event's own result" in said.children
