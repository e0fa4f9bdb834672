"""One small evaluation for all tests of this folder: a run of every block."""

import numpy as np
import pytest

from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.blocks import blocks_of
from analyzer.lab.evaluate.trial import trial_of
from analyzer.lab.simulate.noise_models import MarkovNoise, SeriesNoise, errors_at

NOISES = ("markov",)
SEED = 41_000


@pytest.fixture(scope="session")
def rules():
    return default_rules()


@pytest.fixture(scope="session")
def blocks():
    time_s = np.arange(0.0, 400.0)
    error = errors_at(MarkovNoise(sigma_m=1.0), time_s, np.random.default_rng(5))
    return {b.key: b for b in blocks_of(phones={"invented": (SeriesNoise(time_s, error),)}, noises=NOISES)}


@pytest.fixture(scope="session")
def trials(blocks, rules):
    return {key: [trial_of(b, i, seed=SEED, rules=rules, draws=12) for i in range(1)] for key, b in blocks.items()}
