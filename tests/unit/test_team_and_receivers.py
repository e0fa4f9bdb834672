"""Several searchers of one burial at once, and receivers after a range check: read, written, and what they change."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.engine.fusion.prepare import scale_prior
from analyzer.engine.fusion.problem import SCALE_PRIOR
from analyzer.engine.pipeline import analyze_drill, ended_with_own_hit, with_receiver
from analyzer.engine.verdict.rescore import rescore
from analyzer.errors import FileError, InputError
from analyzer.files.drill_toml import parse_drill_toml
from analyzer.files.folder import parse_run
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.rules_toml import default_rules
from analyzer.files.writers import write_drill_toml
from analyzer.lab.simulate import DrillSettings, RunSettings, simulate_drill, simulate_run
from analyzer.model.drill import Receiver
from analyzer.model.figure import Figure, NotAssessable
from dashboard.components.measure_table import measure_table

HEAD = '[drill]\nname = "Bowl"\norigin = {latitude = 46, longitude = 7}\n'
BURIED = '[[transmitter]]\nid = "A"\neast_m = 20\nnorth_m = 0\ndepth_m = 1\n'
CHECKED = '[[receiver]]\nname = "club 3"\nscale = 1.1\nscale_sigma = 0.03\nstrip_width_m = 32\n'
RULES = default_rules()


def test_the_keys_are_read_and_written():
    drill = parse_drill_toml(f"{HEAD}team = true\n{BURIED}{CHECKED}".encode())
    assert drill.team is True
    assert drill.receivers == (Receiver("club 3", 1.1, 0.03, 32.0),)
    back = parse_drill_toml(write_drill_toml(drill))
    assert (back.team, back.receivers) == (drill.team, drill.receivers)
    assert parse_drill_toml(f"{HEAD}{BURIED}".encode()).receivers == ()


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (f'{HEAD}team = "yes"\n{BURIED}', "drill.toml, [drill], team: 'yes' is neither true nor false"),
        (HEAD + BURIED + CHECKED.replace("scale_sigma = 0.03\n", ""), "scale_sigma is missing; a scale needs how sure"),
        (HEAD + BURIED + CHECKED.replace("scale = 1.1\n", ""), "scale is missing"),
        (HEAD + BURIED + CHECKED.replace("1.1", "3"), "[[receiver]] 1, scale: 3 is out of range"),
        (HEAD + BURIED + CHECKED.replace("0.03", "0"), "scale_sigma: 0 is out of range"),
        (HEAD + BURIED + CHECKED.replace("club 3", " "), "the name is empty"),
        (HEAD + BURIED + CHECKED + CHECKED, "two receivers have the name 'club 3'"),
        (HEAD + BURIED + '[[receiver]]\nname = "x"\n', "nothing is said of the receiver"),
        (HEAD + BURIED + CHECKED.replace("scale =", "skale ="), "did you mean 'scale'"),
    ],
)
def test_what_is_wrong_with_them_is_told(text, what):
    with pytest.raises(FileError) as caught:
        parse_drill_toml(text.encode())
    assert what in str(caught.value)


def test_a_run_names_a_receiver_of_the_drill():
    drill = parse_drill_toml(f"{HEAD}{BURIED}{CHECKED}".encode())
    rows = "".join(f"2026-01-17T09:30:{i:02d}Z,{i},0\n" for i in range(20))
    track = {"track.csv": f"time,east_m,north_m\n{rows}".encode()}
    run = parse_run("r", track | {"run.toml": b'receiver = "club 3"'}, drill)
    assert run.info.receiver == "club 3"
    with pytest.raises(InputError, match=r"run.toml, receiver: the receiver 'club 4' .* did you mean 'club 3'"):
        parse_run("r", track | {"run.toml": b'receiver = "club 4"'}, drill)
    with pytest.raises(InputError, match=r"'club 3' is not in drill.toml; add it to drill.toml as \[\[receiver\]\]"):
        parse_run("r", track | {"run.toml": b'receiver = "club 3"'}, replace(drill, receivers=()))


def test_scale_and_strip_width_come_from_the_receiver_where_it_has_them():
    drill = parse_drill_toml(f"{HEAD}{BURIED}{CHECKED}".encode())
    mean, sigma = scale_prior(drill.receivers[0])
    assert (mean, sigma) == (pytest.approx(np.log(1.1)), pytest.approx(0.03 / 1.1))
    assert scale_prior(Receiver("x", strip_width_m=30.0)) == SCALE_PRIOR
    assert scale_prior(None) == SCALE_PRIOR
    assert with_receiver(drill, "club 3").strip_width_m == 32.0
    assert with_receiver(drill, "") is drill


@pytest.fixture(scope="module")
def simulated():
    made = simulate_drill(DrillSettings(transmitters=2), seed=990_412)
    return made.drill, simulate_run(made, RunSettings(), seed=990_412).recording


def measured(drill, recording):
    (result,) = analyze_drill(drill, [recording], RULES, draws=8)
    return result


def test_the_fit_rests_on_the_receivers_scale(simulated):
    """A range check surer than any log holds the scale where it says."""
    drill, recording = simulated
    for scale in (0.9, 1.2):
        checked = replace(drill, receivers=(Receiver("own", scale, 1e-4),))
        result = measured(checked, replace(recording, info=replace(recording.info, receiver="own")))
        assert result.evidence.reading_scale.value == pytest.approx(scale, abs=0.005)


def test_the_signal_search_is_measured_with_the_receivers_strip_width(simulated):
    """A receiver that hears half as far has seen less of the area, and the reference searcher walks longer strips."""
    drill, recording = simulated
    wide = dict(measured(drill, recording).searches[0].signal)
    checked = replace(drill, receivers=(Receiver("own", strip_width_m=0.6 * drill.strip_width_m),))
    own = replace(recording, info=replace(recording.info, receiver="own"))
    narrow = dict(measured(checked, own).searches[0].signal)
    assert narrow["covered_fraction"].value < 0.7 * wide["covered_fraction"].value
    assert narrow["duration_reference_s"].value > wide["duration_reference_s"].value
    assert dict(measured(checked, recording).searches[0].signal) == wide  # the run does not name it


@pytest.fixture(scope="module")
def shared_out(simulated):
    """Return a run that hit one of two transmitters and did not hear the other, alone and as one of a team."""
    drill, recording = simulated
    hits = sorted((m for m in recording.marks if m.mark == "probe_hit"), key=lambda m: m.time_s)
    own, other = hits[0].transmitter, hits[1].transmitter
    marks = tuple(m for m in recording.marks if m.transmitter != other and m.mark != "finish")
    r = recording.readings
    kept = np.array([name != other for name in r.transmitter]) & (r.time_s < hits[0].time_s + 5.0)
    readings = replace(
        r,
        time_s=r.time_s[kept], reading_m=r.reading_m[kept], steer_deg=r.steer_deg[kept],
        heading_deg=r.heading_deg[kept], transmitter=(own,) * int(kept.sum()),
    )  # fmt: skip
    run = replace(recording, marks=marks, readings=readings)
    return other, hits[0].time_s, measured(drill, run), measured(replace(drill, team=True), run)


def test_nothing_is_said_of_what_others_of_a_team_found(shared_out):
    other, hit_s, alone, team = shared_out
    assert other in {s.transmitter for s in alone.searches}
    assert other not in {s.transmitter for s in team.searches}
    assert [s.found for s in team.searches] == [True]
    assert "missed" not in {loss.cause for loss in team.scores.losses}
    assert team.duration_s == pytest.approx(hit_s)  # alone, the rest of the track is searching
    assert alone.duration_s > hit_s + 5.0
    for row in team.account:
        assert row.cause != "missed_strip"
    assert all(isinstance(dict(s.signal)["luck_s"], NotAssessable) for s in team.searches)
    assert parse_result(result_bytes(team)).team is True
    assert b'"team"' not in result_bytes(alone)


def test_what_a_team_found_stays_unsaid_under_another_sheet(shared_out):
    _, _, _, team = shared_out
    dear = rescore(team, replace(RULES, missed_s=5000.0))
    overall = dict(team.scores.by_phase)["overall"]
    assert isinstance(overall, Figure)
    assert dict(dear.by_phase)["overall"] == overall
    unfound = replace(team, searches=tuple(replace(s, found=False) for s in team.searches))
    assert dict(rescore(unfound, RULES).by_phase)["overall"] == overall
    assert dict(rescore(replace(unfound, team=False), RULES).by_phase)["overall"].value < overall.value


def test_the_page_does_not_say_of_one_of_a_team_that_they_missed_it(shared_out):
    search = replace(shared_out[2].searches[0], found=False)
    assert "not found" in str(measure_table(search))
    assert "not found" not in str(measure_table(search, team=True))


def test_a_finish_mark_still_ends_the_run_of_one_of_a_team(simulated):
    _, recording = simulated
    assert [m.mark for m in ended_with_own_hit(replace(recording, marks=())).marks] == []
    both = ended_with_own_hit(recording)
    assert sum(m.mark == "finish" for m in both.marks) == 1
