"""A short part of `python -m tests.attacks.kills`, and kills at moments that once did harm."""

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analyzer.events import store
from tests.attacks import kills
from tests.attacks.children import done
from tests.attacks.workspace_acts import World, differing, half_written, score, told

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system starts processes in another way")
KILLS = 10


def test_killed_at_random_nothing_is_lost_or_half_written(tmp_path):
    counts, faults = kills.attack(KILLS, 5, tmp_path)
    assert faults == []
    assert sum(counts.values()) == KILLS
    assert any(what.endswith("at work") for what in counts)


@pytest.mark.parametrize("moment", ["write_atomic", "append_log"])
@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
def test_killed_between_a_scoring_and_its_line_in_the_log(moment, after, tmp_path, monkeypatch):
    """scored.json was there and no line of the log told of it, for ever: `verify` found the two to differ."""
    world, output, really = World(tmp_path), tmp_path / "output", getattr(store, moment)
    assert kills.undisturbed(world, "score", output) == []
    club = world.fresh()

    def die(*values, **named):
        if after:
            really(*values, **named)
        os._exit(9)

    monkeypatch.setattr(store, moment, die)
    code, _ = done(lambda: told(score, club), output)
    monkeypatch.undo()
    assert code == 9
    assert half_written(club) == []
    assert done(lambda: told(score, club), output)[0] == 0
    assert differing(club, world.after["score"]) == []
