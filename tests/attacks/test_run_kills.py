"""A change of a run that is killed before each of its steps on the disk: nothing is lost, and it can be taken back."""

import os
import shutil
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analyzer.files.rules_toml import default_rules
from analyzer.workspace.batch import Batch, analyze_drills
from analyzer.workspace.runs import bin as bin_module
from analyzer.workspace.runs import changes
from analyzer.workspace.runs.at_hand import run_at_hand, run_names
from analyzer.workspace.runs.bin import binned
from analyzer.workspace.runs.restore import restore
from tests.attacks.children import done
from tests.support.small_drill import DRILL, TRACK

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system starts processes in another way")
STEPS = 14
OLD = {
    "track.csv": TRACK.encode(),
    "run.toml": b'searcher = "Mara" # first\n',
    "readings.csv": b"elapsed,reading_m\n1,9\n2,8\n",
}
NEW = {"readings.csv": b"elapsed,reading_m\n1,9\n2,7\n", "run.toml": b'searcher = "Ilo"\n'}


def edit(club):
    sha256 = run_at_hand(club, "bowl", "mara-1").sha256
    changes.edit_run(club, club / "results", "bowl", "mara-1", {"searcher": "Ilo"}, sha256=sha256, what="x")


ACTS = {
    "edit": edit,
    "files": lambda club: changes.put_evidence(club, club / "results", "bowl", "mara-1", NEW),
    "move": lambda club: changes.move_run(club, club / "results", "bowl", "mara-1", "gully"),
    "delete": lambda club: changes.delete_run(club, club / "results", "bowl", "mara-1"),
    "restore": lambda club: restore(club, club / "results", binned(club)[0].entry),
}


def club_in(place, act):
    for name in ("bowl", "gully"):
        (place / "drills" / name).mkdir(parents=True)
        (place / "drills" / name / "drill.toml").write_text(DRILL)
    folder = place / "drills/bowl/runs/mara-1"
    folder.mkdir(parents=True)
    for name, data in OLD.items():
        (folder / name).write_bytes(data)
    analyze_drills([place / "drills/bowl"], Batch(place / "results", default_rules(), draws=4))
    if act == "restore":
        changes.delete_run(place, place / "results", "bowl", "mara-1")
    return place


def dying(act, club, step):
    """Do an act whose process ends before its `step`-th touch of the disk; return nothing where it has fewer."""
    touched = 0

    def before(really):
        def call(*values, **named):
            nonlocal touched
            if touched == step:
                os._exit(9)
            touched += 1
            return really(*values, **named)

        return call

    for holder, names in (
        (changes, ("write_new", "write_atomic")),
        (bin_module, ("write_new", "write_atomic")),
        (shutil, ("copyfile",)),
        (Path, ("rename", "replace", "unlink")),
    ):
        for name in names:
            setattr(holder, name, before(getattr(holder, name)))
    ACTS[act](club)
    return 0


@pytest.mark.parametrize("act", ACTS)
def test_killed_before_any_step_nothing_is_lost(act, tmp_path):
    codes = []
    for step in range(STEPS):
        club = club_in(tmp_path / f"{step}", act)
        code, _ = done(lambda club=club, step=step: dying(act, club, step), tmp_path / "output")
        codes.append(code)
        kept = {path.read_bytes() for path in club.rglob("*") if path.is_file()}
        assert set(OLD.values()) <= kept, step
        assert all((folder / "note.json").is_file() for folder in (club / "bin").glob("*") if any(folder.rglob("*.*")))
        if not run_names(club, "bowl"):
            restore(club, club / "results", binned(club)[0].entry)
        rows, failures = analyze_drills([club / "drills/bowl"], Batch(club / "results", default_rules(), draws=4))
        assert ([row["run"] for row in rows], failures) == (["mara-1"], [])
    assert codes.count(9) >= 3
    assert codes[-1] == 0
