"""Walked length under position error: the raw track is too long as published, the fused path less so.

Ranacher, Brunauer, Trutschnig, Van der Spek, Reich, "Why GPS makes distances bigger than they are", Int. J. Geogr. Inf.
Sci. 30 (2016) 316-333. For a step d0, one-axis error s with correlation rho between its ends the measured step has a
Rice distribution with parameters d0 and s sqrt(2 (1 - rho)); its mean is the mean measured length.
"""

import builders
import numpy as np
import pytest
from scipy.special import ive

from analyzer.engine.fusion.fuse import FusionSettings, fuse_drill
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.noise_models import MarkovNoise, TwoPartNoise, WhiteNoise, errors_at

# d0 m, s m, rho, mean length m: Rice means, confirmed by simulation of two million samples.
TABLE = [
    (1.0, 1.0, 0.0, 1.987364533),
    (1.0, 1.0, 0.9, 1.107213270),
    (1.0, 1.0, 0.99, 1.010051604),
    (1.5, 3.0, 0.99, 1.561410044),
    (5.0, 1.0, 0.0, 5.204700145),
    (5.0, 1.0, 0.9, 5.020040492),
    (10.0, 3.0, 0.0, 10.957832827),
    (0.5, 3.0, 0.999, 0.518372697),
]


def rice_mean(d0, s, rho):
    """Return the mean of the Rice distribution: sigma sqrt(pi / 2) L_1/2(-d0^2 / 2 sigma^2)."""
    sigma2 = 2.0 * s * s * (1.0 - rho)
    half = d0 * d0 / (4.0 * sigma2)
    return float(np.sqrt(np.pi * sigma2 / 2.0) * ((1.0 + 2.0 * half) * ive(0, half) + 2.0 * half * ive(1, half)))


def noise_of(s, rho):
    """Return the simulator's noise with correlation `rho` between fixes one second apart."""
    return WhiteNoise(s) if rho == 0.0 else MarkovNoise(sigma_m=s, time_s=-1.0 / np.log(rho))


def length(points):
    return float(np.sum(np.linalg.norm(np.diff(points, axis=0), axis=1)))


@pytest.mark.parametrize(("d0", "s", "rho", "mean"), TABLE)
def test_published_means_are_rice_means(d0, s, rho, mean):
    assert rice_mean(d0, s, rho) == pytest.approx(mean, abs=1e-8)


@pytest.mark.parametrize(("d0", "s", "rho", "mean"), TABLE)
def test_simulated_raw_tracks_are_as_long_as_published(d0, s, rho, mean):
    count = 60_000
    points = np.column_stack([d0 * np.arange(count), np.zeros(count)])
    points = points + errors_at(noise_of(s, rho), np.arange(float(count)), np.random.default_rng(1))
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    # Steps of one track are correlated: blocks of 300 tell the error of their mean.
    blocks = np.mean(steps[: 300 * (len(steps) // 300)].reshape(-1, 300), axis=1)
    assert np.mean(steps) == pytest.approx(mean, abs=4.0 * np.std(blocks) / np.sqrt(blocks.size))


@pytest.mark.parametrize("s", [0.5, 2.0])
def test_standing_still_makes_length(s):
    # Mean step of a receiver at rest: s sqrt(pi (1 - rho)).
    for rho in (0.0, 0.9):
        points = errors_at(noise_of(s, rho), np.arange(40_000.0), np.random.default_rng(2))
        assert length(points) / 39_999 == pytest.approx(s * np.sqrt(np.pi * (1.0 - rho)), rel=0.02)


def fused_length(time_s, points, noise, seed):
    """Return raw and fused length over that of the walk, fixes alone."""
    fixes = points + errors_at(noise, time_s, np.random.default_rng(seed))
    drill = builders.a_drill()
    recording = builders.recording_of(builders.track_of(time_s, fixes))
    (fused,) = fuse_drill([recording], drill, SlopePlane(drill.slope), FusionSettings(draws=4))
    return length(fixes) / length(points), length(fused.draws.path_m[0]) / length(points)


NOISES = {"white 1 m": WhiteNoise(1.0), "correlation 0.9": noise_of(1.0, 0.9), "two parts": TwoPartNoise(white_m=0.3)}


@pytest.mark.parametrize("noise", NOISES)
def test_fused_path_is_less_too_long_than_the_track(noise):
    time_s, points = builders.walk([(60.0, 60.0), (60.0, -60.0), (-20.0, -60.0), (-20.0, 20.0)], pace=1.2)
    ratios = np.array([fused_length(time_s, points, NOISES[noise], seed) for seed in range(5)])
    raw, fused = np.mean(ratios, axis=0)
    assert raw > 1.02
    assert abs(fused - 1.0) < 0.6 * (raw - 1.0)


def test_length_of_a_still_searcher_is_mostly_taken_out():
    time_s, points = np.arange(180.0), np.full((180, 2), 12.0)
    fixes = points + errors_at(TwoPartNoise(white_m=0.15), time_s, np.random.default_rng(3))
    drill = builders.a_drill()
    recording = builders.recording_of(builders.track_of(time_s, fixes))
    (fused,) = fuse_drill([recording], drill, SlopePlane(drill.slope), FusionSettings(draws=4))
    assert length(fused.draws.path_m[0]) < 0.3 * length(fixes)
