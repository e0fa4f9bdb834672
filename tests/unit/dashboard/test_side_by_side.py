"""Runs side by side: selection, alignment, differences, figures and page."""

import json
import math
from dataclasses import replace

import pytest

from analyzer.model.figure import Figure, NotAssessable
from dashboard.components.comparison import _row
from dashboard.figures.side_by_side import RUN_STYLES, plans_figure, ranges_figure, timelines_figure
from dashboard.view_models.comparison import (
    Selection,
    asked_by_address,
    change_between,
    chosen,
    measures_of,
    pressed,
    selection_of,
    transmitters_of,
    zero_of,
)

KNOWN = tuple(f"run-{n}" for n in range(8))


def test_a_selection_survives_its_address():
    selection = Selection(("run-1", "a&b=c d"), "fine_search", "a&b=c d")
    again, said = selection_of(asked_by_address(selection.query()), known=(*KNOWN, "a&b=c d"))
    assert (again, said) == (selection, [])


def test_an_address_without_runs_means_the_first_two():
    assert selection_of({}, known=KNOWN)[0] == Selection(("run-0", "run-1"), "start", "run-0")


def test_what_an_address_has_wrong_is_said():
    asked = {"run": [*KNOWN, "gone"], "align": "lunch", "base": "gone"}
    selection, said = selection_of(asked, known=KNOWN)
    assert selection == Selection(KNOWN[:6], "start", "run-0")
    assert len(said) == 3
    assert "gone" in said[0]
    assert "first 6 of 8" in said[1]


def test_buttons_lead_from_one_selection_to_the_next():
    first = Selection(("run-1", "run-3"), "start", "run-1")
    more = chosen(first, "run", "run-2", known=KNOWN)
    assert more == Selection(("run-1", "run-2", "run-3"), "start", "run-1")
    fewer = chosen(more, "run", "run-1", known=KNOWN)
    assert fewer == Selection(("run-2", "run-3"), "start", "run-2")
    assert chosen(fewer, "align", "fine_search", known=KNOWN).align == "fine_search"
    assert chosen(fewer, "base", "run-3", known=KNOWN).base == "run-3"
    assert pressed(fewer, "run", "run-3")
    assert not pressed(fewer, "base", "run-3")


def test_no_run_at_all_survives_its_address():
    none = Selection((), "start", "")
    assert selection_of(asked_by_address(none.query()), known=KNOWN) == (none, [])


def test_the_moments_that_become_zero(result):
    assert [zero_of(result, moment) for moment in ("start", "first_reading", "fine_search")] == [0.0, 110.0, 216.0]


def test_a_first_reading_that_is_not_assessable_is_no_moment(result):
    first = replace(result.phases[0], end_sigma_s=None)
    assert zero_of(replace(result, phases=(first, *result.phases[1:])), "first_reading") is None
    assert zero_of(replace(result, phases=result.phases[1:]), "first_reading") == 110.0
    assert zero_of(replace(result, phases=result.phases[:1]), "fine_search") is None


def test_no_difference_without_both_figures():
    why = NotAssessable("no log")
    assert change_between(why, Figure(1, 1, 1, "s")) is None
    assert change_between(Figure(1, 1, 1, "s"), why) is None
    assert change_between(None, None) is None


def test_a_probability_without_interval_makes_no_clear_difference():
    """2026-11-26: "How likely the crossing is oblique: 0.11 more, 0.11 to 0.11" stood there as a clear difference."""
    base, other = Figure(0.17, 0.17, 0.17, "1"), Figure(0.28, 0.28, 0.28, "1")
    words = str(_row("How likely", [base, other], 0))
    assert "0.28" in words
    assert "more" not in words
    assert " to " not in words
    ratio = str(_row("Walked / line", [Figure(1.0, 0.95, 1.05, "1"), Figure(1.5, 1.4, 1.6, "1")], 0))
    assert "0.50 more" in ratio


