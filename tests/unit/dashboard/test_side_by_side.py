"""Runs side by side: selection, alignment, differences, figures and page."""

import datetime as dt
import itertools
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from analyzer.model.figure import Figure, NotAssessable
from dashboard.components.comparison import _row
from dashboard.figures.side_by_side import RUN_STYLES, plans_figure, ranges_figure, timelines_figure
from dashboard.view_models.account import Totals
from dashboard.view_models.alignment import by_phases, joined, moved
from dashboard.view_models.comparison import (
    Selection,
    asked_by_address,
    change_between,
    chosen,
    measures_of,
    place_of,
    pressed,
    reference_of,
    selection_of,
    transmitters_of,
    zero_of,
)
from dashboard.view_models.differences import elsewhere, most_different, pairs_of
from dashboard.view_models.entries import DrillEntry, RunEntry

KNOWN = tuple(f"run-{n}" for n in range(8))


def test_a_selection_survives_its_address():
    selection = Selection(("run-1", "a&b=c d"), "fine_search", "a&b=c d")
    again, said = selection_of(asked_by_address(selection.query()), known=(*KNOWN, "a&b=c d"))
    assert (again, said) == (selection, [])


def test_an_address_without_runs_means_the_first_two():
    assert selection_of({}, known=KNOWN)[0] == Selection(("run-0", "run-1"), "phases", "run-0")
    assert selection_of({}, known=KNOWN, offered=("run-5", "run-3"))[0].runs == ("run-5", "run-3")


def test_what_an_address_has_wrong_is_said():
    asked = {"run": [*KNOWN, "gone"], "align": "lunch", "base": "gone"}
    selection, said = selection_of(asked, known=KNOWN)
    assert selection == Selection(KNOWN[:6], "phases", "run-0")
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
    figure = timelines_figure([result, short], moved([result, short], [216.0, 20.0]))
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
    figure = ranges_figure([result, result], moved([result, result], [0.0, 110.0]))
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


# Each phase from one place on.


def shifted(result, seconds):
    """Return the run with a signal search longer by some seconds, and all after it later."""
    first, *others = result.phases
    later = [replace(p, start_s=p.start_s + seconds, end_s=p.end_s + seconds) for p in others]
    rows = [
        replace(r, to_s=r.to_s + seconds, seconds=r.seconds + seconds)
        if r.from_s < first.end_s <= r.to_s
        else replace(r, from_s=r.from_s + seconds, to_s=r.to_s + seconds)
        if r.from_s >= first.end_s
        else r
        for r in result.timeline
    ]
    return replace(
        result,
        duration_s=result.duration_s + seconds,
        phases=(replace(first, end_s=first.end_s + seconds), *later),
        timeline=tuple(rows),
    )


def test_each_phase_of_all_runs_begins_at_one_place_and_keeps_its_length(result):
    runs = [result, shifted(result, 45.0)]
    aligned = by_phases(runs)
    for number, run in enumerate(runs):
        begins = [aligned.begin(number, p.start_s, p.end_s) for p in run.phases]
        assert begins == pytest.approx([at for at, _ in aligned.begins])
        assert aligned.place(number, np.array([p.start_s for p in run.phases])) == pytest.approx(begins)
    ends = [aligned.begin(n, p.start_s, p.end_s) + p.end_s - p.start_s for n, r in enumerate(runs) for p in r.phases]
    assert max(ends) == pytest.approx(aligned.extent[1])
    longest = [max(run.phases[i].end_s - run.phases[i].start_s for run in runs) for i in range(len(result.phases))]
    steps = [b - a for (a, _), (b, _) in itertools.pairwise(aligned.begins)]
    assert all(step >= length for step, length in zip(steps, longest, strict=False))
    names = [name for _, name in aligned.begins]
    assert names[:5] == ["signal 1", "coarse 1", "fine 1", "probe 1", "coarse 2"]


def test_nothing_is_drawn_over_anything_else_and_every_second_is_drawn(result):
    runs = [result, shifted(result, 45.0)]
    bars = [t for t in timelines_figure(runs, by_phases(runs))["data"] if t["name"] != "phase"]
    for number, run in enumerate(runs):
        own = sorted((t["base"][i], t["x"][i]) for t in bars for i in range(len(t["y"])) if t["y"][i] == -number)
        assert sum(seconds for _, seconds in own) == pytest.approx(run.duration_s)
        assert all(a + seconds <= b + 1e-6 for (a, seconds), (b, _) in itertools.pairwise(own))


