"""Less evidence never says more: recordings cut, logs cut, files that do not belong together, on simulated runs without
a fault or with one that is planted elsewhere."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.engine.evidence import NOT_TOGETHER
from analyzer.engine.pipeline import analyze_drill
from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate import simulate_drill, simulate_run
from analyzer.model.figure import NotAssessable
from analyzer.model.recording import Mark
from analyzer.model.result import RunResult

RULES = default_rules()
SEEDS = range(992100, 992106)


def made(seed, fault=None):
    """Return drill, recording and true phases of a simulated run."""
    drill = simulate_drill(seed=seed)
    run = simulate_run(drill, fault=fault, seed=seed)
    return drill.drill, run.recording, {p.phase: p for p in run.truth.phases}


def measured(drill, recording):
    found = analyze_drill(drill, [recording], RULES)[0]
    assert isinstance(found, RunResult), found
    return found


def cut(values, keep):
    """Return a table with the rows `keep` (m,) of every column."""
    columns = {name: getattr(values, name) for name in type(values).__dataclass_fields__}
    rows = {
        n: (v[keep] if isinstance(v, np.ndarray) else tuple(x for x, k in zip(v, keep, strict=True) if k))
        for n, v in columns.items()
        if isinstance(v, (np.ndarray, tuple)) and len(v) == len(keep)
    }
    return replace(values, **rows)


def with_log(recording, keep):
    return replace(recording, readings=cut(recording.readings, keep))


def ids(result):
    return {f.id.split(":")[0] for f in result.findings}


@pytest.mark.parametrize("seed", SEEDS)
def test_of_lines_that_the_recording_cuts_off_nobody_knows_the_rest(seed):
    drill, recording, true = made(seed)
    end_s = 0.5 * (true["fine_search"].start_s + true["fine_search"].end_s)
    shorter = replace(recording, track=cut(recording.track, recording.track.time_s <= end_s), marks=())
    found = measured(drill, with_log(shorter, recording.readings.time_s <= end_s))
    assert not ids(found) & {"narrow_bracketing", "oblique_bracketing", "extra_lines", "off_lowest"}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_log_that_ends_on_the_way_in_does_not_tell_when_the_searcher_settled(seed):
    drill, recording, true = made(seed)
    shown = recording.readings.reading_m
    first_near = int(np.argmax(shown <= 3.0))
    found = measured(drill, with_log(recording, np.arange(shown.size) <= first_near + 1))
    assert not ids(found) & {"rushed_bracketing", "long_probing", "narrow_bracketing", "off_lowest"}
    settled = next(p for p in found.phases if p.phase == "pinpoint")
    assert abs(settled.start_s - true["pinpoint"].start_s) < 3.0 * settled.start_sigma_s + 5.0


@pytest.mark.parametrize("seed", SEEDS)
def test_a_log_that_begins_near_is_not_the_first_signal(seed):
    drill, recording, _ = made(seed, "wrong_way")
    near = np.cumsum(recording.readings.reading_m <= 3.0) > 0
    found = measured(drill, with_log(recording, near))
    assert next(p for p in found.phases if p.phase == "coarse_search").start_sigma_s is None
    assert "covered_twice" not in ids(found)
    assert isinstance(dict(found.scores.by_phase)["overall"], NotAssessable)


def moved_off(drill, recording):
    """State the transmitter 50 m beside where it is."""
    (only,) = drill.transmitters
    return replace(drill, transmitters=(replace(only, east_m=only.east_m + 50.0),)), recording


def hit_early(drill, recording):
    """Mark the hit when the searcher was not near yet."""
    path = np.column_stack([recording.track.east_m, recording.track.north_m])
    at = np.array([drill.transmitters[0].east_m, drill.transmitters[0].north_m])
    far = recording.track.time_s[np.hypot(*(path - at).T) > 15.0]
    marks = tuple(replace(m, time_s=float(far[-1])) if m.mark == "probe_hit" else m for m in recording.marks)
    return drill, replace(recording, marks=marks)


@pytest.mark.parametrize("wrong", [moved_off, hit_early])
@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_said_where_the_files_do_not_fit_together(seed, wrong):
    drill, recording, _ = made(seed, "wrong_way")
    found = measured(*wrong(drill, recording))
    assert found.evidence.notes == (NOT_TOGETHER,)
    assert found.findings == found.possible == ()
    assert all(isinstance(figure, NotAssessable) for _, figure in found.scores.by_phase)
    assert sum(row.seconds.value for row in found.account) == pytest.approx(found.duration_s, abs=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_hit_after_the_end_of_the_track_is_a_hit_and_no_score(seed):
    """The hit decides that the transmitter was found; how it was, the recording does not show."""
    drill, recording, true = made(seed)
    end_s = true["coarse_search"].end_s - 2.0
    shorter = replace(recording, track=cut(recording.track, recording.track.time_s <= end_s))
    found = measured(drill, with_log(shorter, recording.readings.time_s <= end_s))
    assert all(search.found for search in found.searches)
    assert isinstance(dict(found.scores.by_phase)["overall"], NotAssessable)


@pytest.mark.parametrize("seed", SEEDS)
def test_who_is_held_by_a_mark_did_not_stand_still(seed):
    """The instructor stops the searcher half way in for a minute: nobody's time, and no finding."""
    drill = simulate_drill(seed=seed)
    run = simulate_run(drill, seed=seed)
    drill, recording, pause_s = drill.drill, run.recording, 60.0
    coarse = next(p for p in run.truth.phases if p.phase == "coarse_search")
    at_s = 0.5 * (coarse.start_s + coarse.end_s)
    logged_s = recording.readings.time_s + run.truth.clock_offset_s

    def later(time_s):
        return time_s + np.where(time_s > at_s, pause_s, 0.0)

    track = recording.track
    i = int(np.searchsorted(track.time_s, at_s))
    order = np.concatenate([np.arange(i), np.full(int(pause_s) - 1, i - 1), np.arange(i, track.time_s.size)])
    stayed = cut(track, np.ones(track.time_s.size, bool))
    columns = {
        n: getattr(stayed, n)[order]
        for n in type(stayed).__dataclass_fields__
        if isinstance(getattr(stayed, n), np.ndarray) and len(getattr(stayed, n)) == track.time_s.size
    }
    times = np.sort(np.concatenate([later(track.time_s), track.time_s[i - 1] + np.arange(1.0, pause_s)]))
    marks = [replace(m, time_s=float(later(np.array([m.time_s]))[0])) for m in recording.marks]
    marks += [Mark(at_s, "hold_begin"), Mark(at_s + pause_s - 1.0, "hold_end")]
    held = replace(
        recording,
        track=replace(stayed, **(columns | {"time_s": times})),
        readings=replace(recording.readings, time_s=recording.readings.time_s + later(logged_s) - logged_s),
        marks=tuple(sorted(marks, key=lambda m: m.time_s)),
    )
    found = measured(drill, held)
    assert not ids(found) & {"standing", "pace"}
    assert sum(r.seconds.value for r in found.account if r.cause == "not_recorded") == pytest.approx(pause_s, abs=6.0)
    assert sum(r.seconds.value for r in found.account if r.cause == "standing") < 3.0
