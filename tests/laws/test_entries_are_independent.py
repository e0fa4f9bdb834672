"""In an event each entry is fitted alone against the drill as laid: a standing changes only by what concerns it."""

import itertools
import shutil
from pathlib import Path

import pytest

from analyzer.events.files.folder import read_event_folder
from analyzer.events.store import computed

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
RUNS = {"1": "runa-1", "2": "ilvo-2", "3": "bera-1"}
EVENT = """[event]
name = "Invented cup"
rules = "fastest"
[[class]]
id = "open"
[[field]]
drill = "lower_bowl"
"""


def outcome(root, bibs):
    """Return the bytes of the results and the scores of an event that only these entries came to."""
    drill, event = root / "drills" / "lower_bowl", root / "events" / "cup"
    event.mkdir(parents=True)
    text = EVENT
    for bib, run in RUNS.items():
        text += f'[[entry]]\nbib = {bib}\nname = "Entry {bib}"\nclass = "open"\n'
        if bib in bibs:
            text += f'runs = {{lower_bowl = "{run}"}}\n'
            shutil.copytree(SAMPLES / "runs" / run, drill / "runs" / run)
            toml = drill / "runs" / run / "run.toml"
            toml.write_text("".join(f"{t}\n" for t in toml.read_text().splitlines() if not t.startswith("bib")))
    shutil.copy(SAMPLES / "drill.toml", drill)
    (event / "event.toml").write_text(text)
    scored = computed(read_event_folder(event), root / "out", lost={})
    results = {path.stem: path.read_bytes() for path in (root / "out").glob("*/*.json")}
    return results, {(t.scope, p.score.bib): p.score for t in scored.standings if not t.class_id for p in t.places}


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Return what came of all of them."""
    results, scores = outcome(tmp_path_factory.mktemp("whole"), tuple(RUNS))
    assert all(scores["overall", bib].seconds is not None for bib in RUNS)
    return results, scores


@pytest.mark.parametrize("left", [*itertools.combinations(RUNS, 1), *itertools.combinations(RUNS, 2)])
def test_leaving_out_any_subset_moves_nobody_else(whole, tmp_path, left):
    stay = [bib for bib in RUNS if bib not in left]
    results, scores = outcome(tmp_path, stay)
    assert results == {RUNS[bib]: whole[0][RUNS[bib]] for bib in stay}
    for scope, bib in itertools.product(("lower_bowl", "overall"), stay):
        assert scores[scope, bib] == whole[1][scope, bib]
