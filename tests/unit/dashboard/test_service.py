"""The service: what is in the folder is shown, what is damaged is named, addresses never become paths."""

import json
import os
import re
from dataclasses import replace

import pytest

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.results.result_json import parse_result, result_bytes, result_values, write_result
from analyzer.model.figure import NotAssessable
from dashboard.services.results import RunMissingError, Service


def test_runs_are_listed_with_the_damaged_one_named(results_folder):
    (drill,) = Service(results_folder).drills()
    assert [entry.run for entry in drill.runs] == ["<i>odd & run", "ilo-1", "mara-1", "zz-damaged"]
    mara, damaged = drill.runs[2], drill.runs[3]
    assert (mara.searcher, mara.duration_s, mara.problem) == ("Mara Fennick", 600.0, None)
    assert mara.loss == "Probing beside the lowest spot: 110 s"
    assert damaged.problem == "zz-damaged.json: the result has no 'run'; analyze the drill again"


def test_the_list_tells_first_that_a_transmitter_was_not_found(make_result, tmp_path):
    """2026-11-26: a run without a hit, of 12 points, stood in the list with "No findings."."""
    result = make_result()
    missed = replace(result, searches=(result.searches[0], replace(result.searches[1], found=False)), findings=())
    write_result(tmp_path / "lower_bowl" / "mara-1.json", missed)
    ((entry,),) = (drill.runs for drill in Service(tmp_path).drills())
    assert entry.loss.startswith("B not found")


def test_an_empty_or_missing_folder_has_no_drills(tmp_path):
    assert Service(tmp_path).drills() == ()
    assert Service(tmp_path / "nowhere").drills() == ()


def test_a_run_comes_back_as_it_was_written(make_result, results_folder):
    # Times and sums are exact to 1e-6, the path to 1 mm, figures to 1e-4: the rounding of the file.
    written, read = make_result(), Service(results_folder).result("lower_bowl", "mara-1")
    assert read.duration_s == written.duration_s
    assert read.path.east_m == pytest.approx(written.path.east_m, abs=5.1e-4)
    assert read.path.range_m == pytest.approx(written.path.range_m, abs=5.1e-4, nan_ok=True)
    assert read.readings == pytest.approx(written.readings, abs=5.1e-4)
    assert set(read.readings[:, 3]) == {0.0, 1.0}
    assert (read.timeline, read.findings, read.phases) == (written.timeline, written.findings, written.phases)
    assert (read.scores, read.evidence, read.transmitters) == (written.scores, written.evidence, written.transmitters)
    assert (read.inputs, read.slope, read.probe_hits_s) == (written.inputs, written.slope, written.probe_hits_s)
    first, again = written.searches[0], read.searches[0]
    assert (first.coarse, first.fine, first.legs) == (again.coarse, again.fine, again.legs)
    assert first.wrong_way_events == again.wrong_way_events
    assert [(a.kind, a.points_m.tolist()) for a in written.lines] == [(b.kind, b.points_m.tolist()) for b in read.lines]


def test_a_run_without_readings_has_reasons(results_folder):
    result = Service(results_folder).result("lower_bowl", "ilo-1")
    assert result.readings is None
    assert result.evidence.clock_offset_s == NotAssessable("no reading log was given")


def test_a_damaged_run_says_why(results_folder):
    with pytest.raises(AnalyzerError, match=r"zz-damaged\.json: the result has no 'run'; analyze the drill again"):
        Service(results_folder).result("lower_bowl", "zz-damaged")


def test_quoted_names_find_their_run(results_folder):
    entry = Service(results_folder).drills()[0].runs[0]
    _, _, drill, run = entry.href.split("/")
    assert "<" not in entry.href
    assert Service(results_folder).result(drill, run).searcher == "<b>Bold</b>"


@pytest.mark.parametrize(
    ("drill", "run"),
    [
        ("lower_bowl", "gone"),
        ("..", "mara-1"),
        ("lower_bowl", "../lower_bowl/mara-1"),
        ("lower_bowl", "..%2Flower_bowl%2Fmara-1"),
        ("", ""),
    ],
)
def test_unknown_names_are_missing_runs(results_folder, drill, run):
    with pytest.raises(RunMissingError):
        Service(results_folder).result(drill, run)