def test_measures_that_no_run_has_are_left_out(result):
    assert transmitters_of([result, result]) == ["A", "B"]
    measures = measures_of([result], "A")
    assert ("coarse", "path_ratio") in measures
    assert ("fine", "overshoot_m") not in measures  # not assessable in the only run


def test_timelines_are_moved_together_and_keep_every_second(result):
    short = replace(result, timeline=result.timeline[3:6], duration_s=92.0)
    figure = timelines_figure([result, short], [216.0, 20.0])
    bars = [t for t in figure["data"] if t["name"] != "phase"]
    for number, (run, zero) in enumerate(((result, 216.0), (short, 20.0))):
        own = [(t["x"][i], t["base"][i]) for t in bars for i in range(len(t["y"])) if t["y"][i] == -number]
        assert sum(seconds for seconds, _ in own) == pytest.approx(sum(row.seconds for row in run.timeline))
        assert min(base for _, base in own) == pytest.approx(run.timeline[0].from_s - zero)
    assert figure["layout"]["yaxis"]["ticktext"] == ["<b>1</b>", "<b>2</b>"]
    texts = dict(zip(figure["layout"]["xaxis"]["tickvals"], figure["layout"]["xaxis"]["ticktext"], strict=True))
    assert texts[0.0] == "0:00"
    assert texts[min(texts)].startswith("−")
    assert len(texts) <= 9
    low, high = figure["layout"]["yaxis"]["range"]
    for trace in figure["data"]:
        assert low <= min(trace["y"]) - trace["width"] / 2
        assert max(trace["y"]) + trace["width"] / 2 <= high


def test_six_runs_differ_by_dashes_and_number_as_well_as_colour(result):
    figure = plans_figure([result] * 6)
    paths = [t for t in figure["data"] if t["mode"] == "lines" and "(mara-1)" in t["name"]]
    assert len({t["line"]["dash"] for t in paths}) == len({t["line"]["color"] for t in paths}) == 6
    assert [t["text"][0] for t in figure["data"] if t.get("text") and t["mode"] == "markers+text"][:6] == [
        f"<b>{n}</b>" for n in range(1, 7)
    ]
    assert len(RUN_STYLES) == 6


def test_ranges_begin_at_the_chosen_moment(result):
    figure = ranges_figure([result, result], [0.0, 110.0])
    first, second = (t for t in figure["data"] if t["mode"] == "lines")
    assert first["x"][0] == 0.0
    assert second["x"][0] == -110.0
    assert not math.isnan(second["y"][-1])


def test_the_page_shows_the_runs_of_its_address(ask):
    status, text = ask("/side-by-side/lower_bowl", "?run=mara-1&run=ilo-1&align=fine_search&base=ilo-1")
    assert status == 200
    plain = json.dumps(json.loads(text))
    for part in (
        "Side by side",
        "Mara Fennick",
        "Ilo Brandt",
        "zero is the fine search",
        "held against",
        "no clear difference",
        "Scores",
        "Search for transmitter B",
    ):
        assert part in plain
    assert plain.count('"type": "Graph"') == 3


@pytest.mark.parametrize(
    ("path", "search", "part"),
    [
        ("/side-by-side/lower_bowl", "?run=mara-1", "Choose at least 2 runs above."),
        ("/side-by-side/lower_bowl", "?run=mara-1&run=gone", "There is no run gone in this drill."),
        ("/side-by-side/lower_bowl", "?run=zz-damaged&run=mara-1", "There is no run zz-damaged in this drill."),
        ("/side-by-side/nowhere", "", "This drill is not here"),
    ],
)
def test_a_link_that_does_not_fit_says_so(ask, path, search, part):
    status, text = ask(path, search)
    assert status == 200
    assert part in text


def test_runs_by_different_sheets_are_told(app, make_result, results_folder, ask):
    from analyzer.files.results.result_json import write_result

    odd = make_result(run_id="vera-1")
    write_result(results_folder / "lower_bowl" / "vera-1.json", replace(odd, rules=replace(odd.rules, sha256="d" * 64)))
    _, text = ask("/side-by-side/lower_bowl", "?run=mara-1&run=vera-1")
    assert "different rule sheets" in text
