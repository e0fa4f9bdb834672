"""The rule sheet editor: form, previews against measuring itself, and saving."""

import errno
import json
import sys
from dataclasses import replace

import pytest

from analyzer.errors import InputError
from analyzer.files.rules_toml import default_rules, parse_rules_toml
from analyzer.lab.simulate import RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.write import write_drill, write_run
from analyzer.model.figure import Figure
from analyzer.model.rules import Deduction, PaceKnot
from analyzer.workspace.batch import Batch, analyze_drills
from dashboard.components.rule_sheet import _deductions
from dashboard.services.results import Service
from dashboard.services.rules import SAVING, Sheets, checked
from dashboard.view_models.entries import BUILT_IN
from dashboard.view_models.rule_form import KNOTS, form_of, rules_of, same_searcher

RULES = default_rules()


def made(form, **changes):
    return rules_of(form | changes, RULES, name=RULES.name, version=RULES.version)


def test_a_sheet_survives_the_form():
    again = made(form_of(RULES))
    assert replace(again, sha256="") == replace(RULES, sha256="")
    assert same_searcher(again, RULES)


def test_points_off_are_told_with_their_units():
    """2026-11-26: the page said "Pace at 3 m: 20 points for each unit above 0.8"."""
    bare = Deduction("coarse_search", "coarse.path_ratio", 1.1, 5.0, 10.0)
    words = str(_deductions(replace(RULES, deductions=(*RULES.deductions, bare))))
    assert "Pace at 3 m: 20 points for each m/s above 0.8 m/s, at most 10 (coarse search)" in words
    assert "Reach of the bracket: 20 points for each m below 0.7 m, at most 10 (fine search)" in words
    assert "Walked / field line: 5 points for each unit above 1.1, at most 10 (coarse search)" in words


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"missed_s": None}, "no number for: Seconds that a transmitter not found adds to the loss"),
        ({"fine_radius_m": None, "marking_s": None}, "Fine search begins at a reading of, Time from a hit until"),
        ({"range_4": 30.0}, "pace 5: only one of range and pace is given"),
        ({"fine_radius_m": "three"}, "no number for: Fine search begins"),
    ],
)
def test_what_is_wrong_with_a_form_is_said(changes, words):
    with pytest.raises(InputError, match=words):
        made(form_of(RULES), **changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"fine_radius_m": -1.0}, "fine_radius_m"),
        ({"signal_pace_mps": 0.0}, "signal_pace_mps"),
        ({"range_3": 3.0, "pace_3": 2.0}, "two paces at 3 m"),
        ({"missed_s": -0.5}, "missed_s"),
    ],
)
def test_numbers_out_of_range_are_refused_as_in_a_file(changes, words):
    with pytest.raises(InputError, match=words) as caught:
        checked(made(form_of(RULES), **changes))
    assert "\n" not in str(caught.value)


def test_a_sheet_with_more_paces_than_the_page_has_rows_is_not_cut():
    many = replace(RULES, pace=tuple(PaceKnot(float(r), 1.0) for r in range(1, KNOTS + 2)))
    with pytest.raises(InputError, match="it has 6 paces, this page holds 5"):
        rules_of(form_of(many), many, name="x", version="1")


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """Return a workspace with a drill of two simulated runs, measured with the built-in sheet."""
    root = tmp_path_factory.mktemp("workspace")
    place, drill = root / "drills" / "bowl", simulate_drill(None, seed=4)
    write_drill(place, drill)
    for number in range(2):
        run = simulate_run(drill, RunSettings(), seed=5 + number, run_id=f"run-{number}")
        write_run(place, drill, run)
    analyze_drills([place], Batch(out=root / "results", rules=RULES, draws=64, seed=0))
    return root


@pytest.fixture
def sheets(measured, tmp_path):
    return Sheets(Service(measured / "results"), (measured / "drills" / "bowl",), tmp_path / "rules")


def analyzed(measured, rules, out):
    analyze_drills([measured / "drills" / "bowl"], Batch(out=out, rules=rules, draws=64, seed=0))
    service = Service(out)
    return {run.run: service.result("bowl", run.run).scores for run in service.drills()[0].runs}


def values(scores):
    return {key: (f.value, f.low, f.high) for key, f in scores.by_phase if isinstance(f, Figure)}


TAKEN = (("coarse_search", "coarse.walked_m"), ("fine_search", "fine.duration_s"), ("pinpoint", "pinpoint.duration_s"))
OTHERS = {
    "points": {"deductions": tuple(Deduction(p, m, 0.0, 2.0, 20.0) for p, m in TAKEN)},
    "pace": {"pace": (PaceKnot(3.0, 1.5), PaceKnot(20.0, 2.5)), "pinpoint_reference_s": 5.0},
    "radius": {"fine_radius_m": 5.0, "bracket_arm_m": 0.6},
}


@pytest.mark.parametrize("kind", OTHERS)
def test_a_preview_shows_what_measuring_with_the_sheet_gives(measured, sheets, tmp_path, kind):
    other = checked(replace(RULES, **OTHERS[kind]))
    assert sheets.needs_measuring("bowl", other) == (kind != "points")
    rows = sheets.by_points("bowl", other) if kind == "points" else sheets.by_measuring("bowl", other)
    wanted = analyzed(measured, other, tmp_path / "out")
    assert [row.run for row in rows] == ["run-0", "run-1"]
    for row in rows:
        got, expected = values(row.after), values(wanted[row.run])
        assert got.keys() == expected.keys()
        for key in got:
            # Results are written to 1e-4; scores counted again from them differ by that times the points per unit.
            assert got[key] == pytest.approx(expected[key], abs=0.02), (row.run, key)
        was = values(row.before)
        assert any(abs(was[key][0] - got[key][0]) > 0.1 for key in got)