def test_a_changed_file_is_read_again(make_result, results_folder):
    service = Service(results_folder)
    assert service.result("lower_bowl", "mara-1").searcher == "Mara Fennick"
    path = results_folder / "lower_bowl" / "mara-1.json"
    write_result(path, make_result(searcher="Mara Fennick-Oss"))
    os.utime(path, ns=(1, 1))
    assert service.result("lower_bowl", "mara-1").searcher == "Mara Fennick-Oss"


def test_an_unchanged_file_is_read_once(results_folder):
    service = Service(results_folder)
    assert service.result("lower_bowl", "mara-1") is service.result("lower_bowl", "mara-1")


@pytest.mark.parametrize(
    ("change", "place", "part"),
    [
        (lambda v: v.pop("timeline"), "", "the result has no 'timeline'"),
        (lambda v: v["path"].update(time_s=[]), "path", "is damaged"),
        (lambda v: v["path"].update(east_m=v["path"]["east_m"][:-1]), "path", "is damaged (east_m must have shape"),
        (lambda v: v["run"].update(duration_s=0.0), "run.duration_s", "the run lasts 0.0 s"),
        (lambda v: v["account"][0].update(cause="luck"), "account[0].cause", "unknown cause 'luck'"),
        (lambda v: v["timeline"][0].update(activity="luck"), "timeline[0].activity", "unknown activity 'luck'"),
        (lambda v: v.update(phases=[1]), "phases[0]", "is damaged (an object is needed, 1 was found)"),
        (lambda v: v["timeline"][1].update(colour=1), "timeline[1]", "the key 'colour' is not known"),
        (lambda v: v.update(colour=1), "", "the key 'colour' is not known"),
        (lambda v: v["run"].update(colour=1), "run", "the key 'colour' is not known"),
        (lambda v: v["run"].pop("id"), "run", "this part has no 'id'"),
        (lambda v: v["searches"][0].pop("fine"), "searches[0]", "this part has no 'fine'"),
        (lambda v: v["searches"][0].update(fine=[]), "searches[0].fine", "an object is needed, [] was found"),
        (lambda v: v.update(inputs={}), "inputs", "a list is needed, {} was found"),
        (lambda v: v["timeline"][1].pop("activity"), "timeline[1]", "this part has no 'activity'"),
        (lambda v: v["phases"][1].update(end_s=None), "phases[1]", "it has no times"),
        (lambda v: v["transmitters"][0].update(north_m=None), "transmitters[0]", "it has no place"),
        (lambda v: v["transmitters"][0].update(id=7), "transmitters[0].id", "a text is needed, 7 was found"),
        (lambda v: v["searches"][0].update(found=1), "searches[0].found", "true or false is needed"),
        (lambda v: v["searches"][0]["coarse"].update(walked_m=3), "searches[0].coarse.walked_m", "an object is needed"),
        (lambda v: v["searches"][0]["coarse"]["walked_m"].pop("low"), "searches[0].coarse.walked_m", "has no 'low'"),
        (lambda v: v["scores"]["overall"].update(value="9"), "scores.overall.value", 'a number is needed, "9" was'),
        (lambda v: v["scores"]["rules"].pop("pace"), "scores.rules", "this part has no 'pace'"),
        (lambda v: v["run"].update(time_zero="2026-01-17T09:30:00"), "run.time_zero", "a moment with its offset"),
        (lambda v: v["path"].update(sigma_m=["1"]), "path.sigma_m", "a list of numbers is needed"),
    ],
)
def test_damaged_results_are_refused_in_one_line_that_names_the_place(make_result, change, place, part):
    values = json.loads(json.dumps(result_values(make_result())))
    change(values)
    with pytest.raises(InputError, match=re.escape(part)) as caught:
        parse_result(json.dumps(values).encode(), name="mara-1.json")
    assert caught.value.where.removeprefix("mara-1.json").removeprefix(", ") == place
    assert caught.value.do == "analyze the drill again"
    assert "\n" not in str(caught.value)


def test_parts_beyond_the_contract_may_be_missing(make_result):
    values = json.loads(result_bytes(make_result()))
    for key in ("lines", "readings", "area", "slope", "probe_hits", "engine", "drill_key"):
        values.pop(key)
    values["path"].pop("range_m")
    result = parse_result(json.dumps(values).encode())
    assert (result.lines, result.readings, result.corners_m, result.slope) == ((), None, None, (0.0, 180.0))
