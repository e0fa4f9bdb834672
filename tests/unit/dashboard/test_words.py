"""Selection, order and wording."""

import pytest

from analyzer.model.account import (
    ACTIVITIES,
    CAUSE_TITLES,
    FAULT_CAUSES,
    NOBODYS_CAUSES,
    OTHER_CAUSES,
    PHASE_KEYS,
    TimelineRow,
)
from analyzer.model.figure import Figure, NotAssessable
from dashboard import wording
from dashboard.view_models.order import activity_totals, costliest, window_of_trigger
from dashboard.view_models.selection import Window, parse_window, widened, window_query


def test_a_window_survives_its_address():
    query = window_query(Window(168.04, 202.0))
    assert query == "?from=168.0&to=202.0"
    pairs = dict(pair.split("=") for pair in query[1:].split("&"))
    assert parse_window(pairs, duration_s=600.0) == (Window(168.0, 202.0), True)
    assert window_query(None) == ""


@pytest.mark.parametrize(
    "query",
    [
        {"from": "a", "to": "2"},
        {"from": "3"},
        {"from": "5", "to": "5"},
        {"from": "nan", "to": "9"},
        {"from": "700", "to": "800"},
        {"from": "-9", "to": "-2"},
        {"from": ["1", "2"], "to": "9"},
    ],
)
def test_an_unusable_window_is_the_whole_run_and_says_so(query):
    assert parse_window(query, duration_s=600.0) == (None, False)


def test_no_window_is_the_whole_run():
    assert parse_window({"other": "1"}, duration_s=600.0) == (None, True)


def test_a_moment_becomes_a_second():
    assert widened(12.0, 12.0) == Window(11.5, 12.5)


def test_findings_come_dearest_first_and_unknown_costs_last(result):
    from dataclasses import replace

    unknown = replace(result.findings[0], id="unknown", saving_s=NotAssessable("no reference"))
    order = [f.id for f in costliest((*result.findings, unknown))]
    assert order == ["off_lowest:B", "wrong_way:A", "extra_lines:A", "standing:B", "unknown"]


def test_totals_of_activities_as_shown_hold_the_run(result):
    # A third of a second each way: no column of rounded seconds or shares adds up by itself.
    rows = tuple(
        TimelineRow("coarse_search", "A", activity, 0.0, 0.0, 33.4, 1.0)
        for activity in ("along_line", "off_line", "standing")
    )
    totals = activity_totals(rows)
    assert [activity for activity, _, _ in totals] == ["along_line", "off_line", "standing"]
    assert sum(seconds for _, seconds, _ in totals) == 100  # 3 x 33.4 = 100.2
    assert sum(share for _, _, share in totals) == 100
    assert sum(seconds for _, seconds, _ in activity_totals(result.timeline)) == 600


def test_a_chosen_piece_of_the_bar_is_its_window(result):
    assert window_of_trigger(result, "timeline-bar", {"points": [{"customdata": [168, 202]}]}) == Window(168.0, 202.0)
    assert window_of_trigger(result, "timeline-bar", {"points": [{}]}) is None


def test_every_activity_cause_and_phase_has_words():
    assert set(wording.ACTIVITIES) == set(ACTIVITIES)
    assert set(wording.CAUSES) == set(CAUSE_TITLES) == {*FAULT_CAUSES, *OTHER_CAUSES}
    assert set(wording.PHASES) == set(PHASE_KEYS)


def test_time_gained_and_nobodys_time_are_called_so():
    assert wording.cause_words("pace", "coarse_search", -4)[0] == "Time gained by a faster pace than the sheet's"
    assert wording.cause_words("pace", "coarse_search", 4)[0] == "Slower than the sheet's pace"
    assert "probing faster" in wording.cause_words("pace", "pinpoint", -4)[0]
    for cause in {*FAULT_CAUSES, *OTHER_CAUSES} - {"reference", *NOBODYS_CAUSES}:
        assert "gained" in wording.cause_words(cause, "coarse_search", -1)[0]
    for cause in NOBODYS_CAUSES:
        assert "nobody's fault: " in wording.cause_words(cause, "fine_search", -1)[1]


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.4, "0:00"),
        (59.6, "1:00"),
        (125.0, "2:05"),
        (-3.0, "−0:03"),
        (-0.2, "0:00"),
        (3725.0, "62:05"),
        (float("nan"), "-"),
    ],
)
def test_clock(seconds, text):
    assert wording.clock(seconds) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.5, "0.50"), (9.996, "10.0"), (41.24, "41.2"), (120.4, "120"), (-0.4, "−0.40"), (-0.001, "0.00")],
)
def test_number(value, text):
    assert wording.number(value) == text


def test_figures_in_words():
    figure = Figure(71.0, 60.0, 82.0, "deg")
    assert (wording.figure_text(figure), wording.interval_text(figure)) == ("71.0°", "60.0 to 82.0°")
    why = NotAssessable("no reading log")
    assert (wording.figure_text(why), wording.interval_text(why)) == ("not assessable", "no reading log")
    assert wording.saving_text(Figure(0.2, 0.0, 0.5, "s")) == "under 1 s"
    assert wording.saving_text(Figure(33.6, 30.0, 37.0, "s")) == "34 s"
    assert wording.saving_text(why) == "time not assessable"


def test_counts_and_probabilities_are_bare_numbers():
    """2026-11-26: the page said "Lines that can be told apart 2.00, 2.00 to 2.00"."""
    count, share, ratio = Figure(2.0, 2.0, 2.0, "1"), Figure(0.17, 0.17, 0.17, "1"), Figure(1.0, 0.9, 1.2, "1")
    assert [wording.figure_text(f) for f in (count, share, ratio)] == ["2", "0.17", "1.00"]
    assert [wording.has_no_spread(f) for f in (count, share, ratio)] == [True, True, False]
    assert not wording.has_no_spread(Figure(0.0, 0.0, 0.0, "m"))


def test_safety_words_hold_what_they_must():
    words = " ".join(wording.SAFETY)
    for part in (
        "Never for a real rescue",
        "20 cm",
        "50 cm",
        "Common practice",
        "safe ground",
        "qualified instructors",
    ):
        assert part in words