def test_ranges_break_between_phases_and_lose_no_reading(result):
    runs = [result, shifted(result, 45.0)]
    figure = ranges_figure(runs, by_phases(runs))
    first = next(t for t in figure["data"] if t["mode"] == "lines")
    assert sum(math.isfinite(y) for y in first["y"]) == sum(math.isfinite(y) for y in result.path.range_m)
    assert len(first["x"]) == len(result.path.time_s) + len(result.phases) - 1
    assert (first["x"][1:] >= first["x"][:-1]).all()
    texts = figure["layout"]["xaxis"]["ticktext"]
    assert texts[0] == "0:00"
    assert texts.count("0:00") > 1
    assert "beginning of each phase" in figure["layout"]["xaxis"]["title"]["text"]


def test_a_phase_whose_beginning_is_not_known_stays_with_the_one_before(result):
    first, second, *others = result.phases
    untold = replace(result, phases=(first, replace(second, start_sigma_s=None), *others))
    assert joined(untold)
    assert not joined(result)
    aligned = by_phases([untold, result])
    coarse = aligned.begin(0, second.start_s, second.end_s)
    assert coarse == aligned.begin(0, first.start_s, first.end_s) + second.start_s - first.start_s
    assert aligned.begin(0, others[0].start_s, others[0].end_s) == aligned.begin(1, others[0].start_s, others[0].end_s)


def test_a_run_without_phases_is_drawn_as_it_is(result):
    bare = replace(result, phases=())
    assert by_phases([bare]).extent == (0.0, result.duration_s)


# What differs most.


def spent(result, name, **seconds):
    """Return the run with an account of these causes of the coarse search, each give or take a second."""
    rows = [replace(result.account[0], phase="coarse_search", transmitter="A", cause="reference", metres=0.0)]
    rows = [replace(rows[0], seconds=Figure(60.0, 60.0, 60.0, "s"), windows=())]
    rows += [
        replace(rows[0], cause=cause, seconds=Figure(value, value - 1.0, value + 1.0, "s"))
        for cause, value in seconds.items()
    ]
    return replace(result, searcher=name, account=tuple(rows))


def test_what_differs_most_is_said_with_its_interval(result):
    mara = spent(result, "Mara", wrong_way=4.0, standing=20.0)
    ilo = spent(result, "Ilo", wrong_way=30.0, standing=8.0)
    # The wrong way differs by 26 s; two half-widths of 1 s in quadrature are 1.41 s: 24.6 to 27.4, rounded outward.
    assert most_different([mara, ilo], 0) == (
        'What differs most: Ilo spent 26 s more than Mara on "wrong way" in the coarse search (90 %: 24 to 28 s).'
    )
    assert most_different([mara, ilo], 1).startswith("What differs most: Mara spent 26 s less than Ilo on")
    again = replace(ilo, searcher="Mara", run_id="mara-2")
    assert "Mara (mara-2) spent 26 s more than Mara (mara-1)" in most_different([mara, again], 0)


@pytest.mark.parametrize(("other", "said"), [(4.0, False), (6.0, False), (6.2, False), (6.5, True)])
def test_nothing_is_said_where_the_difference_is_not_clear(result, other, said):
    mara, ilo = spent(result, "Mara", wrong_way=4.0), spent(result, "Ilo", wrong_way=other)
    assert bool(most_different([mara, ilo], 0)) is said  # clear: 1 s and more, so from 1 + 1.41 s of difference on


def test_nothing_is_said_of_the_reference_of_no_cause_or_of_different_sheets(result):
    mara = spent(result, "Mara", not_recorded=90.0)
    longer = replace(mara.account[0], seconds=Figure(200.0, 200.0, 200.0, "s"))
    assert most_different([mara, spent(result, "Ilo")], 0) == ""
    assert most_different([mara, replace(mara, account=(longer, *mara.account[1:]))], 0) == ""
    ilo = spent(result, "Ilo", wrong_way=60.0)
    assert most_different([spent(result, "Mara", wrong_way=0.0), ilo], 0)
    other = replace(ilo, rules=replace(ilo.rules, sha256="d" * 64))
    assert most_different([spent(result, "Mara", wrong_way=0.0), other], 0) == ""


