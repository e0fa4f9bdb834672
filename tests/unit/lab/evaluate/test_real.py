"""Walks beside a reference: invented tables whose answer is known in closed form, and the real table where it is."""

import os
from pathlib import Path

import numpy as np
import pytest

from analyzer.geometry.slope_plane import LocalFrame
from analyzer.lab.evaluate.real import FIX_COLUMNS, against, compare, real_section, walks_of
from analyzer.model.drill import Origin

TABLE = Path(os.environ.get("SEARCHWAKE_REALDATA", "../shared/realdata")) / "truth" / "ucalgary_tdcp_uwb_all_data.csv"
COLUMNS = (
    "test_run",
    "timestamp",
    *(
        name.format(word)
        for name in (FIX_COLUMNS["single_epoch"], "rtk_reference_{}_degrees_uut1")
        for word in ("lat", "lon")
    ),
)


def table_of(fixes_m, reference_m, missing=()):
    """A table of one walk at 1 Hz from 10.00.00; rows in `missing` have no fix."""
    frame = LocalFrame(Origin(51.0, -114.0, 1110.0))
    seen, true = (frame.to_degrees(*np.asarray(m, float).T) for m in (fixes_m, reference_m))
    lines = [",".join(COLUMNS)]
    for i, (s, t) in enumerate(zip(seen, true, strict=True)):
        s = (0.0, 0.0) if i in missing else s
        lines.append(f"1,10.{i // 60:02d}.{i % 60:02d}," + ",".join(f"{v:.12f}" for v in (*s, *t)))
    return "\n".join(lines) + "\n"


def straight(n=90, pace=1.0):
    return np.column_stack([pace * np.arange(n), np.zeros(n)])


def test_missing_fixes_are_left_out_and_places_are_metres_from_the_first():
    (walk,) = walks_of(table_of(straight(), straight(), missing=(3, 4)), "single_epoch")
    assert len(walk.fixes) == 88
    assert len(walk.reference) == 90
    assert walk.reference[-1, 1:] == pytest.approx([89.0, 0.0], abs=1e-3)
    assert walk.fixes[0, 0] == 36_000.0


def test_a_constant_offset_is_taken_out():
    (walk,) = walks_of(table_of(np.add(straight(), (3.0, -2.0)), straight()), "single_epoch")
    found = against(walk, walk.reference)
    assert found.raw_rms_m == pytest.approx(0.0, abs=1e-3)
    assert found.fused_rms_m == pytest.approx(0.0, abs=1e-9)
    assert found.fused_m == pytest.approx(89.0, abs=1e-3)


def test_zigzag_fixes_are_longer_by_pythagoras_and_off_by_their_swing():
    swing = np.column_stack([np.zeros(90), np.tile([0.75, -0.75], 45)])
    (walk,) = walks_of(table_of(straight(pace=2.0) + swing, straight(pace=2.0)), "single_epoch")
    found = against(walk, walk.fixes)
    assert found.raw_rms_m == found.fused_rms_m == pytest.approx(0.75, abs=1e-3)
    assert found.raw_m / found.reference_m == pytest.approx(np.hypot(2.0, 1.5) / 2.0, rel=1e-3)


def test_long_gaps_are_left_out_of_both_lengths():
    (walk,) = walks_of(table_of(straight(), straight(), missing=range(20, 40)), "single_epoch")
    found = against(walk, walk.reference)
    assert found.reference_m == found.fused_m == pytest.approx(89.0 - 21.0, abs=1e-3)


def test_section_judges_the_walks_together_and_each_length():
    (walk,) = walks_of(table_of(np.add(straight(), (3.0, -2.0)), straight()), "single_epoch")
    stretched = walk.reference * (1.0, 1.2, 1.0)
    noisy = walk.fixes + np.random.default_rng(1).normal(0.0, 9.0, walk.fixes.shape) * (0.0, 1.0, 1.0)
    worse = against(walk.__class__(walk.name, walk.kind, walk.drill, noisy, walk.reference), stretched)
    smoothed = against(walk.__class__("2", "carrier_smoothed", walk.drill, noisy, walk.reference), walk.reference)
    rows = {r.figure: r for r in real_section([worse, smoothed]).rows}
    assert rows["single epoch, all walks"].cells[1].met is False
    assert rows["carrier smoothed, all walks"].cells[1].met is True
    assert rows["carrier smoothed, all walks"].cells[0].met is True
    assert rows["single epoch, walk 1"].cells[0].met is None


def test_without_recordings_the_section_says_so():
    assert real_section([]).rows[0].figure == "no recordings at hand"


@pytest.mark.skipif(not TABLE.is_file(), reason="needs the real recordings")
@pytest.mark.parametrize("kind", list(FIX_COLUMNS))
def test_real_walks_go_through_the_engine(kind, rules):
    walks = walks_of(TABLE.read_text(), kind)
    assert len(walks) == 4
    found = compare(walks[2], rules)
    assert found.error == ""
    assert 230.0 < found.reference_m < 290.0  # described: about 265 m for each walk of this phone
    assert 0.0 < found.fused_rms_m < 3.0
    assert found.fused_m > 0.8 * found.reference_m
