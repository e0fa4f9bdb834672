"""Findings on simulated runs whose path is known exactly: what the rules of the remarks can do at best.

The path, the transmitter and the phases are the truth's; only the readings are as they were shown. What the estimator
adds is measured elsewhere.
"""

import numpy as np
import pytest

from analyzer.engine.ideal.bracket import bracket_ideal, lowest_draws
from analyzer.engine.ideal.coarse import coarse_ideal_of, positions_at
from analyzer.engine.ideal.reference import reference_times
from analyzer.engine.measures import Ground, measure_searches
from analyzer.engine.verdict import account
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, simulate_drill, simulate_run
from analyzer.model.path import Draws, FusedPath, UsedReadings
from analyzer.model.phases import COARSE, FINE, PINPOINT, PhaseSpan
from analyzer.model.reference_solution import ReferenceSolution

RULES = default_rules()
SEEDS = range(500, 510)
PLANTED = (
    "wrong_way",
    "detour",
    "standing",
    "late_slow_down",
    "rushed_bracketing",
    "narrow_bracketing",
    "oblique_bracketing",
    "extra_lines",
    "off_lowest",
)


def exact(simulated):
    """Return the true path as a fused path of one draw, and the true phases as spans."""
    truth, readings = simulated.truth, simulated.recording.readings
    t = np.arange(0.0, truth.time_s[-1], 1.0)
    path = np.column_stack([np.interp(t, truth.time_s, truth.plane_m[:, j]) for j in (0, 1)])
    velocity = np.gradient(path, t, axis=0)
    ids = tuple(s.id for s in truth.sources)
    which = [ids.index(name) if name else 0 for name in readings.transmitter]
    used = UsedReadings(readings.time_s + truth.clock_offset_s, readings.reading_m, which, np.ones(len(which)))
    draws = Draws(
        path[None],
        velocity[None],
        np.array([[[s.x, s.y] for s in truth.sources]]),
        np.array([[s.axis for s in truth.sources]]),
        np.array([truth.reading_scale]),
        np.zeros(1),
    )
    fused = FusedPath(
        time_s=t,
        sigma_m=np.zeros(len(t)),
        height_m=np.interp(t, truth.time_s, truth.height_m),
        draws=draws,
        readings=used,
        transmitter_ids=ids,
        depth_m=np.array([s.depth_m for s in truth.sources]),
        transmitter_sigma_m=np.zeros(len(ids)),
        axis_source="given",
        antennas=3,
        survey_grade=True,
    )
    spans = tuple(
        PhaseSpan(
            p.phase,
            p.transmitter,
            p.start_s,
            p.end_s,
            0.0,
            0.0,
            np.array([p.start_s]),
            np.array([p.end_s]),
            hit_s=p.end_s if p.phase == PINPOINT else None,
        )
        for p in truth.phases
    )
    return fused, spans


def remarks(fault, seed):
    """Return the names of the remarks on one run, the dearest first."""
    drill = simulate_drill(DrillSettings(), seed=seed)
    simulated = simulate_run(drill, fault=fault, seed=seed)
    if fault is not None and not simulated.truth.faults:
        return None  # the occasion for this fault did not come
    fused, spans = exact(simulated)
    own = {s.phase: s for s in spans}
    name = spans[0].transmitter
    coarse = coarse_ideal_of(
        fused, transmitter=name, acquired_s=own[COARSE].start_draws_s, fine_radius_m=RULES.fine_radius_m
    )
    lowest = lowest_draws(fused, transmitter=name, fine_height_m=0.1)
    entry = positions_at(fused.time_s, fused.draws.path_m, own[FINE].start_draws_s)[0]
    bracket = bracket_ideal(entry, lowest[0], transmitter=name, arm_m=RULES.bracket_arm_m)
    times = reference_times(
        transmitter=name, rules=RULES, transmitter_m=fused.draws.transmitter_m[0, 0], coarse=coarse, bracket=bracket
    )
    solution = ReferenceSolution(name, coarse, bracket, times, lowest_draws_m=lowest)
    ground = Ground(SlopePlane(drill.drill.slope), drill.drill.strip_width_m, 0.1)
    searches = measure_searches(fused, spans, {name: solution}, RULES, ground=ground, marks=simulated.recording.marks)
    found = account(fused.time_s, fused.draws.path_m[0], spans, searches, RULES, duration_s=spans[-1].end_s).findings
    return [f.id.split(":")[0] for f in found]


def test_runs_without_fault_draw_at_most_one_remark_in_ten():
    assert sum(len(remarks(None, seed)) for seed in SEEDS) <= 1


@pytest.mark.parametrize("fault", PLANTED)
def test_the_fault_is_the_first_remark(fault):
    found = [r for r in (remarks(fault, seed) for seed in SEEDS) if r is not None]
    first = sum(r[:1] == [fault] for r in found)
    assert len(found) >= 7
    # Probing 0.7 m off along a flat axis changes the reading by less than a display shows: not every one can be seen.
    assert first >= (0.8 if fault == "off_lowest" else 0.9) * len(found)
