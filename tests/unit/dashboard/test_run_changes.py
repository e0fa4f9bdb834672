"""The pages and addresses that change runs, asked without a browser: what they write, and what they do not let in."""

import dataclasses
import io
import json
import re
import shutil
import time
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

from analyzer.files.run_toml import parse_run_toml
from analyzer.model.people import name_key
from analyzer.workspace.people.people_toml import read_people
from dashboard.config import RUNS_KEY, SERVICE_KEY, Config
from dashboard.services.measuring import Progress

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
ACTS = ("particulars", "words", "files", "move", "delete", "restore", "measure")


@pytest.fixture
def club(tmp_path):
    """Return a workspace with the drills bowl (runs ilvo-2 and mara-1) and gully (none)."""
    for name in ("bowl", "gully"):
        (tmp_path / "drills" / name).mkdir(parents=True)
        shutil.copy(SAMPLES / "drill.toml", tmp_path / "drills" / name / "drill.toml")
    for run, names in (("ilvo-2", ("track.gpx",)), ("mara-1", ("track.gpx", "readings.csv", "marks.csv"))):
        folder = tmp_path / "drills/bowl/runs" / run
        folder.mkdir(parents=True)
        for name in names:
            shutil.copy(SAMPLES / "runs" / run / name, folder / name)
    (tmp_path / "drills/bowl/runs/ilvo-2/run.toml").write_text('# by hand\nsearcher = "Ilvo"\n')
    return tmp_path


