"""Paired truth: the same run with a fault and without, and what the fault truly cost."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from analyzer.lab.simulate.faults import PHASES, fault_names
from analyzer.lab.simulate.scenario import Beginning, SimulatedDrill, SimulatedRun, drawn_plans, simulated
from analyzer.lab.simulate.settings import RunSettings
from analyzer.lab.simulate.truth import Truth


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedPair:
    """The same run with a fault and without: person, ground, noise and recorder are the same until the fault begins."""

    faulty: SimulatedRun
    faultless: SimulatedRun


def simulate_pair(
    drill: SimulatedDrill, settings: RunSettings | None = None, *, fault: str | Iterable[str], seed: int
) -> SimulatedPair:
    """Return a run with a fault, as `simulate_run` has it, and the same run without. Errors as there.

    After the fault the person goes on as without it: the walk's unsteadiness stands still meanwhile, and every phase
    has streams of its own. An error series that was really recorded is cut by the length of the run, hence anew.
    """
    settings = settings or RunSettings()
    plans = drawn_plans(fault_names(fault), drill, seed)
    begin = Beginning("run-1", "", None, seed)
    return SimulatedPair(
        simulated(drill, settings, begin, plans, ground_of=plans),
        simulated(drill, settings, begin, {}, ground_of=plans),
    )


def paired_cost_s(pair: SimulatedPair) -> float:
    """Return the seconds that the fault truly cost: by how much it lengthened the phases in which it was made.

    NaN where no fault could be carried out.
    """
    faulty, faultless = pair.faulty.truth, pair.faultless.truth
    if not faulty.faults:
        return math.nan
    made = {(phase, done.transmitter) for done in faulty.faults for phase in PHASES[done.name]}
    return sum(lasted_s(faulty, *one) - lasted_s(faultless, *one) for one in made)


def lasted_s(truth: Truth, phase: str, transmitter: str) -> float:
    """Return how long one phase lasted, 0 where there was none."""
    return sum(p.end_s - p.start_s for p in truth.phases if (p.phase, p.transmitter) == (phase, transmitter))
