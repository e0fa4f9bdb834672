"""What people say of runs on Load: titles, searchers, being named, gear, and logs of runs that are in the drill."""

import json
import time
from pathlib import Path

import pytest

from analyzer.files.run_toml import parse_run_toml
from analyzer.workspace.people.people_toml import read_people
from dashboard.config import INTAKE_KEY, Config
from dashboard.services.new_runs import proposed_title

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
TOKEN = "AAAABBBBCCCC"
TRACK = (SAMPLES / "runs/mara-1/track.gpx").read_bytes()
OTHER = (SAMPLES / "runs/ilvo-2/track.gpx").read_bytes()
READINGS = (SAMPLES / "runs/mara-1/readings.csv").read_bytes()


@pytest.fixture
def app(tmp_path):
    from dash import _pages

    from dashboard.app import create_app

    (tmp_path / "drills/bowl").mkdir(parents=True)
    (tmp_path / "drills/bowl/drill.toml").write_bytes((SAMPLES / "drill.toml").read_bytes())
    _pages.PAGE_REGISTRY.clear()
    yield create_app(Config(tmp_path / "results", rules=tmp_path / "rules", workspace=tmp_path))
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def intake(app):
    return app.server.config[INTAKE_KEY]


def take(intake, token=TOKEN, **files):
    for name, data in files.items():
        intake.take(token, name.replace("__", "."), len(data), [data])


def put(intake, token=TOKEN, **form):
    intake.settle(token, form)
    for _ in range(1200):
        basket = intake.basket(token)
        if basket.state == "done":
            return basket.outcome
        assert basket.state != "open", intake.plan(basket).open
        time.sleep(0.05)
    raise AssertionError("the work did not end")


def settings(tmp_path, run):
    return parse_run_toml((tmp_path / "drills/bowl/runs" / run / "run.toml").read_bytes())


def page(ask, token=TOKEN):
    return json.dumps(json.loads(ask("/load", f"?batch={token}")[1]), ensure_ascii=False)


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("2026-02-14-09-00-Anna", "Anna"),
        ("2026-02-14T090000Z_Ása Björk", "Ása Björk"),
        ("20260214 Anna 2", "Anna 2"),
        ("mara-1", "mara-1"),
        ("2026-02-14-09-00", "2026-02-14-09-00"),
        ("run-12345678901", "run-12345678901"),
    ],
)
def test_a_date_in_a_name_is_no_part_of_the_title(name, title):
    assert proposed_title(name) == title


def test_a_title_of_any_words_a_new_person_and_gear(intake, ask, tmp_path):
    take(intake, **{"2026-02-14-09-00-Anna__gpx": TRACK})
    assert '"value": "Anna"' in page(ask)
    outcome = put(
        intake, **{
            "name-1": "Anna, zweiter Lauf: é/ü <b>", "new_searcher-1": "Anna Éder", "consent-1": "yes", "bib-1": "012",
            "antennas-1": "2", "recorder-1": "phone, chest pocket", "carry_height_m-1": "0,9",
        },
    )  # fmt: skip
    (run,) = outcome.runs
    assert run == "Anna-zweiter-Lauf-é-ü-b"
    info = settings(tmp_path, run)
    assert (info.title, info.searcher, info.bib) == ("Anna, zweiter Lauf: é/ü <b>", "Anna Éder", "012")
    assert (info.antennas, info.recorder, info.carry_height_m) == (2, "phone, chest pocket", 0.9)
    assert read_people(tmp_path).find("Anna Éder").consent
    assert outcome.notes == ("Anna Éder is new in people.toml, and may be named.",)


def test_two_runs_of_one_title_get_two_folders(intake, tmp_path):
    take(intake, a__gpx=TRACK, b__gpx=OTHER)
    outcome = put(intake, **{"name-1": "Vormittag", "name-2": "vormittag", "use-1": "yes", "use-2": "yes"})
    assert outcome.runs == ("Vormittag", "vormittag-2")
    assert settings(tmp_path, "vormittag-2").title == "vormittag"