@pytest.fixture
def app(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    yield create_app(Config(club / "results", rules=club / "rules", workspace=club))
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def client(app):
    return app.server.test_client()


@pytest.fixture
def runs(app):
    return app.server.config[RUNS_KEY]


def waited(runs, *drills):
    for _ in range(1200):
        if not any(runs.measuring.busy(drill) for drill in drills):
            return
        time.sleep(0.05)
    raise AssertionError("the measuring did not end")


def change(client, what, drill="bowl", run="ilvo-2", *, entry="", headers=None, **form):
    query = {"entry": entry} if entry else {"drill": drill, "run": run}
    return client.post(f"/change-run/{what}", query_string=query, data=form, headers=headers)


def told(runs, answer):
    """Return the answer that a redirect leads to."""
    assert answer.status_code == 303, answer.get_data(as_text=True)
    return runs.said(parse_qs(urlsplit(answer.headers["Location"]).query)["said"][0])


def where(answer):
    return urlsplit(answer.headers["Location"]).path


def plain(answer):
    return json.dumps(json.loads(answer[1]), ensure_ascii=False)


def settings(club, run="ilvo-2", drill="bowl"):
    return parse_run_toml((club / "drills" / drill / "runs" / run / "run.toml").read_bytes())


def seen(runs, run="ilvo-2"):
    return runs.view("bowl", run).at_hand.sha256


def fields(runs, run="ilvo-2", **changed):
    """Return a form as the page sends it, with some fields changed."""
    from dashboard.view_models.run_form import KEYS, form_of

    found = runs.view("bowl", run).at_hand
    form = form_of(found.info)
    return {"seen": found.sha256} | {key: getattr(form, key) for key in KEYS} | changed


def test_a_new_person_with_consent_a_title_and_a_bib(client, runs, club, ask):
    answer = change(
        client, "particulars",
        **fields(runs, new_searcher="Ása  Björk", consent="yes", title="Ásas zweiter <b>Lauf</b>", bib="07",
                 antennas="2", recorder="phone, chest pocket", carry_height_m="1,2"),
    )  # fmt: skip
    said = told(runs, answer)
    assert said.done.startswith("Saved. Ása Björk is new in people.toml, and may be named.")
    info = settings(club)
    assert (info.searcher, info.bib, info.antennas, info.carry_height_m) == ("Ása Björk", "07", 2, 1.2)
    assert (info.title, info.recorder) == ("Ásas zweiter <b>Lauf</b>", "phone, chest pocket")
    assert (club / "drills/bowl/runs/ilvo-2/run.toml").read_text().startswith("# by hand\n")
    person = read_people(club).find("ása björk")
    assert (person.consent, person.consent_date is not None) == (True, True)
    waited(runs, "bowl")
    assert runs.service.result("bowl", "ilvo-2").searcher == "Ása Björk"
    assert "Ásas zweiter" in plain(ask("/"))


@pytest.mark.parametrize("consent", ["", "no", "maybe", "true", "YES"])
def test_without_a_clear_yes_nobody_is_named(client, runs, club, consent):
    from dashboard.services.seasons import Seasons

    change(client, "particulars", **fields(runs, new_searcher="Bera Quiet", consent=consent))
    waited(runs, "bowl")
    assert not read_people(club).find("Bera Quiet").consent
    assert settings(club).searcher == "Bera Quiet"
    season = Seasons(club / "results", club).group().season
    assert "Bera" not in str(season)


def test_people_that_cannot_be_written_leave_the_run_saved_and_nobody_named(client, runs, club):
    (club / "people.toml").write_text('[[person]]\nname = "Mara" # a comment that a rewriting would lose\n')
    said = told(runs, change(client, "particulars", **fields(runs, new_searcher="Bera", consent="yes")))
    assert "was not kept, and nobody else sees this name" in said.done
    assert settings(club).searcher == "Bera"
    assert read_people(club).find("Bera") is None


def test_the_second_window_is_told_and_keeps_what_was_typed(client, runs, club, ask):
    old = fields(runs)
    change(client, "particulars", **fields(runs, bib="8"))
    answer = change(client, "particulars", **(old | {"bib": "9", "title": "typed with cold hands"}))
    said = told(runs, answer)
    assert "changed by someone else" in said.faults[0]
    assert settings(club).bib == "8"
    page = ask(where(answer), f"?{urlsplit(answer.headers['Location']).query}")[1]
    assert "typed with cold hands" in page
    assert "What you typed is still here" in page


def test_fields_that_make_no_sense_are_told_all_at_once_and_nothing_is_written(client, runs, club):
    before = (club / "drills/bowl/runs/ilvo-2/run.toml").read_bytes()
    answer = change(
        client,
        "particulars",
        **fields(runs, antennas="7", carry_height_m="high", title="x" * 200, new_searcher="!" * 90),
    )
    said = told(runs, answer)
    assert len(said.faults) == 4
    assert said.form.title == "x" * 200
    assert (club / "drills/bowl/runs/ilvo-2/run.toml").read_bytes() == before


def test_the_coachs_words_change_no_result_and_findings_come_back(client, runs, club, ask):
    runs.measuring.work(["bowl"])
    path = club / "results/bowl/mara-1.json"
    result = path.read_bytes()
    finding = runs.view("bowl", "mara-1").findings[0]
    aside = f"aside-{finding.id}"
    form = {"seen": seen(runs, "mara-1"), "note": "calm\r\nand quick", "praised": "the turn", aside: "I called him"}
    assert told(runs, change(client, "words", run="mara-1", **form)).done == "Saved: the coach's words."
    info = settings(club, "mara-1")
    assert (info.note, info.praised, info.set_aside) == (
        "calm\nand quick",
        "the turn",
        (f"{finding.id}: I called him",),
    )
    shown = runs.service.result("bowl", "mara-1")
    assert (shown.words.note, shown.words.praised) == ("calm\nand quick", "the turn")
    assert path.read_bytes() == result
    assert not runs.stale("bowl", "mara-1")
    for page in ("/particulars/bowl/mara-1", "/run/bowl/mara-1"):
        assert "I called him" in ask(page)[1]
    assert "I called him" in client.get("/take/bowl/mara-1/debrief.html").get_data(as_text=True)
    change(client, "words", run="mara-1", seen=seen(runs, "mara-1"), note="calm\nand quick", praised="the turn")
    assert settings(club, "mara-1").set_aside is False


def test_a_reason_for_a_finding_that_is_gone_is_told_and_not_lost(client, runs, club):
    runs.measuring.work(["bowl"])
    form = {"seen": seen(runs, "mara-1"), "note": "x", "aside-wrong_way:T9": "the wind"}
    said = told(runs, change(client, "words", run="mara-1", **form))
    assert said.faults == (
        "The run was measured since this page was opened, and does not have this finding any more: the wind",
    )
    assert said.words["note"] == "x"
    assert not (club / "drills/bowl/runs/mara-1/run.toml").exists()


def test_readings_that_come_later_are_put_in_measured_and_told(client, runs, club, ask):
    runs.measuring.work(["bowl"])
    other = (club / "results/bowl/mara-1.json").read_bytes()
    data = (SAMPLES / "runs/ilvo-2/readings.csv").read_bytes()
    answer = change(client, "files", files=(io.BytesIO(data), "vom Film.csv"))
    said = told(runs, answer)
    assert said.done == "Put in: readings.csv."
    waited(runs, "bowl")
    assert (club / "drills/bowl/runs/ilvo-2/readings.csv").read_bytes() == data
    assert runs.service.result("bowl", "ilvo-2").evidence.tier == "track+readings"
    lines = runs.changed("bowl", "ilvo-2", said.entry)
    assert lines[0] == "Evidence: Track only: no reading log; now track and reading log."
    assert len(lines) > 3
    page = ask(where(answer), f"?{urlsplit(answer.headers['Location']).query}")[1]
    assert "What this changed" in page
    assert (club / "results/bowl/mara-1.json").read_bytes() == other  # nobody's result moves because of another's
    back = told(runs, change(client, "restore", entry=said.entry))
    assert back.done == "Put back as it was."
    assert not (club / "drills/bowl/runs/ilvo-2/readings.csv").exists()


@pytest.mark.parametrize(
    ("name", "data", "line"),
    [
        ("a.csv", b"elapsed,reading_m\nx,y\n", "a.csv, line 2"),
        ("track.gpx", (SAMPLES / "runs/mara-1/track.gpx").read_bytes(), "A track is a run of its own"),
        ("../../x.csv", b"elapsed,reading_m\n1,2\n2,2\n", ""),
        ("film.mp4", b"\0" * 1000, "film.mp4"),
    ],
)
def test_a_file_that_a_run_does_not_take_has_its_line(client, runs, club, name, data, line):
    said = told(runs, change(client, "files", files=(io.BytesIO(data), name)))
    assert line in " ".join(said.faults)
    assert {p.name for p in (club / "drills/bowl/runs/ilvo-2").iterdir()} - {"readings.csv"} == {
        "track.gpx",
        "run.toml",
    }
    assert not (club / "x.csv").exists()
    assert not (club.parent / "x.csv").exists()


def test_delete_by_mistake_and_one_press_brings_it_back(client, runs, club, ask):
    runs.measuring.work(["bowl"])
    result = (club / "results/bowl/ilvo-2.json").read_bytes()
    answer = change(client, "delete")
    assert where(answer) == "/bin"
    said = told(runs, answer)
    page = ask("/bin", f"?{urlsplit(answer.headers['Location']).query}")[1]
    assert "Nothing of it is lost" in page
    assert "Take this back" in page
    assert "This run is not here" in ask("/run/bowl/ilvo-2")[1]
    back = change(client, "restore", entry=said.entry)
    assert where(back) == "/particulars/bowl/ilvo-2"
    waited(runs, "bowl")
    assert (club / "results/bowl/ilvo-2.json").read_bytes() == result


def test_the_last_run_of_a_drill_deleted_leaves_no_result(client, runs, club):
    runs.measuring.work(["bowl"])
    change(client, "delete", run="ilvo-2")
    change(client, "delete", run="mara-1")
    waited(runs, "bowl")
    assert list((club / "results/bowl").glob("*.json")) == []
    assert "ilvo-2" not in (club / "results/summary.csv").read_text()


def test_runs_that_were_removed_by_hand_leave_no_result(runs, club):
    runs.measuring.work(["bowl"])
    shutil.rmtree(club / "drills/bowl/runs")
    runs.measuring.work(["bowl"])
    assert [p.name for p in sorted((club / "results/bowl").iterdir())] == ["ilvo-2.json.earlier", "mara-1.json.earlier"]


def test_a_move_is_measured_in_both_drills_and_taken_back(client, runs, club):
    runs.measuring.work(["bowl"])
    answer = change(client, "move", to="gully")
    assert where(answer) == "/particulars/gully/ilvo-2"
    waited(runs, "bowl", "gully")
    assert (club / "results/gully/ilvo-2.json").is_file()
    assert not (club / "results/bowl/ilvo-2.json").exists()
    change(client, "restore", entry=told(runs, answer).entry)
    waited(runs, "bowl", "gully")
    assert (club / "results/bowl/ilvo-2.json").is_file()
    assert not (club / "results/gully/ilvo-2.json").exists()


def test_a_run_that_is_gone_is_one_line_and_what_was_typed_is_shown(client, runs, ask):
    form = fields(runs, title="typed before it was gone")
    words = {"seen": seen(runs), "note": "a long note"}
    change(client, "delete")
    answer = change(client, "particulars", **form)
    assert "not in the workspace (any more)" in told(runs, answer).faults[0]
    page = ask(where(answer), f"?{urlsplit(answer.headers['Location']).query}")[1]
    assert "typed before it was gone" in page
    page = ask("/particulars/bowl/ilvo-2", f"?{urlsplit(change(client, 'words', **words).headers['Location']).query}")[
        1
    ]
    assert "a long note" in page
    for what in ("files", "move", "delete"):
        assert told(runs, change(client, what, to="gully")).faults


@pytest.mark.parametrize("what", ACTS)
@pytest.mark.parametrize("name", ["..", "../../etc", "/etc/passwd", "ilvo-2/../mara-1", "a\0b", "x" * 5000, "<script>"])
def test_a_name_that_is_none_changes_nothing(client, club, what, name):
    before = {p: p.read_bytes() for p in club.rglob("*") if p.is_file()}
    for query in ({"drill": "bowl", "run": name}, {"drill": name, "run": "ilvo-2"}, {"entry": name}, {}):
        answer = client.post(f"/change-run/{what}", query_string=query, data={"to": name})
        assert answer.status_code == 303
        page = client.get(answer.headers["Location"])
        assert page.status_code in (200, 404)
    after = {p: p.read_bytes() for p in club.rglob("*") if p.is_file()}
    assert {p: d for p, d in after.items() if p in before} == before
    measured = {"summary.csv", ".searchwake-lock", ".searchwake-cache.json", "ilvo-2.json", "mara-1.json"}
    assert {p.name for p in after.keys() - before.keys()} <= {".runs-lock", *measured}


@pytest.mark.parametrize("what", ACTS)
def test_other_sites_and_wrong_methods_are_refused(client, club, what):
    for headers in ({"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"}):
        assert change(client, what, headers=headers).status_code == 403
    assert client.get(f"/change-run/{what}").status_code in (404, 405)
    assert (club / "drills/bowl/runs/ilvo-2").is_dir()


@pytest.mark.parametrize("what", [a for a in ACTS if a != "files"])
def test_a_field_of_a_megabyte_is_refused(client, club, what):
    before = (club / "drills/bowl/runs/ilvo-2/run.toml").read_bytes()
    answer = change(client, what, title="x" * 1_000_000, note="y" * 1_000_000)
    assert answer.status_code == 413
    assert (club / "drills/bowl/runs/ilvo-2/run.toml").read_bytes() == before


def test_answers_that_are_kept_are_bounded(runs):
    from dashboard.services.runs import KEPT_SAID, Said

    tokens = [runs.keep(Said(str(n))) for n in range(KEPT_SAID + 10)]
    assert runs.said(tokens[0]) is None
    assert runs.said(tokens[-1]).done == str(KEPT_SAID + 9)


def test_a_result_older_than_its_files_says_so_and_is_measured_by_a_press(client, runs, club, ask):
    runs.measuring.work(["bowl"])
    assert runs.stale("bowl", "ilvo-2") == ""
    path = club / "drills/bowl/drill.toml"
    path.write_text(path.read_text() + "\n# and now\n")
    assert "older than the files" in ask("/run/bowl/ilvo-2")[1]
    assert "Measure it now" in ask("/particulars/bowl/ilvo-2")[1]
    assert "older than the files" in ask("/replay/bowl/ilvo-2")[1]
    assert "Older than their files: ilvo-2, mara-1" in ask("/side-by-side/bowl", "?run=ilvo-2&run=mara-1")[1]
    runs.measuring._put("bowl", Progress("waiting"))
    assert "it is being measured" in ask("/run/bowl/ilvo-2")[1]
    change(client, "measure")
    waited(runs, "bowl")
    assert runs.stale("bowl", "ilvo-2") == ""
    assert "older than the files" not in ask("/run/bowl/ilvo-2")[1]
    assert "with the rule sheet" in ask("/particulars/bowl/ilvo-2")[1]


def test_markup_in_names_is_text(client, runs, club, ask):
    change(client, "particulars", **fields(runs, title="<img src=x onerror=alert(1)>", new_searcher="<b>Bö</b>"))
    waited(runs, "bowl")
    for page in ("/particulars/bowl/ilvo-2", "/bin", "/"):
        status, text = ask(page)
        assert status == 200
        assert "dangerously" not in text
    assert name_key(settings(club).searcher) == name_key("<b>Bö</b>")


def test_where_only_results_were_opened_nothing_can_be_changed(club):
    from dash import _pages

    from dashboard.app import create_app

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(club / "results"))
    client = app.server.test_client()
    for what in ACTS:
        assert change(client, what).status_code == 409
    assert app.server.config[SERVICE_KEY].drills() == ()
    _pages.PAGE_REGISTRY.clear()


