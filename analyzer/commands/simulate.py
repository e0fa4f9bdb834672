"""`searchwake simulate`: drill folders with known truth, written to disk."""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from analyzer.commands import arguments as kinds
from analyzer.commands.arguments import new_place
from analyzer.commands.output import OK, say
from analyzer.errors import InputError, quoted
from analyzer.files.source import decode_text, read_bytes, write_atomic
from analyzer.lab.simulate.faults import FAULTS, PHASES, fault_names
from analyzer.lab.simulate.noise_models import MarkovNoise, NoiseModel
from analyzer.lab.simulate.recorder import KINDS as RECORDERS
from analyzer.lab.simulate.sample_day import sample_day
from analyzer.lab.simulate.scenario import simulate_drill, simulate_run
from analyzer.lab.simulate.season import EVENT_FOLDER, event_toml, people_of_club, season_drills, season_truth
from analyzer.lab.simulate.series import series_from_csv
from analyzer.lab.simulate.settings import (
    DrillSettings,
    ReadingSettings,
    RecorderSettings,
    RunSettings,
    SearcherSettings,
)
from analyzer.lab.simulate.shown import KINDS as READINGS
from analyzer.lab.simulate.write import write_drill, write_run
from analyzer.workspace.layout import DRILLS, EVENT_FILE, EVENTS, PEOPLE_FILE
from analyzer.workspace.people.people_toml import people_bytes

