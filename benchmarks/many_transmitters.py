"""Cost of a run over drills of more and more transmitters: `python -m benchmarks.many_transmitters [row | cluster]`.

`row`: 25 m apart, found one after another. `cluster`: 8 to 28 m from another one, anywhere. No axis is stated. Prints
per drill the processor seconds of the analysis, their ratio to the drill of one transmitter, and the memory of the
process at its highest up to then. All in one process, the drills in turn in each round, the smallest first; medians are
printed.
"""

import dataclasses
import gc
import resource
import statistics
import sys
import time

import numpy as np

from analyzer.engine.pipeline import analyze_drill
from analyzer.files.rules_toml import default_rules
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate import DrillSettings, RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.scenario import SimulatedDrill

COUNTS = (1, 2, 4, 8, 16, 20)
ROUNDS = 2
APART_M = 25.0
SEED = 3
KIB_PER_MB = 1000.0 / 1.024


def in_a_row(count):
    """Return a drill whose transmitters lie 25 m apart up the middle of a long area."""
    settings = DrillSettings(
        transmitters=count, area_width_m=60.0, area_length_m=60.0 + APART_M * (count - 1), axis_given=False
    )
    laid = simulate_drill(settings, seed=SEED)
    spots = SlopePlane(laid.drill.slope).to_horizontal([(30.0, 30.0 + APART_M * i) for i in range(count)])
    true, stated = [], []
    for spot, lies, said in zip(spots, laid.true_transmitters, laid.drill.transmitters, strict=True):
        off = (said.east_m - lies.east_m, said.north_m - lies.north_m)
        true.append(dataclasses.replace(lies, east_m=float(spot[0]), north_m=float(spot[1])))
        stated.append(dataclasses.replace(said, east_m=float(spot[0]) + off[0], north_m=float(spot[1]) + off[1]))
    return SimulatedDrill(dataclasses.replace(laid.drill, transmitters=tuple(stated)), tuple(true))


def clustered(count):
    """Return a drill whose transmitters lie 8 to 28 m from another one, in an area that grows with them."""
    side = max(80.0, 40.0 + 22.0 * np.sqrt(count))
    settings = DrillSettings(transmitters=count, area_width_m=side, area_length_m=side + 20.0, axis_given=False)
    return simulate_drill(settings, seed=SEED)


KINDS = {"row": in_a_row, "cluster": clustered}


def main():
    """Print the table of the kind named on the command line, `row` by default."""
    kind = sys.argv[1] if len(sys.argv) > 1 else "row"
    rules, runs = default_rules(), {}
    for count in COUNTS:
        drill = KINDS[kind](count)
        runs[count] = drill.drill, simulate_run(drill, RunSettings(), seed=SEED).recording
    spent, peak_mb = {count: [] for count in COUNTS}, {}
    for _ in range(ROUNDS):
        for count, (drill, recording) in runs.items():
            gc.collect()
            begin = time.process_time()
            (result,) = analyze_drill(drill, [recording], rules)
            spent[count].append(time.process_time() - begin)
            if isinstance(result, Exception):
                raise result
            peak_mb.setdefault(count, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MB)
    print(f"{kind}: transmitters, minutes of the run, seconds, ratio to one, megabytes")
    for count, (_, recording) in runs.items():
        ratio = statistics.median(a / b for a, b in zip(spent[count], spent[COUNTS[0]], strict=True))
        print(
            f"{count:3d} {recording.track.time_s[-1] / 60.0:6.1f} {statistics.median(spent[count]):7.2f} "
            f"{ratio:6.1f} {peak_mb[count]:6.0f}"
        )
    few, many = COUNTS[-3], COUNTS[-1]
    power = np.log(statistics.median(spent[many]) / statistics.median(spent[few])) / np.log(many / few)
    print(f"from {few} to {many} transmitters the cost grows to the power {power:.2f}")


if __name__ == "__main__":
    main()
