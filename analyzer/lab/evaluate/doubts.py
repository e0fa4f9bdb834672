"""How readings that do not fit are found: simulated runs with stretches planted in their logs, and without.

`python -m analyzer.lab.evaluate.doubts --runs 40 --seed 1` prints the table.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.pipeline import fuse_runs
from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.blocks import Block, blocks_of
from analyzer.lab.evaluate.trial import made_run
from analyzer.lab.evaluate.truths import path_at
from analyzer.lab.simulate.truth import Truth
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.model.drill import Drill
from analyzer.model.path import ERRATIC, FARTHER, NEARER, FusedPath
from analyzer.model.recording import Recording

PLANTED_S = 12.0
FAR_M = 4.0  # readings beyond it are replaced: where people walk, not where they bracket
CLEAN, SLIPS = "nothing", "two slips"
PLAIN = ("plain/readings", "wrong_way/readings", "standing/readings")

Plant = Callable[[FloatArray, FloatArray, np.random.Generator], FloatArray]


def _nearby(time_s: FloatArray, reading_m: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return readings of a transmitter nearer than the searched one, passed at a walk."""
    base_m, part = 0.5 * float(np.min(reading_m)), (time_s - time_s[0]) / PLANTED_S
    return np.asarray(base_m * np.exp(0.15 * np.sin(np.pi * part) + 0.05 * rng.standard_normal(time_s.size)))


def _covered(time_s: FloatArray, reading_m: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return readings that all are far too large."""
    return reading_m * 1.9 * np.exp(0.05 * rng.standard_normal(time_s.size))


def _disturbed(time_s: FloatArray, reading_m: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return readings that jump to and fro."""
    return reading_m * np.exp(0.5 * rng.standard_normal(time_s.size))


PLANTS: dict[str, tuple[Plant, str]] = {
    "another transmitter nearby": (_nearby, NEARER),
    "all too large": (_covered, FARTHER),
    "to and fro": (_disturbed, ERRATIC),
}


@dataclass(frozen=True, slots=True)
class Looked:
    """What came of one run. `planted`: its name; `found`: kinds of the stretches that overlap what was planted;
    `false`: how many do not. `aside`: share of the planted readings that were set aside; `rms_m`: of the whole path."""

    planted: str
    found: tuple[str, ...]
    false: int
    aside: float
    rms_m: float


def looked_at(block: Block, number: int, *, seed: int, names: Sequence[str]) -> list[Looked]:
    """Return what becomes of one run, with each of the things named planted in its log."""
    run, drill, _ = made_run(block, None, seed=seed, number=number)
    out = []
    for name in names:
        recording, planted = _with(run.recording, name, np.random.default_rng([seed, number]))
        out += _looked(name, recording, run.truth, drill, planted)
    return out


def _with(recording: Recording, name: str, rng: np.random.Generator) -> tuple[Recording, IndexArray]:
    """Return a recording with something planted in its log, and which of its readings (m,) that is."""
    log = recording.readings
    if log is None:
        return recording, np.zeros(0, bool)
    far = np.flatnonzero(log.reading_m > FAR_M)
    planted, reading_m = np.zeros(log.time_s.size, bool), np.array(log.reading_m)
    begin_s = rng.uniform(log.time_s[far[0]], max(log.time_s[far[-1]] - PLANTED_S, log.time_s[far[0]] + 1.0))
    if name == SLIPS:  # a figure written with its point in another place
        planted[rng.choice(far, 2, replace=False)] = True
        reading_m[planted] /= 10.0
    elif name != CLEAN:
        planted[far] = (log.time_s[far] >= begin_s) & (log.time_s[far] <= begin_s + PLANTED_S)
        if np.any(planted):
            reading_m[planted] = PLANTS[name][0](log.time_s[planted], reading_m[planted], rng)
    shown_m = np.clip(np.round(reading_m, 1), 0.1, 120.0)
    return replace(recording, readings=replace(log, reading_m=shown_m)), planted


def _looked(name: str, recording: Recording, truth: Truth, drill: Drill, planted: IndexArray) -> list[Looked]:
    (path,) = fuse_runs(drill, [recording], fine_radius_m=default_rules().fine_radius_m, draws=0, seed=1)
    if not isinstance(path, FusedPath) or path.readings is None or recording.readings is None:
        return []
    at_s = path.readings.time_s[planted]
    hits = [d for d in path.doubts if np.any((at_s >= d.start_s) & (at_s <= d.end_s))]
    off = path.draws.path_m[0] - path_at(truth, path.time_s)
    return [
        Looked(
            planted=name,
            found=tuple(d.kind for d in hits) if name in PLANTS else (),
            false=len(path.doubts) - (len(hits) if name in PLANTS else 0),
            aside=float(np.mean(path.readings.weight[planted] == 0.0)) if np.any(planted) else np.nan,
            rms_m=float(np.sqrt(np.mean(np.sum(off**2, axis=1)))),
        )
    ]


def report(looked: Sequence[Looked]) -> list[str]:
    """Return the table, a line for each thing planted."""
    head = "| planted for 12 s | runs | found | named as it is | false | readings set aside | path rms, m |"
    lines = [head, "|---" * 7 + "|"]
    for name in dict.fromkeys(one.planted for one in looked):
        own = [one for one in looked if one.planted == name]
        found = [one for one in own if one.found]
        right = sum(PLANTS[name][1] in one.found for one in found) if name in PLANTS else 0
        shown = (f"{len(found)}", f"{right}") if name in PLANTS else ("-", "-")
        aside = np.nanmean([one.aside for one in own]) if name in PLANTS and own else np.nan
        rms_m = np.sqrt(np.mean([one.rms_m**2 for one in own])) if own else np.nan
        share = "-" if np.isnan(aside) else f"{100 * aside:.0f} %"
        false = sum(one.false for one in own)
        lines.append(f"| {name} | {len(own)} | {shown[0]} | {shown[1]} | {false} | {share} | {rms_m:.2f} |")
    return lines


def main() -> None:
    """Simulate, look and print the table."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.lab.evaluate.doubts", description=__doc__)
    parser.add_argument("--runs", type=int, default=20, metavar="N", help="of each kind of run")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="of the first run")
    parser.add_argument("--blocks", nargs="*", metavar="KEY", help="kinds of runs; a few if left out, all if empty")
    parser.add_argument("--clean", action="store_true", help="plant nothing: how often something is found all the same")
    arguments = parser.parse_args()
    blocks = {block.key: block for block in blocks_of(phones={}, noises=()) if block.column == "readings"}
    keys = PLAIN if arguments.blocks is None else arguments.blocks or tuple(blocks)
    names = (CLEAN,) if arguments.clean else (CLEAN, SLIPS, *PLANTS)
    looked = [
        one
        for key in keys
        for number in range(arguments.runs)
        for one in looked_at(blocks[key], number, seed=arguments.seed, names=names)
    ]
    sys.stdout.write("\n".join((*report(looked), "")))


if __name__ == "__main__":
    main()