def test_several_changes_at_once_are_measured_and_the_last_one_counts(client, runs, club):
    for bib in ("1", "2", "3"):
        assert told(runs, change(client, "particulars", **fields(runs, new_searcher=f"Ilvo {bib}"))).done.startswith(
            "Saved"
        )
    waited(runs, "bowl")
    assert runs.service.result("bowl", "ilvo-2").searcher == "Ilvo 3"


def test_the_forms_lead_where_the_addresses_are(ask):
    page = plain(ask("/particulars/bowl/ilvo-2"))
    assert set(re.findall(r"/change-run/([a-z]+)\?drill=bowl&run=ilvo-2", page)) == {
        "particulars", "words", "files", "cut", "move", "delete",
    }  # fmt: skip


def test_a_drill_that_is_saved_is_measured_at_once_and_its_page_tells_the_runs(app, runs, club, ask):
    from analyzer.files.drill_toml import read_drill_toml
    from dashboard.pages import lay_out
    from dashboard.services.drills import Drills

    runs.measuring.work(["bowl"])
    before = (club / "results/bowl/mara-1.json").read_bytes()
    drills = Drills((), club)
    opened, _ = drills.opened("bowl")
    drill = read_drill_toml(club / "drills/bowl/drill.toml")
    saved = drills.save(dataclasses.replace(drill, strip_width_m=20.0), opened, sure=True)
    assert runs.stale("bowl", "mara-1").startswith("This result is older than the files")
    with app.server.app_context():
        assert lay_out._measured_at_once(saved, anew=False) == 2
    waited(runs, "bowl")
    assert runs.stale("bowl", "mara-1") == ""
    assert (club / "results/bowl/mara-1.json").read_bytes() != before
    page = plain(ask("/measured/bowl"))
    assert "Measured with the files as they are now" in page
    assert "mara-1" in page
    assert "This drill is not here" in plain(ask("/measured/..%2Fbowl"))


def test_measuring_tells_each_run_and_what_failed(runs, club, monkeypatch):
    told = []
    real = type(runs.measuring)._put

    def noted(self, drill, at):
        told.append((at.state, at.run, at.number, at.count))
        real(self, drill, at)

    monkeypatch.setattr(type(runs.measuring), "_put", noted)
    (club / "drills/bowl/runs/broken").mkdir()
    (club / "drills/bowl/runs/broken/track.gpx").write_text("no gpx")
    runs.measuring.start("bowl")
    waited(runs, "bowl")
    assert [at for at in told if at[0] == "measuring"] == [("measuring", "ilvo-2", 1, 3), ("measuring", "mara-1", 2, 3)]
    assert told[0][0] == "waiting"
    (line,) = runs.measuring.progress("bowl").failures
    assert line.startswith("bowl/broken/track.gpx")
