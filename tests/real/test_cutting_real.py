"""Real recordings are not cut into nonsense: walks and rides are one run, but for stops of ten minutes and more."""

import os
from pathlib import Path

import numpy as np
import pytest

from analyzer.engine.cutting.proposals import LONG_GAP_S, propose
from analyzer.errors import InputError
from analyzer.files.tracks.fixes import METRES_PER_DEGREE, Fixes
from analyzer.files.tracks.formats import read_track, track_endings
from analyzer.files.tracks.track import timed

ROOT = Path(__file__).parents[2]
DATA = ROOT / os.environ.get("SEARCHWAKE_REALDATA", "../shared/realdata")


def recordings() -> list[Path]:
    return [p for p in sorted(DATA.rglob("*")) if p.suffix.lower() in track_endings()] if DATA.is_dir() else []


def read(path: Path) -> Fixes | None:
    try:
        return timed(read_track(path.read_bytes(), name=f"track{path.suffix.lower()}"))[0]
    except InputError:
        return None


@pytest.mark.skipif(not DATA.is_dir(), reason=f"no real recordings at {DATA}")
def test_real_recordings_are_cut_at_long_stops_alone() -> None:
    found = {path: fixes for path in recordings() if (fixes := read(path)) is not None}
    assert len(found) > 15
    for path, fixes in found.items():
        east, north = fixes.first, fixes.second
        if fixes.geographic:
            north = (fixes.first - fixes.first[0]) * METRES_PER_DEGREE
            east = (fixes.second - fixes.second[0]) * METRES_PER_DEGREE * np.cos(np.radians(fixes.first[0]))
        pieces = propose(fixes.time_s, east, north)
        stops = int(np.sum(np.diff(fixes.time_s) > LONG_GAP_S))
        assert len(pieces) <= 1 + stops, path.name
        assert all(fixes.time_s[0] <= p.from_s < p.to_s <= fixes.time_s[-1] for p in pieces), path.name
