"""What the guide to recording says that each piece of evidence lets be told, held against the sample day (invented)."""

import shutil
from pathlib import Path

import pytest

from analyzer.api import analyze
from analyzer.files.names import MARKS_FILE, READINGS_FILE
from analyzer.model.figure import Figure
from dashboard.view_models.recording_guide import RUNGS
from tests.support.recording import PAGE, page

SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
DROPPED = ((READINGS_FILE, MARKS_FILE), (READINGS_FILE,), ())
"""What is taken away from the sample runs, in the order of the rungs."""


@pytest.fixture(scope="module")
def shares(tmp_path_factory):
    """Rung number -> measure -> share of the sample runs in which it is assessed with the evidence up to that rung."""
    found = []
    for number, dropped in enumerate(DROPPED):
        drill = tmp_path_factory.mktemp(f"rung-{number}") / SAMPLE.name
        shutil.copytree(SAMPLE, drill)
        for path in [p for name in dropped for p in drill.glob(f"runs/*/{name}")]:
            path.unlink()
        searches = [s for result in analyze(drill) for s in result.searches]
        names = [name for rung in RUNGS for name in rung.opens]
        told = {n: [isinstance(s.figure(*n.split(".", 1)), Figure) for s in searches] for n in names}
        found.append({name: sum(seen) / len(seen) for name, seen in told.items()})
    return found


@pytest.mark.parametrize("number", range(len(RUNGS)))
def test_what_a_piece_opens_is_told_with_it_and_not_without(shares, number):
    for name in RUNGS[number].opens:
        assert shares[number][name] >= 0.8, name
        if number:
            assert shares[number - 1][name] <= 0.2, name


def test_the_document_is_the_page():
    assert PAGE.read_text(encoding="utf-8") == page()
