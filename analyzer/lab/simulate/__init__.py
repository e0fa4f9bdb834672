"""Drills and runs with known truth: what a searcher did, what a recorder and a receiver made of it.

The simulator leans on `model`, `geo` and `field` alone, so that its truth is independent of the estimator.
"""

from analyzer.lab.simulate.faults import FAULTS
from analyzer.lab.simulate.pairs import SimulatedPair, paired_cost_s, simulate_pair
from analyzer.lab.simulate.scenario import SimulatedDrill, SimulatedRun, simulate_drill, simulate_run
from analyzer.lab.simulate.settings import (
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    SearcherSettings,
)

__all__ = [
    "FAULTS",
    "DrillSettings",
    "ReadingSettings",
    "RecorderSettings",
    "RunSettings",
    "SearcherSettings",
    "SimulatedDrill",
    "SimulatedPair",
    "SimulatedRun",
    "paired_cost_s",
    "simulate_drill",
    "simulate_pair",
    "simulate_run",
]
