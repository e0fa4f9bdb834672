"""The sample day read aloud: what is said of each run beside what its simulator planted (`truth.json`)."""

import json
from pathlib import Path

import pytest

from analyzer.api import analyze

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
NOT_SAID = {
    ("bera-1", "detour"),  # 8 m that cost 2.4 s: under what is worth a remark
    ("ilvo-2", "narrow_bracketing"),  # possible, not certain enough
    ("sunna-1", "missed_strip"),  # on a track alone the first signal is not known
}
"""The planted faults that need not be said; each that is not here must be."""


def planted(path):
    return {fault["name"] for fault in json.loads((path / "truth.json").read_bytes())["faults"]}


@pytest.mark.parametrize("drill", ["lower_bowl", "long_gully"])
def test_what_is_said_is_true_and_what_was_planted_is_said(drill):
    folder, missed = SAMPLES / drill, set()
    for result in analyze(folder):
        true = planted(folder / "runs" / result.run_id)
        said = {finding.id.split(":")[0] for finding in result.findings}
        assert said <= true, f"{result.run_id}: said {said}, planted {true}"
        missed |= {(result.run_id, name) for name in true - said}
    assert missed <= NOT_SAID
