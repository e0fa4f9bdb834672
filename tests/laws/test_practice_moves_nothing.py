"""Marks of probing, marking and digging move nothing but the splits; and what is read off them is true."""

import dataclasses
import json
import shutil
from pathlib import Path

import pytest

from analyzer.api import analyze
from analyzer.files.results.result_json import result_bytes
from analyzer.model.figure import Figure
from analyzer.model.practice import all_hit_s, asides_of, strikes_of
from analyzer.model.recording import SPLIT_MARKS

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
RUNS = {"long_gully": ("mara-3",), "lower_bowl": ("keno-1", "mara-2")}
LATEST_S = 0.7
"""How late a mark of the sample day is set, at most."""
FILES = ("inputs", "shared", "splits", "drill_key")
"""What tells of the files themselves."""


def copied(folder, drill, runs, *, stripped):
    """Return a copy of a drill with some of its runs, without the marks of this kind where `stripped`."""
    place = folder / ("without" if stripped else "with") / drill
    place.mkdir(parents=True)
    shutil.copy(SAMPLES / drill / "drill.toml", place)
    for run in runs:
        shutil.copytree(SAMPLES / drill / "runs" / run, place / "runs" / run)
        marks = place / "runs" / run / "marks.csv"
        lines = marks.read_text().splitlines(keepends=True)
        kept = [line for line in lines if line.split(",")[1] not in SPLIT_MARKS]
        assert len(kept) < len(lines)
        if stripped:
            marks.write_text("".join(kept))
    return place


@pytest.fixture(scope="module", params=sorted(RUNS))
def both(request, tmp_path_factory):
    folder, drill = tmp_path_factory.mktemp("practice"), request.param
    return tuple(tuple(analyze(copied(folder, drill, RUNS[drill], stripped=stripped))) for stripped in (False, True))


def test_a_result_with_these_marks_is_that_without_them(both):
    for with_marks, without in zip(*both, strict=True):
        assert with_marks.splits
        assert without.splits == ()
        same = {name: getattr(without, name) for name in FILES}
        assert result_bytes(dataclasses.replace(with_marks, **same)) == result_bytes(without)
        assert with_marks.duration_s == all_hit_s(with_marks)  # digging does not make the run longer


def test_what_is_read_off_the_marks_is_the_truth(both):
    for result in both[0]:
        (path,) = SAMPLES.glob(f"*/runs/{result.run_id}/truth.json")
        truth = json.loads(path.read_bytes())
        hits = {search["transmitter"]: search["probe_hit_s"] for search in truth["searches"]}
        strikes = {strike.transmitter: strike for strike in strikes_of(result)}
        assert list(strikes) == [one["transmitter"] for one in truth["practice"]]
        for one in truth["practice"]:
            strike, hit_s = strikes[one["transmitter"]], hits[one["transmitter"]]
            assert strike.probings.value == len(one["probings_s"])
            each_s = (hit_s - one["probings_s"][0]) / len(one["probings_s"])
            assert strike.per_probe_s.value == pytest.approx(each_s, abs=2 * LATEST_S / len(one["probings_s"]))
            for key, measured in (
                ("marking_end_s", strike.marking_s),
                ("dig_begin_s", strike.dig_s),
                ("airway_free_s", strike.airway_s),
            ):
                assert isinstance(measured, Figure) is (one[key] is not None)
                if one[key] is not None:
                    assert measured.value == pytest.approx(one[key] - hit_s, abs=2 * LATEST_S)
        assert asides_of(result) == ()