PROGRESS_FROM_RUNS = 20
MOST_TRANSMITTERS = 20
"""Our own choice, because drills bury one to ten."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.formatter_class = argparse.ArgumentDefaultsHelpFormatter
    parser.epilog = (
        "Units: metres, seconds, degrees. Each run gets a truth.json beside its files. Example: "
        "searchwake simulate training --runs 6 --fault none wrong_way late_slow_down+oblique_bracketing --slope 25"
    )
    add = parser.add_argument
    add("out", metavar="OUT", type=new_place, help="folder of the new drill (or of the sample day's drills)")
    add("--runs", metavar="N", type=kinds.runs, default=1, help="number of runs")
    add(
        "--fault",
        metavar="NAME",
        nargs="+",
        default=["none"],
        help=f"faults, taken in turn by the runs; join several in one run with +: none, {', '.join(FAULTS)}",
    )
    add("--transmitters", metavar="K", type=kinds.whole(1, MOST_TRANSMITTERS), default=1, help="number of transmitters")
    add(
        "--slope",
        metavar="DEG",
        type=kinds.number(0.0, 60.0),
        help="slope in degrees from level; drawn from 0 to 35 where left out",
    )
    add(
        "--aspect",
        metavar="DEG",
        type=kinds.number(0.0, 360.0),
        help="true bearing of the downhill direction; drawn where left out",
    )
    add("--antennas", type=int, choices=(1, 2, 3), default=3, help="antennas of the receiver")
    _add_recording(parser)


def _add_recording(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    add(
        "--recorder",
        choices=RECORDERS,
        default="phone",
        help="phone: 1 fix per second; watch: sometimes every 1 to 4 s; survey: 10 per second, 2 cm",
    )
    add(
        "--noise",
        metavar="MODEL",
        default="two-part",
        help="position error: two-part (smooth fast part 0.9 m over 16 s, slow part 1 to 3 m), markov (2.5 m over "
        "120 s), or a CSV file with time_s, east_m, north_m of errors really made",
    )
    add("--noise-scale", metavar="F", type=kinds.number(0.0, 100.0), default=1.0, help="factor on the position error")
    add("--readings", choices=READINGS, default="logged", help="how readings are logged")
    add("--lag", metavar="S", type=kinds.number(0.0, 60.0), default=0.0, help="lag of the reading shown, seconds")
    add("--axis-withheld", action="store_true", help="leave the antenna axes out of drill.toml")
    add(
        "--stated-off",
        metavar="M",
        type=kinds.number(0.001, 50.0),
        default=0.2,
        help="standard deviation per axis of the stated transmitter positions, metres",
    )
    add("--seed", metavar="S", type=kinds.seed, default=0, help="the same seed gives the same files")
    add(
        "--season",
        action="store_true",
        help="write the workspace of an invented club over a winter, with an event; of the other options only --seed "
        "is used",
    )
    add("--sample-day", action="store_true", help="write the invented sample day; the other options are not used")


def run(args: argparse.Namespace) -> int:
    """Write what the arguments ask for; return the exit code."""
    if args.season:
        return _write_season(args.out, args.seed)
    if args.sample_day:
        for sample in sample_day():
            write_drill(args.out / sample.folder, sample.drill)
            for simulated in sample.runs:
                write_run(args.out / sample.folder, sample.drill, simulated, truth_step_s=1.0)
            say(f"{args.out / sample.folder}: {len(sample.runs)} runs of the invented sample day")
        return OK
    faults = _fault_turns(args.fault)
    drill = simulate_drill(
        _drill_settings(args, wide=any(PHASES[name] == ("signal_search",) for f in faults for name in f)),
        seed=args.seed,
    )
    settings = _run_settings(args)
    write_drill(args.out, drill)
    for i in _with_progress(args.runs):
        name = f"run-{i + 1:0{len(str(args.runs))}d}"
        simulated = simulate_run(
            drill,
            settings,
            fault=faults[i % len(faults)],
            seed=1000 * args.seed + i,
            run_id=name,
            searcher=f"simulated searcher {i + 1}",
        )
        write_run(args.out, drill, simulated)
    say(f"{args.out}: {args.runs} runs")
    return OK


def _write_season(out: Path, seed: int) -> int:
    """Write the workspace of the sample season: drills, people, the event, and the truth about its people."""
    drills, people = season_drills(seed), people_of_club()
    taken = next((p for p in (out / DRILLS, out / PEOPLE_FILE, out / EVENTS) if p.exists()), None)
    if taken is not None:
        raise InputError(where=str(taken), what="there is a workspace already", do="give a new folder for OUT")
    pairs = [(one, run) for one in drills for run in range(len(one.starters))]
    making = {one.folder: one.runs() for one in drills}
    for number in _with_progress(len(pairs)):
        one, first = pairs[number]
        if first == 0:
            write_drill(out / DRILLS / one.folder, one.drill)
        write_run(out / DRILLS / one.folder, one.drill, next(making[one.folder]), truth_step_s=1.0)
    write_atomic(out / PEOPLE_FILE, people_bytes(people))
    write_atomic(out / EVENTS / EVENT_FOLDER / EVENT_FILE, event_toml().encode())
    text = json.dumps(season_truth(seed), ensure_ascii=False, indent=1) + "\n"
    write_atomic(out / "truth_season.json", text.encode())
    say(
        f"{out}: an invented season of {len(people.persons)} people, {len(pairs)} runs, seed {seed}. "
        f"Next: searchwake index {out}"
    )
    return OK


def _with_progress(runs: int) -> Iterator[int]:
    """Yield the run numbers, with a bar on a terminal where there are many."""
    if runs < PROGRESS_FROM_RUNS or not sys.stderr.isatty():
        yield from range(runs)
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(range(runs), description="simulating", console=Console(stderr=True))


def _fault_turns(words: list[str]) -> list[tuple[str, ...]]:
    return [fault_names(() if word == "none" else word.split("+")) for word in words]


def _drill_settings(args: argparse.Namespace, *, wide: bool) -> DrillSettings:
    settings = DrillSettings(
        name=args.out.name,
        transmitters=args.transmitters,
        slope_deg=args.slope,
        aspect_deg=args.aspect,
        axis_given=not args.axis_withheld,
        position_sigma_m=args.stated_off,
    )
    # A strip is only missed, or walked twice for nothing, where the others do not hear its transmitter.
    return replace(settings, area_width_m=120.0, near_strip_m=5.0) if wide else settings


def _run_settings(args: argparse.Namespace) -> RunSettings:
    return RunSettings(
        SearcherSettings(antennas=args.antennas),
        RecorderSettings(kind=args.recorder, noise=_noise(args.noise), noise_scale=args.noise_scale),
        ReadingSettings(kind=args.readings, lag_s=args.lag),
    )


def _noise(word: str) -> NoiseModel | None:
    if word == "two-part":
        return None
    if word == "markov":
        return MarkovNoise()
    path = Path(word)
    if not path.is_file():
        raise InputError(
            where="--noise",
            what=f"{quoted(word)} is neither a model nor a file",
            do="use two-part, markov or a CSV file",
        )
    return series_from_csv(decode_text(read_bytes(path), name=path.name), name=path.name)