@pytest.mark.parametrize(
    ("said", "agreed"), [(("yes", "no"), False), (("no", "yes"), False), (("yes", ""), True), (("", ""), False)]
)
def test_of_several_answers_about_one_person_no_counts(intake, tmp_path, said, agreed):
    take(intake, a__gpx=TRACK, b__gpx=OTHER)
    put(
        intake, **{
            "use-1": "yes", "use-2": "yes", "new_searcher-1": "Bera", "new_searcher-2": "bera",
            "consent-1": said[0], "consent-2": said[1],
        },
    )  # fmt: skip
    assert read_people(tmp_path).find("Bera").consent is agreed


def test_a_person_of_people_toml_is_proposed_by_the_files_name_and_files_stay_as_they_came(intake, ask, tmp_path):
    (tmp_path / "people.toml").write_text('[[person]]\nname = "Anna Éder"\n\n[[person]]\nname = "Bo"\n')
    take(intake, anna__gpx=TRACK)
    plan = intake.plan(intake.basket(TOKEN))
    assert intake.new_runs(plan, intake.basket(TOKEN))[1].form.searcher == "Anna Éder"
    put(intake)
    assert (tmp_path / "drills/bowl/runs/anna/run.toml").read_text() == 'searcher = "Anna Éder"\n'


def test_a_run_toml_that_came_with_it_stays_byte_for_byte_where_nothing_is_changed(intake, tmp_path):
    told = b'# from the start list\nsearcher = "Mara"\nantennas = 2\n'
    take(intake, a__gpx=TRACK, run__toml=told)
    put(intake)
    assert (tmp_path / "drills/bowl/runs/a/run.toml").read_bytes() == told


def test_what_cannot_be_taken_is_asked_and_nothing_is_put_in(intake, ask, tmp_path):
    take(intake, a__gpx=TRACK)
    intake.settle(TOKEN, {"antennas-1": "9", "bib-1": "x" * 3000, "name-1": "y" * 200})
    assert intake.basket(TOKEN).state == "open"
    assert "To decide: 3" in page(ask)
    assert max(map(len, intake.basket(TOKEN).choices.values())) <= 400
    assert not (tmp_path / "drills/bowl/runs").exists()


def test_a_log_that_came_later_belongs_to_a_run_of_the_drill(intake, ask, tmp_path, app):
    take(intake, mara__gpx=TRACK)
    put(intake, **{"name-1": "Mara, früh"})
    second = "BBBBCCCCDDDD"
    take(intake, second, **{"vom Film__csv": READINGS})
    assert "Mara, früh (Mara-früh), which is in the drill" in page(ask, second)
    outcome = put(intake, second, **{"of-1": "run:Mara-früh"})
    assert outcome.runs == ("Mara-früh",)
    ((run, entry),) = outcome.changed
    assert (tmp_path / "drills/bowl/runs/Mara-früh/readings.csv").read_bytes() == READINGS
    shown = page(ask, second)
    assert f"/particulars/bowl/Mara-fr%C3%BCh?entry={entry}" in shown
    told = json.dumps(json.loads(ask(f"/particulars/bowl/{run}", f"?entry={entry}")[1]))
    assert "What this changed" in told
    assert "now track and reading log" in told


def test_two_logs_of_one_kind_for_one_run_are_asked_about(intake):
    take(intake, mara__gpx=TRACK)
    put(intake)
    second = "BBBBCCCCDDDD"
    take(intake, second, a__csv=READINGS, b__csv=READINGS + b"\n")
    intake.settle(second, {"of-1": "run:mara", "of-2": "run:mara"})
    assert any("would both be the readings of mara" in line for line in intake.plan(intake.basket(second)).open)
    intake.settle(second, {"of-1": "run:../mara", "of-2": "no"})
    assert "choose its run" in " ".join(intake.plan(intake.basket(second)).open)


def test_the_page_tells_which_run_is_measured(intake, ask, monkeypatch):
    from dashboard.components.load_review import progress

    stages, really = [], type(intake)._save

    def noted(self, basket):
        stages.append(basket)
        really(self, basket)

    monkeypatch.setattr(type(intake), "_save", noted)
    take(intake, Mara__gpx=TRACK, Bo__gpx=OTHER)
    put(intake, **{"use-1": "yes", "use-2": "yes"})
    told = [basket.stage for basket in stages if basket.stage.startswith("measuring run ")]
    assert told == ["measuring run 1 of 2, Bo", "measuring run 2 of 2, Mara"]
    shown = next(basket for basket in stages if basket.stage.endswith("Mara"))
    assert "Measuring run 2 of 2, Mara" in str(progress(shown, 1.0))