def listed(run, searcher, hour, **more):
    began = dt.datetime(2026, 2, 14, hour, tzinfo=dt.UTC)
    return RunEntry(
        "bowl", run, "Bowl", searcher, 90.0, began=began, splits=(Totals("In all", 90, 0, 0, 0, 0),), **more
    )


def test_first_and_last_of_one_searcher_are_offered_first():
    runs = [
        listed("b-2", "Bera", 12),
        listed("a-3", "alva", 11),
        listed("a-1", "Alva", 9),
        listed("b-1", "Bera", 9),
        listed("a-2", "ALVA", 10),
        listed("c-1", "Curdin", 9),
        listed("d-1", "", 9),
        listed("d-2", "", 10),
        listed("b-3", "Bera", 13, problem="damaged"),
    ]
    assert [pair.runs for pair in pairs_of(runs)] == [("a-1", "a-3"), ("b-1", "b-2")]
    assert pairs_of(runs)[1].words == "Bera, first and last"


def test_the_page_offers_pairs_shows_splits_and_says_what_differs(app, make_result, results_folder, ask):
    from analyzer.files.results.result_json import write_result

    made = make_result(run_id="mara-2")
    write_result(
        results_folder / "lower_bowl" / "mara-2.json",
        replace(spent(made, "Mara Fennick", wrong_way=90.0), time_zero=made.time_zero + dt.timedelta(hours=1)),
    )
    plain = json.dumps(json.loads(ask("/side-by-side/lower_bowl")[1]))
    for part in (
        "Mara Fennick, first and last",
        "Mara Fennick (mara-2) spent",
        "Splits, min:s",
        "What cost most",
        "each phase of all runs begins at one place",
    ):
        assert part in plain


# The same searchers in other drills.


@pytest.fixture
def two_drills(results_folder, make_result):
    from analyzer.files.results.result_json import write_result

    made = spent(make_result(run_id="mara-9", drill="Upper bowl"), "Mara Fennick", wrong_way=90.0)
    write_result(results_folder / "upper_bowl" / "mara-9.json", made)
    write_result(results_folder / "upper_bowl" / "nobody-1.json", make_result(run_id="nobody-1", searcher="Nils Torp"))
    return results_folder


def test_runs_of_the_same_searchers_in_other_drills_come_after_those_of_the_drill():
    own = DrillEntry("bowl", "Bowl", (listed("a-1", "Alva", 9), listed("x-1", "", 9)))
    far = [
        replace(listed(run, name, hour), drill="gully")
        for run, name, hour in (("a-2", "ALVA ", 10), ("a-3", "Alva", 12))
    ]
    others = DrillEntry("gully", "Gully", (*far, listed("b-1", "Bera", 11), listed("y-1", "", 9)))
    found = elsewhere(own, [own, others])
    assert [run.run for run in found] == ["a-3", "a-2"]
    assert [reference_of(run, "bowl") for run in (own.runs[0], *found)] == ["a-1", "gully/a-3", "gully/a-2"]
    assert [place_of(name, "bowl") for name in ("a-1", "gully/a-3")] == [("bowl", "a-1"), ("gully", "a-3")]


def test_the_page_holds_a_run_against_one_of_another_drill(two_drills, ask):
    status, text = ask("/side-by-side/lower_bowl", "?run=mara-1&run=upper_bowl/mara-9&base=mara-1")
    assert status == 200
    plain = json.dumps(json.loads(text))
    for part in (
        "of different drills",
        "mara-9, Upper bowl",
        "mara-1, Lower bowl, held against",
        "Splits, min:s",
        "Scores",
    ):
        assert part in plain
    assert "Search for transmitter" not in plain
    assert "What differs most" not in plain
    assert plain.count('"type": "Graph"') == 2  # no plan with the paths of two places
    own = json.dumps(json.loads(ask("/side-by-side/lower_bowl", "?run=mara-1&run=ilo-1")[1]))
    assert "The same searchers in other drills" in own
    assert "Nils Torp" not in own
    assert "of different drills" not in own


def test_a_run_of_another_drill_whose_searcher_is_not_here_is_not_known(two_drills, ask):
    text = ask("/side-by-side/lower_bowl", "?run=mara-1&run=ilo-1&run=upper_bowl/nobody-1")[1]
    assert "There is no run upper_bowl/nobody-1 in this drill." in json.dumps(json.loads(text))
