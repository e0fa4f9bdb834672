"""The examiner is examined first: its field against closed forms, its files against its own truth."""

from __future__ import annotations

import csv
import json
import math
import subprocess
import sys
import tomllib
import xml.etree.ElementTree as ET
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from analyzer.lab.examiner import field

ROOT = Path(__file__).resolve().parents[4]


@pytest.mark.parametrize(("radius", "stop"), [(20, 3), (30, 3), (40, 3), (40, 2)])
def test_ideal_line_has_the_closed_arc_length(radius, stop):
    # r = R sin^2 th; arc = R (F(u0) - F(u1)) with F of Chapman and Sugiura, J. Geophys. Res. 61 (1956) 485
    tx = field.Transmitter("a", 0.0, 0.0, 0.0, (1.0, 0.0, 0.0))
    u = math.sqrt(1 - stop / radius)
    arc = radius * (u * math.sqrt(1 + 3 * u * u) / 2 + math.asinh(math.sqrt(3) * u) / (2 * math.sqrt(3)))
    length, _ = field.ideal_line(
        tx,
        (0.0, float(radius)),
        0.0,
        lambda c, u: math.hypot(c, u) <= stop,
        lambda c, u: field.shown_distance(tx, (c, u, 0.0), 3, 0.0, 1.0),
    )
    assert length == pytest.approx(arc, abs=0.06)  # one step


@pytest.mark.parametrize(("x", "share"), [(0.25, 0.892707), (0.5, 0.659697), (1.0, 0.279508)])
def test_field_over_an_upright_antenna(x, share):
    # sqrt(4 + x^2) / (1 + x^2)^2 over its value at the centre
    tx = field.Transmitter("a", 0.0, 0.0, 1.0, (0.0, 0.0, 1.0))
    assert field.shown_distance(tx, (x, 0.0, 0.0), 3, 0.0, 1.0, 0.0) ** -3 / 2 == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize(("r", "axial", "equatorial"), [(10, 1.00458, 0.99544), (40, 1.07088, 0.93529)])
def test_radiation_factors(r, axial, equatorial):
    # |1 + jx| and |1 + jx - x^2| with x = r / 104.4058 m
    tx = field.Transmitter("a", 0.0, 0.0, 0.0, (1.0, 0.0, 0.0))
    for at, factor in (((r, 0.0, 0.0), axial), ((0.0, r, 0.0), equatorial)):
        full, static = (field.shown_distance(tx, at, 3, 0.0, 1.0, k) ** -3 for k in (field.WAVE_NUMBER, 0.0))
        assert full / static == pytest.approx(factor, abs=1e-5)


def test_degrees_at_46_north():
    # Meridian and parallel: 111151.3185 and 77463.2991 m per degree on the ellipsoid
    lat, lon, _ = field.geodetic(np.array([[77.4632991, 111.1513185, 0.0]]), 46.0, 7.0, 0.0)[0]
    assert (lat - 46.0, lon - 7.0) == pytest.approx((1e-3, 1e-3), abs=2e-8)


def make(out: Path, *options: str) -> list[Path]:
    """Run the command; the run folders."""
    command = [sys.executable, "-m", "analyzer.lab.examiner", str(out), *options]
    subprocess.run(command, check=True, cwd=ROOT)
    return sorted(out.glob("*/runs/*"))


def seconds(rows: list[str], zero: str) -> np.ndarray:
    start = datetime.fromisoformat(zero)
    return np.array([(datetime.fromisoformat(r) - start).total_seconds() for r in rows])


def test_survey_files_agree_with_their_truth(tmp_path):
    for run in make(tmp_path, "--kind", "survey", "--runs", "4", "--seed", "11", "--fault", "none"):
        truth = json.loads((run / "truth.json").read_text())
        drill = tomllib.loads((run.parents[1] / "drill.toml").read_text())
        assert drill["transmitter"][0]["depth_m"] == pytest.approx(truth["transmitters"][0]["depth_m"])
        with (run / "track.csv").open() as handle:
            track = list(csv.DictReader(handle))
        t = seconds([r["time"] for r in track], truth["time_zero"])
        east, north = (np.interp(t, truth["time_s"], truth[k]) for k in ("east_m", "north_m"))
        inside = (t >= 0) & (t <= truth["time_s"][-1])
        if "east_m" in track[0]:
            got = np.array([[float(r["east_m"]), float(r["north_m"])] for r in track])
        else:  # by the local radii of the ellipsoid at the origin's height
            o = drill["drill"]["origin"]
            e2, sin = field.WGS84_F * (2 - field.WGS84_F), math.sin(math.radians(o["latitude"]))
            n = field.WGS84_A / math.sqrt(1 - e2 * sin * sin)
            m = n * (1 - e2) / (1 - e2 * sin * sin)
            got = np.array(
                [
                    [
                        math.radians(float(r["longitude"]) - o["longitude"])
                        * (n + o["elevation_m"])
                        * math.cos(math.radians(o["latitude"])),
                        math.radians(float(r["latitude"]) - o["latitude"]) * (m + o["elevation_m"]),
                    ]
                    for r in track
                ]
            )
        error = (got - np.column_stack([east, north]))[inside]
        assert 0.012 < error.std() < 0.028
        phases = truth["phases"]
        assert all(a["end_s"] == b["start_s"] for a, b in pairwise(phases))


def test_readings_come_from_the_field_at_the_true_place(tmp_path):
    options = ("--runs", "4", "--seed", "5", "--cadence", "pulse", "--slope", "0", "--fault", "none")
    for run in make(tmp_path, *options):
        truth = json.loads((run / "truth.json").read_text())
        t0 = truth["transmitters"][0]
        axis = field.Slope(0.0, 180.0).axis_vector(t0["axis_bearing_deg"], t0["axis_tilt_deg"])
        tx = field.Transmitter("1", t0["east_m"], t0["north_m"], t0["depth_m"], axis)
        with (run / "readings.csv").open() as handle:
            rows = list(csv.DictReader(handle))
        if "time" in rows[0]:
            t = seconds([r["time"] for r in rows], truth["time_zero"])
        else:
            parts = [r["elapsed"].split(":") for r in rows]
            t = np.array([float(p[-1]) + 60 * float(p[0]) * (len(p) == 2) for p in parts])
        t = t + truth["clock_offset_s"]
        place = [np.interp(t, truth["time_s"], truth[k]) for k in ("east_m", "north_m", "height_m")]
        shown = np.array([float(r["reading_m"]) for r in rows])
        clean = np.array(
            [field.shown_distance(tx, p, 3, 0.0, truth["reading_scale"]) for p in zip(*place, strict=True)]
        )
        use = (t > truth["searches"][0]["coarse_start_s"]) & (t < truth["searches"][0]["settled_s"]) & (clean < 15)
        assert use.sum() > 20
        relative = (shown - clean)[use] / clean[use]
        assert abs(np.median(relative)) < 0.03
        assert np.sqrt(np.median(relative**2)) < 0.08  # noise, rounding to 0.1 m or 1 m, and half a second


def test_same_seed_same_files(tmp_path):
    options = ("--runs", "2", "--seed", "3", "--kind", "rough")
    first, second = (make(tmp_path / n, *options) for n in ("a", "b"))
    for a, b in zip(first, second, strict=True):
        assert [f.read_bytes() for f in sorted(a.iterdir())] == [f.read_bytes() for f in sorted(b.iterdir())]
    root = ET.fromstring((first[0] / "track.gpx").read_text())
    assert len(root.findall(".//{*}trkpt")) > 30
