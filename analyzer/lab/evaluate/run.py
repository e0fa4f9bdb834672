"""The whole accuracy table: simulated runs of every kind measured in processes, and the sections joined."""

from collections.abc import Callable, Sequence

import joblib

from analyzer.lab.evaluate.blocks import COLUMNS, Block
from analyzer.lab.evaluate.bound import bound_of, bound_section
from analyzer.lab.evaluate.cells import Section
from analyzer.lab.evaluate.real import Comparison, real_section
from analyzer.lab.evaluate.rows import sections_of
from analyzer.lab.evaluate.trial import Trial, trial_of
from analyzer.model.rules import Rules

AT_A_TIME = 5


def all_sections(
    trials: dict[str, list[Trial]], noises: Sequence[str], comparisons: Sequence[Comparison]
) -> tuple[Section, ...]:
    """Return the sections in the order in which they are shown."""
    readings, track, survey, other, *details = sections_of(trials, noises)
    return (readings, track, survey, other, real_section(comparisons), *details)


def measured(
    blocks: Sequence[Block],
    rules: Rules,
    *,
    runs: int,
    seed: int,
    draws: int,
    jobs: int,
    done: Callable[[int], None] = lambda count: None,
) -> dict[str, list[Trial]]:
    """Return the trials by block, in the order of their seeds.

    Parameters
    ----------
    blocks : sequence of Block
        The kinds of runs.
    runs, seed : int
        Runs of each kind, and the seed of the first.
    draws : int
        Paths drawn for the 90 % intervals.
    jobs : int
        Processes at the same time.
    done : callable
        Told how many more runs are measured, as they come.
    """
    work = [(b, range(i, min(i + AT_A_TIME, b.runs(runs)))) for b in blocks for i in range(0, b.runs(runs), AT_A_TIME)]
    calls = [joblib.delayed(_batch)(b, numbers, seed, rules, draws) for b, numbers in work]
    found: dict[str, list[Trial]] = {b.key: [] for b in blocks}
    # One thread per process: the systems are small, and threads of several processes get in each other's way.
    with joblib.parallel_config("loky", n_jobs=jobs, inner_max_num_threads=1):
        for trials in joblib.Parallel(return_as="generator_unordered")(calls):
            found[trials[0].block] += trials
            done(len(trials))
    return {key: sorted(own, key=lambda t: t.seed) for key, own in found.items()}


def bounded(
    rules: Rules, *, runs: int, seed: int, jobs: int, done: Callable[[int], None] = lambda count: None
) -> Section:
    """Return the section on the exact posterior: so many runs of each column, sampled long."""
    work = [(column, number) for column in COLUMNS for number in range(runs)]
    calls = [joblib.delayed(bound_of)(column, number, seed=seed, rules=rules) for column, number in work]
    found: dict[str, list[dict[str, float]]] = {column: [] for column in COLUMNS}
    with joblib.parallel_config("loky", n_jobs=jobs, inner_max_num_threads=1):
        for (column, _), one in zip(work, joblib.Parallel(return_as="generator")(calls), strict=True):
            found[column] += [] if one is None else [one]
            done(1)
    return bound_section(found)


def _batch(block: Block, numbers: range, seed: int, rules: Rules, draws: int) -> list[Trial]:
    return [trial_of(block, i, seed=seed, rules=rules, draws=draws) for i in numbers]
