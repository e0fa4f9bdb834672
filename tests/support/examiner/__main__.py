"""Make runs for the analyser to be examined on.

    python -m tests.support.examiner OUT --runs 20 --seed 7 --kind phone

Every draw comes from the seed. One drill folder per run unless --runs-per-drill says otherwise.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

if not __package__:  # started as a plain script
    sys.path[0] = str(Path(__file__).resolve().parents[3])

from tests.support.examiner import noise, write
from tests.support.examiner.recorder import log, track
from tests.support.examiner.scene import FAULTS, Choices, Scene, make_scene
from tests.support.examiner.search import LostError
from tests.support.examiner.truth import Run, measure, perform

KINDS: dict[str, Choices] = {
    "phone": Choices(),
    "noaxis": Choices(axis_given=False),
    "track": Choices(readings=False),
    "tracknoaxis": Choices(readings=False, axis_given=False),
    "off": Choices(position_off_m=2.5),
    "offnoaxis": Choices(position_off_m=2.5, axis_given=False),
    "real": Choices(noise="file", series="adr"),
    "realnoaxis": Choices(noise="file", series="adr", axis_given=False),
    "realraw": Choices(noise="file", series="psr"),
    "realtrack": Choices(noise="file", series="adr", readings=False),
    "survey": Choices(survey=True),
    "surveynoaxis": Choices(survey=True, axis_given=False),
    "surveyoff": Choices(survey=True, position_off_m=2.5),
    "surveytrack": Choices(survey=True, readings=False),
    "three": Choices(transmitters=3),
    "rough": Choices(spikes=True, gaps=True, quantum_deg=1e-6),
}


def make_run(
    scene: Scene, ask: Choices, folder: Path, number: int, date_clock: write.Clock, rng: np.random.Generator
) -> None:
    """One run into ``folder``; raises `LostError` before anything is written."""
    marked = ask.marks if ask.marks != "mixed" else str(rng.choice(["full", "full", "probe"]))
    has_start = marked == "full"
    lead = round(float(rng.uniform(0, 15)), 1) if has_start else 0.0
    run = perform(scene, ask, lead, rng)
    delay = rng.uniform(0.0, 0.6, len(run.found))
    hits = [round(f.strike_s + float(d), 1) for f, d in zip(run.found, delay, strict=True)]
    searches = measure(run, scene, ask, hits)
    fixes = track(run, scene, ask, not has_start, rng)
    folder.mkdir(parents=True, exist_ok=True)
    clock = date_clock
    style = write.track(folder, fixes, scene, ask, clock, rng)
    offset, reading_style = None, None
    if ask.readings:
        rows = log(run, scene, ask, clock, has_start, rng)
        write.readings(folder, rows)
        offset, reading_style = rows.offset_s, rows.style
    marks = make_marks(run, marked, hits, searches, rng)
    write.marks(folder, marks, len(scene.transmitters) > 1, clock)
    name = write.run_toml(folder, run, ask, number, rng)
    figures = {
        "searcher": name,
        "time_zero": clock(lead),
        "clock_offset_s": offset,
        "reading_scale": run.habits.scale,
        "reading_noise": run.habits.reading_noise,
        "range_m": run.habits.range_m,
        "track_style": style,
        "reading_style": reading_style,
        "noise": "survey" if ask.survey else ask.noise,
        "noise_levels": fixes.levels,
        "spikes": fixes.spikes,
        "gaps": fixes.gaps,
        "marks": marked,
        "finish_s": run.finish_s - lead,
        "carry_height_m": run.habits.carry_m,
        "fine_height_m": run.habits.fine_m,
        "searches": searches,
    }
    write.truth(folder / "truth.json", run, scene, ask, figures, phases_of(searches))


def make_marks(
    run: Run, marked: str, hits: list[float], searches: list[dict[str, object]], rng: np.random.Generator
) -> list[tuple[float, str, str]]:
    """A helper presses: exact at the start, late by up to a second elsewhere."""
    if marked == "none":
        return []
    out = [(h, "probe_hit", f.name) for h, f in zip(hits, run.found, strict=True)]
    if marked == "full":
        out.append((run.lead_s, "start", ""))
        out.append((max(round(run.finish_s, 1), hits[-1]), "finish", ""))
        for s in searches:
            for key, mark in (("coarse_start_s", "first_reading"), ("bracket_start_s", "fine_start")):
                if rng.random() < 0.35:
                    t = float(s[key]) + run.lead_s + float(rng.uniform(0.1, 1.0))  # type: ignore[arg-type]
                    out.append((round(t, 1), mark, str(s["transmitter"])))
    return out


def phases_of(searches: list[dict[str, object]]) -> list[dict[str, object]]:
    """Phases in order, without gaps, to the last probe hit."""
    out = []
    for s in searches:
        edges = [s["signal_start_s"], s["coarse_start_s"], s["fine_start_s"], s["settled_s"], s["probe_hit_s"]]
        names = ("signal_search", "coarse_search", "fine_search", "pinpoint")
        for i, phase in enumerate(names):
            if edges[i] != edges[i + 1]:
                out.append(
                    {"phase": phase, "transmitter": s["transmitter"], "start_s": edges[i], "end_s": edges[i + 1]}
                )
    return out


def fault_of(asked: str, index: int) -> str:
    """A named fault, or each in turn ("cycle")."""
    return FAULTS[index % len(FAULTS)] if asked == "cycle" else asked


def make_drill(out: Path, ask: Choices, index: int, args: argparse.Namespace) -> None:
    """Draw until the scene and all its runs work out."""
    count = min(args.runs_per_drill, args.runs - index * args.runs_per_drill)
    drill = out / f"{args.kind}_{args.seed}_{index:03d}"
    for attempt in range(60):
        rng = np.random.default_rng([args.seed, index, attempt])
        wanted = [replace(ask, fault=fault_of(args.fault, index * args.runs_per_drill + j)) for j in range(count)]
        missed = next((w for w in wanted if w.fault == "missed_strip"), wanted[0])
        scene, clock = make_scene(missed, rng), write.Clock(rng)
        made = 0
        for j, one in enumerate(wanted):
            for again in range(25):
                own = np.random.default_rng([args.seed, index, attempt, j, again])
                try:
                    make_run(scene, one, drill / "runs" / f"{write.NAMES[j % 12]}-{j + 1}", j, clock, own)
                except LostError:
                    continue
                made += 1
                break
            else:
                break
        if made == count:
            write.drill_toml(drill, scene, ask, clock.base.date().isoformat(), rng)
            return
    raise SystemExit(f"drill {index}: no usable draw; ask for something less narrow")


def main(argv: list[str] | None = None) -> int:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("out", type=Path, help="folder for the drills")
    p.add_argument("--runs", type=int, default=10)
    p.add_argument("--seed", type=int, default=0)
    p.add_argument("--kind", choices=sorted(KINDS), default="phone")
    p.add_argument("--runs-per-drill", type=int, default=1)
    p.add_argument("--fault", choices=[*FAULTS, "cycle"], default="cycle", help="cycle: each in turn")
    p.add_argument("--readings", action=argparse.BooleanOptionalAction, default=None)
    p.add_argument("--axis", action=argparse.BooleanOptionalAction, default=None, dest="axis_given")
    p.add_argument("--survey", action=argparse.BooleanOptionalAction, default=None)
    p.add_argument("--position-off", type=float, dest="position_off_m", help="stated place off by, m")
    p.add_argument("--transmitters", type=int, choices=(1, 2, 3))
    p.add_argument("--slope", type=float, dest="slope_deg", help="degrees; drawn from 0..35 if not given")
    p.add_argument("--antennas", type=int, choices=(1, 2, 3))
    p.add_argument("--clock-max", type=float, dest="clock_max_s", help="largest offset of the readings' clock, s")
    p.add_argument("--noise", choices=noise.KINDS)
    p.add_argument("--noise-file", help="recorded errors (CSV with fix and survey reference)")
    p.add_argument("--series", choices=("psr", "adr"), help="single-epoch or carrier-smoothed fix")
    p.add_argument("--quantum", type=float, dest="quantum_deg", help="degrees: 1e-7, 1e-6, 1e-5")
    p.add_argument("--spikes", action="store_const", const=True)
    p.add_argument("--gaps", action="store_const", const=True)
    p.add_argument("--cadence", choices=("mixed", "pulse", "film"))
    p.add_argument("--marks", choices=("mixed", "full", "probe", "none"))
    p.add_argument("--lever", type=float, dest="lever_m", help="recorder this far behind the receiver, m")
    args = p.parse_args(argv)
    fields = set(Choices.__dataclass_fields__) - {"fault"}
    given = {k: v for k, v in vars(args).items() if k in fields and v is not None}
    ask = replace(KINDS[args.kind], **given)
    if ask.noise == "file" and ask.noise_file is None and not ask.survey:
        p.error("this kind of noise needs --noise-file")
    for index in range(-(-args.runs // args.runs_per_drill)):
        make_drill(args.out, ask, index, args)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
