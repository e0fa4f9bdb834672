"""Make runs for the analyser to be examined on.

    python -m analyzer.lab.examiner OUT --runs 20 --seed 7 --kind phone

Every draw comes from the seed. One drill folder per run unless --runs-per-drill says otherwise.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from analyzer.lab.examiner import noise, write
from analyzer.lab.examiner.runs import KINDS, PEOPLE, SCENES, Made, make_run
from analyzer.lab.examiner.scene import FAULTS, OF_STRIPS, Choices, Scene, make_scene
from analyzer.lab.examiner.search import LostError
from analyzer.lab.examiner.streams import Lots


def fault_of(asked: str, index: int) -> str:
    """A named fault, or each in turn ("cycle")."""
    return FAULTS[index % len(FAULTS)] if asked == "cycle" else asked


def make_drill(out: Path, ask: Choices, index: int, args: argparse.Namespace) -> None:
    """Draw until the scene and all its runs work out, and write them."""
    count = min(args.runs_per_drill, args.runs - index * args.runs_per_drill)
    wanted = [replace(ask, fault=fault_of(args.fault, index * args.runs_per_drill + j)) for j in range(count)]
    of_ground = next((w for w in wanted if w.fault in OF_STRIPS), wanted[0])
    for attempt in range(SCENES):
        rng = np.random.default_rng([args.seed, index, attempt])
        scene, clock = make_scene(of_ground, rng), write.Clock(rng)
        runs = [usable(scene, one, j, clock, (args.seed, index, attempt)) for j, one in enumerate(wanted)]
        if any(r is None for r in runs):
            continue
        drill = out / f"{args.kind}_{args.seed}_{index:03d}"
        for j, made in enumerate(runs):
            folder = drill / "runs" / f"{write.NAMES[j % 12]}-{j + 1}"
            folder.mkdir(parents=True, exist_ok=True)
            for name, text in made.files.items() if made else ():
                (folder / name).write_text(text)
        (drill / "drill.toml").write_text(write.drill_toml(scene, ask, clock.base.date().isoformat(), rng))
        return
    raise SystemExit(f"drill {index}: no usable draw; ask for something less narrow")


def usable(scene: Scene, ask: Choices, number: int, clock: write.Clock, key: tuple[int, int, int]) -> Made | None:
    """The first person that gets through, None where nobody does."""
    for again in range(PEOPLE):
        try:
            return make_run(scene, ask, number, clock, Lots(*key, number, again))
        except LostError:
            continue
    return None


def within(kind: Callable[[str], float], low: float, high: float) -> Callable[[str], float]:
    """An argument's type: numbers from low to high."""

    def read(text: str) -> float:
        value = kind(text)
        if low <= value <= high:
            return value
        raise argparse.ArgumentTypeError(f"it is not from {low:g} to {high:g}")

    return read


def main(argv: list[str] | None = None) -> int:
    """Command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("out", type=Path, help="folder for the drills")
    p.add_argument("--runs", type=within(int, 1, 10_000), default=10)
    p.add_argument("--seed", type=within(int, 0, 2**32 - 1), default=0)
    p.add_argument("--kind", choices=sorted(KINDS), default="phone")
    p.add_argument("--runs-per-drill", type=within(int, 1, 100), default=1)
    p.add_argument("--fault", choices=[*FAULTS, "cycle"], default="cycle", help="cycle: each in turn")
    p.add_argument("--readings", action=argparse.BooleanOptionalAction, default=None)
    p.add_argument("--axis", action=argparse.BooleanOptionalAction, default=None, dest="axis_given")
    p.add_argument("--survey", action=argparse.BooleanOptionalAction, default=None)
    p.add_argument("--position-off", type=within(float, 0, 50), dest="position_off_m", help="stated place off by, m")
    p.add_argument("--transmitters", type=int, choices=(1, 2, 3))
    p.add_argument(
        "--slope", type=within(float, 0, 60), dest="slope_deg", help="degrees; drawn from 0..35 if not given"
    )
    p.add_argument("--antennas", type=int, choices=(1, 2, 3))
    p.add_argument(
        "--clock-max", type=within(float, 0, 600), dest="clock_max_s", help="largest offset of the readings' clock, s"
    )
    p.add_argument("--noise", choices=noise.KINDS)
    p.add_argument("--noise-file", help="recorded errors (CSV with fix and survey reference)")
    p.add_argument("--series", choices=("psr", "adr"), help="single-epoch or carrier-smoothed fix")
    p.add_argument("--quantum", type=within(float, 0, 1e-4), dest="quantum_deg", help="degrees: 1e-7, 1e-6, 1e-5")
    p.add_argument("--spikes", action="store_const", const=True)
    p.add_argument("--gaps", action="store_const", const=True)
    p.add_argument("--cadence", choices=("mixed", "pulse", "film"))
    p.add_argument("--marks", choices=("mixed", "full", "probe", "none"))
    p.add_argument("--lever", type=within(float, 0, 5), dest="lever_m", help="recorder this far behind the receiver, m")
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
