"""A whole search, drawn by hand: every figure against what was drawn."""

from dataclasses import replace

import numpy as np
import pytest
from builders import exact_path, walk

from analyzer.engine.measures import Ground, measure_searches
from analyzer.engine.measures.low_point import first_rise
from analyzer.engine.measures.searches import NAMES
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.drill import Slope
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.phases import COARSE, FINE, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.recording import Mark
from analyzer.physics.receiver import offsets, reading_m

RULES = default_rules()
GROUND = Ground(SlopePlane(Slope()), 40.0, 0.1)
# In along the contour to 3 m, past the transmitter, back, across both ways, settle 0.2 m off, probe.
KNOTS = [(40, 20), (30, 0), (20, 0), (3, 0), (-1.2, 0), (0, 0), (0, 1.3), (0, -1.3), (0, 0.2), (0, 0.2001)]
PACES = [1.4, 1.2, 1.0, 0.25, 0.25, 0.25, 0.25, 0.25, 0.0001 / 20.0]
SECONDS = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.array(KNOTS, float), axis=0).T) / np.array(PACES))])


def search_of(*, readings=True, marks=True, rows=1):
    time_s, points = walk(KNOTS, pace=PACES)
    axis = np.array([[1.0, 0.0, 0.0]])
    used = None
    if readings:
        d = offsets(points, np.full(len(time_s), 0.1), np.zeros(2), 1.0)
        shown = reading_m(d, axis[0])
        heard = shown < 28.0
        used = (time_s[heard], shown[heard], np.zeros(np.count_nonzero(heard)))
    fused = exact_path(time_s, points, axis=axis, readings=used, rows=rows)
    # A second after the last step, so that a position on the spot is among the samples.
    bounds = (0.0, SECONDS[1], SECONDS[3], SECONDS[8] + 1.0, float(time_s[-1]))
    spans = tuple(
        PhaseSpan(phase, "A", a, b, 0.0, 0.0, np.full(rows, a), np.full(rows, b))
        for phase, a, b in zip((SIGNAL, COARSE, FINE, PINPOINT), bounds[:-1], bounds[1:], strict=True)
    )
    hit = (Mark(bounds[-1], "probe_hit", "A"),) if marks else ()
    (search,) = measure_searches(fused, spans, {}, RULES, ground=GROUND, marks=hit)
    return search


def value(search, group, name):
    figure = search.figure(group, name)
    assert isinstance(figure, Figure), figure
    return figure.value


def test_coarse_figures_are_what_was_walked():
    search = search_of()
    assert value(search, "coarse", "walked_m") == pytest.approx(27.0, abs=0.3)
    assert value(search, "coarse", "wrong_way_m") == 0.0
    assert value(search, "coarse", "standing_s") == 0.0
    assert value(search, "coarse", "speed_at_10_m") == pytest.approx(1.0, abs=0.03)


def test_fine_figures_are_what_was_walked():
    search = search_of()
    assert value(search, "fine", "duration_s") == pytest.approx(SECONDS[8] + 1.0 - SECONDS[3], abs=1e-6)
    assert value(search, "fine", "crossing_angle_deg") == pytest.approx(90.0, abs=5.0)
    assert value(search, "fine", "reach_m") == pytest.approx(1.3, abs=0.125)
    assert value(search, "fine", "final_offset_m") == pytest.approx(0.2, abs=0.02)
    assert value(search, "pinpoint", "probe_offset_m") == pytest.approx(0.2, abs=0.02)


def test_readings_of_the_fine_search_follow_the_closed_form():
    # On the axis line of a flat dipole at height h = 1.1 m: |B|^2 = (h^2 + 4 x^2) / (h^2 + x^2)^4 (from
    # Griffiths 5.4.3), so the reading is |B|^(-1/3); over the transmitter it is h.
    search, h = search_of(), 1.1
    along = ((h**2 + 4 * 1.2**2) / (h**2 + 1.2**2) ** 4) ** (-1.0 / 6.0)
    assert value(search, "fine", "lowest_reading_m") == pytest.approx(h, abs=0.01)
    # Positions once a second miss the end of the leg by up to 0.125 m.
    assert value(search, "fine", "overshoot_m") == pytest.approx(along - h, abs=0.08)
    across = np.hypot(h, 0.2)  # broadside: the distance itself
    assert value(search, "fine", "ended_on_lowest_m") == pytest.approx(across - h, abs=0.005)


def test_every_figure_of_the_result_is_there():
    search = search_of()
    for group, phase in (("signal", SIGNAL), ("coarse", COARSE), ("fine", FINE), ("pinpoint", PINPOINT)):
        assert set(NAMES[phase]) <= set(dict(getattr(search, group)))


