"""Speed of the engine as ratios, measured in one process: `python -m benchmarks.engine [part ...]`.

Parts: `parse` (analysis against gpxpy parsing the run's own GPX file), `growth` (cost against samples), `event` (200
runs, and a second pass over them). Rounds are interleaved, with a warm-up and a garbage collection before each; medians
are printed.
"""

import dataclasses
import gc
import statistics
import sys
import tempfile
import time
from pathlib import Path

import gpxpy
import numpy as np

from analyzer.engine.pipeline import analyze_drill
from analyzer.files.rules_toml import default_rules
from analyzer.files.writers import write_gpx
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.lab.simulate import DrillSettings, RecorderSettings, RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.write import write_drill, write_run
from analyzer.workspace.batch import Batch, analyze_drills

ROUNDS = 7
RULES = default_rules()


def ten_minutes():
    """Return a drill and a run of ten minutes at 1 Hz with readings: the first seed whose run is that long.

    Its fixes state an hdop of 1, which changes no noise level, so that the GPX file has what recorders write.
    """
    for seed in range(400):
        drill = simulate_drill(DrillSettings(area_width_m=220.0, area_length_m=240.0), seed=seed)
        run = simulate_run(drill, RunSettings(), seed=seed)
        if 570 <= run.recording.track.time_s[-1] <= 640:
            track = dataclasses.replace(run.recording.track, hdop=np.ones(run.recording.track.time_s.size))
            return drill.drill, dataclasses.replace(run.recording, track=track)
    raise RuntimeError("no run of ten minutes among 400 seeds")


def interleaved(cases):
    """Return the wall seconds of every round per case, all cases in turn."""
    for case in cases.values():
        case()
    out = {name: [] for name in cases}
    for _ in range(ROUNDS):
        for name, case in cases.items():
            gc.collect()
            begin = time.perf_counter()
            case()
            out[name].append(time.perf_counter() - begin)
    return out


def parse():
    """Print analysis time over gpxpy's parse time of the same run."""
    drill, recording = ten_minutes()
    track = recording.track
    text = write_gpx(track, LocalFrame(drill.origin), time_zero=recording.time_zero, name="run").decode()
    times = interleaved(
        {
            "gpxpy": lambda: gpxpy.parse(text),
            "without sampling": lambda: analyze_drill(drill, [recording], RULES, draws=0),
            "with 64 draws": lambda: analyze_drill(drill, [recording], RULES, draws=64),
        }
    )
    print(
        f"{track.time_s.size} fixes, {recording.readings.time_s.size} readings; "
        f"gpxpy {1e3 * statistics.median(times['gpxpy']):.1f} ms"
    )
    for name, wanted in (("without sampling", 5), ("with 64 draws", 8)):
        ratio = statistics.median(a / b for a, b in zip(times[name], times["gpxpy"], strict=True))
        print(
            f"analysis {name}: {1e3 * statistics.median(times[name]):.0f} ms, "
            f"{ratio:.1f} times gpxpy (wanted at most {wanted})"
        )


def growth():
    """Print the cost of longer and denser tracks, and the exponent of its growth with fixes."""
    sizes, costs = [], []
    for rate_hz, minutes in ((1, 10), (2, 10), (5, 10), (10, 10), (10, 30), (10, 60)):
        drill, recording = stretched(rate_hz, minutes)
        seconds = statistics.median(
            interleaved({"run": lambda d=drill, r=recording: analyze_drill(d, [r], RULES)})["run"]
        )
        sizes.append(recording.track.time_s.size)
        costs.append(seconds)
        print(
            f"{rate_hz:2d} Hz, {minutes} min: {sizes[-1]:6d} fixes, {seconds:6.2f} s, "
            f"{1e6 * seconds / sizes[-1]:.0f} us a fix"
        )
    exponent = np.polyfit(np.log(sizes), np.log(costs), 1)[0]
    print(f"cost grows with fixes to the power {exponent:.2f} (wanted at most 1)")


def stretched(rate_hz, minutes):
    """Return a survey-grade run thinned to `rate_hz`, its start delayed by standing so that it lasts `minutes`."""
    drill = simulate_drill(DrillSettings(), seed=11)
    recording = simulate_run(drill, RunSettings(recorder=RecorderSettings(kind="survey")), seed=11).recording
    track, keep = recording.track, slice(None, None, 10 // rate_hz)
    wait = 60.0 * minutes - float(track.time_s[-1])
    before = np.arange(0.0, wait, 1.0 / rate_hz)
    rng = np.random.default_rng(5)

    def joined(values, first):
        return np.concatenate([first, values[keep]])

    sway = rng.normal(0.0, 0.02, (2, before.size))
    longer = dataclasses.replace(
        track,
        time_s=joined(track.time_s + wait, before),
        east_m=joined(track.east_m, track.east_m[0] + sway[0]),
        north_m=joined(track.north_m, track.north_m[0] + sway[1]),
        elevation_m=joined(track.elevation_m, np.full(before.size, np.nan)),
        sigma_m=joined(track.sigma_m, np.full(before.size, track.sigma_m[0])),
        hdop=joined(track.hdop, np.full(before.size, np.nan)),
    )
    readings = dataclasses.replace(recording.readings, time_s=recording.readings.time_s + wait)
    marks = tuple(
        dataclasses.replace(m, time_s=m.time_s + (wait if m.mark != "start" else 0.0)) for m in recording.marks
    )
    return drill.drill, dataclasses.replace(recording, track=longer, readings=readings, marks=marks)


def write_drills(root, drills=25, runs=8):
    """Write simulated drills with runs into `root`, people in turn, and return their folders."""
    for seed in range(drills):
        drill = simulate_drill(DrillSettings(), seed=seed)
        place = root / f"drill-{seed:02d}"
        write_drill(place, drill)
        for number in range(runs):
            run = simulate_run(
                drill, RunSettings(), seed=1000 * seed + number, run_id=f"run-{number}", searcher=f"person {number}"
            )
            write_run(place, drill, run)
    return sorted(root.glob("drill-*"))


def event(drills=25, runs=8):
    """Print the wall time of analysing and storing 200 runs, and of a second pass over unchanged files."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        folders = write_drills(root, drills, runs)
        batch = Batch(out=root / "out", rules=RULES, draws=64, seed=0)
        for name, wanted in (("first pass", 8.0), ("second pass, unchanged", 1.0)):
            begin = time.perf_counter()
            rows, failures = analyze_drills(folders, batch, jobs=2)
            spent = time.perf_counter() - begin
            print(
                f"{drills * runs} runs, {name}: {spent:.2f} s (wanted under {wanted:.0f}); "
                f"{len(rows)} rows, {len(failures)} failures"
            )


def main():
    """Run the parts named on the command line, all by default."""
    parts = {"parse": parse, "growth": growth, "event": event}
    for name in sys.argv[1:] or parts:
        print(f"-- {name}")
        parts[name]()


if __name__ == "__main__":
    main()