def test_a_preview_writes_nothing(measured, sheets):
    before = {p: p.stat().st_mtime_ns for p in measured.rglob("*") if p.is_file()}
    sheets.by_measuring("bowl", checked(replace(RULES, fine_radius_m=4.0)))
    assert {p: p.stat().st_mtime_ns for p in measured.rglob("*") if p.is_file()} == before


def test_without_the_tracks_paces_cannot_be_previewed(measured):
    bare = Sheets(Service(measured / "results"))
    with pytest.raises(InputError, match="its tracks are not at hand"):
        bare.by_measuring("bowl", checked(replace(RULES, fine_radius_m=4.0)))


def test_a_saved_sheet_has_name_version_and_the_hash_of_its_file(sheets):
    import hashlib

    saved = sheets.save(replace(RULES, name="Club cup", version="2"))
    file = sheets.folder / saved.place
    assert (saved.name, saved.version, saved.place) == ("Club cup", "2", "club-cup-2.toml")
    assert saved.sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert replace(parse_rules_toml(file.read_bytes()), sha256="") == replace(
        RULES, name="Club cup", version="2", sha256=""
    )
    assert [e.place for e in sheets.entries()] == [BUILT_IN, "club-cup-2.toml"]
    assert sheets.entry(saved.sha256[:8]) == saved
    assert sheets.entry("") is sheets.entry(saved.sha256[:7]) is None


def test_the_built_in_sheet_keeps_its_hash_and_its_comments(sheets):
    entry = sheets.entries()[0]
    assert sheets.rules(entry) == RULES
    assert b"# practice" in sheets.content(entry)


def test_saving_twice_is_once_and_other_content_needs_another_version(sheets):
    first = sheets.save(replace(RULES, name="Club cup"))
    assert sheets.save(replace(RULES, name="Club cup")) == first
    with pytest.raises(InputError, match="version 2 of 'Club cup' exists with other content"):
        sheets.save(replace(RULES, name="Club cup", fine_radius_m=4.0))
    with pytest.raises(InputError, match="already such a file"):
        sheets.save(replace(RULES, name="Club-cup!", fine_radius_m=4.0))
    assert len(list(sheets.folder.glob("*.toml"))) == 1


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/b", "..", "con\x00", "<script>", "Łódź"])
def test_a_name_never_leaves_the_folder(sheets, name):
    saved = sheets.save(replace(RULES, name=name))
    assert (sheets.folder / saved.place).resolve().parent == sheets.folder.resolve()
    assert saved.name == name


@pytest.mark.parametrize(("name", "version", "word"), [("", "1", "name"), ("x", "", "version")])
def test_a_sheet_needs_a_name_and_a_version(sheets, name, version, word):
    with pytest.raises(InputError, match=f"it has no {word}"):
        sheets.save(replace(RULES, name=name, version=version))


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_full_or_read_only_place_is_said_and_nothing_is_left(sheets, monkeypatch, code):
    def refuses(_):
        raise OSError(code, "refused by the disk")

    monkeypatch.setattr("analyzer.files.source.os.fsync", refuses)
    with pytest.raises(InputError, match=r"cannot be written \(refused by the disk\)"):
        sheets.save(replace(RULES, name="Club cup"))
    assert [path.name for path in sheets.folder.iterdir()] == [SAVING]  # empty: whoever saves holds it


def test_a_damaged_sheet_is_named_and_the_others_stay(sheets):
    sheets.save(replace(RULES, name="Club cup"))
    (sheets.folder / "broken.toml").write_text("[rules")
    broken = next(e for e in sheets.entries() if e.place == "broken.toml")
    assert "this is not TOML" in broken.problem
    assert len(sheets.entries()) == 3


def test_the_page_shows_the_sheet_of_the_runs_and_what_it_does(measured):
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(measured / "results", drills=(measured / "drills" / "bowl",), rules=measured / "none"))
    page = sys.modules["dashboard.pages.rules"]
    with app.server.test_request_context("/"):
        text = str(page.layout("bowl"))
        gone = str(page.layout("bowl", sheet="0" * 64))
        nowhere = str(page.layout("elsewhere"))
    _pages.PAGE_REGISTRY.clear()
    parts = (
        "Rule sheet",
        "2 runs",
        "Time from a hit until the spot is left",
        "unchanged",
        RULES.sha256[:8],
        "Save this sheet",
    )
    for part in parts:
        assert part in text
    assert "There is no rule sheet with the hash in this link." in gone
    assert "This drill is not here" in nowhere


def test_runs_by_a_sheet_that_is_gone_are_shown_by_the_built_in_one(ask):
    status, text = ask("/rules/lower_bowl")
    assert status == 200
    plain = json.dumps(json.loads(text))
    assert "The sheet of these runs (house rules, version 1) is not here" in plain
    assert "Press the button" in plain


def test_a_sheet_can_be_fetched(app):
    answer = app.server.test_client().get(f"/rule-sheet/{RULES.sha256}")
    assert parse_rules_toml(answer.data) == RULES
    assert app.server.test_client().get("/rule-sheet/" + "0" * 64).status_code == 404