def test_without_readings_the_fine_search_says_why_it_is_silent():
    search = search_of(readings=False)
    for name in ("crossing_angle_deg", "reach_m", "overshoot_m", "lowest_reading_m", "ended_on_lowest_m"):
        assert "readings" in search.figure("fine", name).why
    assert isinstance(search.figure("coarse", "walked_m"), Figure)


def test_without_a_mark_the_probe_offset_is_not_assessable():
    assert search_of(marks=False).figure("pinpoint", "probe_offset_m") == NotAssessable("no probe hit was marked")


def test_a_transmitter_that_was_not_searched_is_listed_as_not_found():
    time_s, points = walk(KNOTS, pace=PACES)
    fused = exact_path(time_s, points, transmitter_m=((0.0, 0.0), (30.0, 30.0)), axis=((1.0, 0.0, 0.0),) * 2)
    end = float(time_s[-1])
    span = PhaseSpan(COARSE, "A", 0.0, end, 0.0, 0.0, np.zeros(1), np.array([end]))
    first, second = measure_searches(fused, (span,), {}, RULES, ground=GROUND)
    assert (first.transmitter, second.transmitter, second.found) == ("A", "B", False)
    assert isinstance(second.figure("coarse", "walked_m"), NotAssessable)


def test_speed_inside_the_range_is_not_assessable():
    time_s, points = walk([(8, 0), (2, 0)], pace=0.5)
    fused = exact_path(time_s, points)
    end = float(time_s[-1])
    span = PhaseSpan(COARSE, "A", 0.0, end, 0.0, 0.0, np.zeros(1), np.array([end]))
    (search,) = measure_searches(fused, (span,), {}, RULES, ground=GROUND)
    assert "8 m away" in search.figure("coarse", "speed_at_10_m").why
    assert value(search, "coarse", "speed_at_3_m") == pytest.approx(0.5, abs=0.02)


def test_the_sheet_decides_what_of_the_probing_is_long():
    time_s, points = walk(KNOTS, pace=PACES)
    end = float(time_s[-1])
    span = PhaseSpan(PINPOINT, "A", end - 19.0, end, 0.0, 0.0, np.array([end - 19.0]), np.array([end]))

    def causes(seconds):
        rules = replace(RULES, pinpoint_reference_s=seconds)
        (search,) = measure_searches(exact_path(time_s, points), (span,), {}, rules, ground=GROUND)
        return {row.cause: row.seconds.value for row in search.account}

    # The span is the first of the run, which the account begins at 0 s.
    assert causes(end - 14.0) == pytest.approx({"reference": end - 14.0, "long_probing": 14.0})
    assert causes(end + 6.0) == pytest.approx({"reference": end + 6.0, "pace": -6.0})


@pytest.mark.parametrize(
    ("shown", "rise"),
    [([3, 2, 1, 1.5, 2, 1.2], 1.0), ([3, 2, 1], 0.0), ([2, 1, 1.04, 1.0, 1.5], 0.5), ([1, 2, 3], 2.0)],
)
def test_first_rise(shown, rise):
    assert first_rise(np.array(shown, float), threshold_m=0.06) == pytest.approx(rise)


@pytest.mark.parametrize(("last", "end_m"), [(COARSE, 12.0), (FINE, 2.0)])
def test_what_only_a_whole_phase_shows_is_not_assessable_where_the_run_ends_in_it(last, end_m):
    """Cut short, the same way would seem shorter than its line, and the last reading of a moment the lowest one."""
    time_s, points = walk([(30, 0), (3, 0), (end_m if last == FINE else 3, 0)], pace=1.0)
    kept = points[:, 0] >= (end_m if last == COARSE else 2.0)
    time_s, points = time_s[kept], points[kept]
    fused, end = exact_path(time_s, points), float(time_s[-1])
    bounds = (0.0, end) if last == COARSE else (0.0, float(time_s[np.argmin(np.abs(points[:, 0] - 3.0))]), end)
    spans = tuple(
        PhaseSpan(phase, "A", a, b, 0.0, 0.0, np.array([a]), np.array([b]))
        for phase, a, b in zip((COARSE, FINE), bounds[:-1], bounds[1:], strict=False)
    )
    (search,) = measure_searches(fused, spans, {}, RULES, ground=GROUND)
    assert not search.found
    group = "coarse" if last == COARSE else "fine"
    why = f"the recording does not show where the {group} search ended"
    for name in ("walked_m",) if last == COARSE else ("duration_s", "final_offset_m"):
        assert search.figure(group, name).why == why, name
    if last == COARSE:
        assert "did not come within 10 m" in search.figure("coarse", "speed_at_10_m").why
        assert isinstance(search.figure("coarse", "speed_at_3_m"), NotAssessable)
        assert value(search, "coarse", "standing_s") == 0.0  # what did not happen until then
    else:
        assert value(search, "coarse", "walked_m") == pytest.approx(27.0, abs=0.3)
