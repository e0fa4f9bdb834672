"""A short part of `python -m tests.attacks.disk`: some steps of each act, drawn by a seed."""

import os
import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.attacks import disk
from tests.attacks.workspace_acts import ACTS

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system starts processes in another way")
PART = 0.06
"""Of the steps of writing; the command tries all of them."""
MORE_THAN_THERE_ARE = 500


def test_a_disk_that_refuses_is_told_and_nothing_is_lost(tmp_path, monkeypatch):
    rng = random.Random(11)
    monkeypatch.setattr(disk, "ERRORS", {"ENOSPC": disk.ERRORS["ENOSPC"]})
    counts, faults = disk.attack(list(ACTS), tmp_path, lambda _: rng.random() < PART)
    assert faults == []
    assert sum(counts.values()) > 3


def test_nobody_is_scored_as_not_measured_for_a_full_disk(tmp_path, monkeypatch):
    """The event was scored without the runs whose results found no room, and stayed so when there was room again."""
    monkeypatch.setattr(disk, "ERRORS", {"ENOSPC": disk.ERRORS["ENOSPC"]})
    counts, faults = disk.attack(["score"], tmp_path, lambda number: number == 1 or number > MORE_THAN_THERE_ARE)
    assert faults == []
    assert counts == {"score, ENOSPC": 1}
