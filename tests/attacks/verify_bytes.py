"""Does `verify` name a single changed byte, wherever it is? An invented event, one byte of one file at a time.

`python -m tests.attacks.verify_bytes --changes 1000 --seed 1`

The event has a rule sheet of its own, two runs, a judge's entry and a standing from before it was scored again. Each
round takes one of its files, changes one byte at a random place to another random one, verifies, and puts the byte
back. A change counts as named where a line of `verify` holds the file's path, or, where the event cannot be read any
more, the one line that says so holds its name. Runs are measured anew for every state of their files, once for each.
"""

import argparse
import shutil
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from analyzer.errors import AnalyzerError
from analyzer.events.files.folder import read_event_folder
from analyzer.events.store import score_event
from analyzer.events.verify import verify_event
from analyzer.files.names import TRUTH_FILE
from analyzer.workspace.layout import LOCK_FILE

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
RUNS = ("runa-1", "ilvo-2")
EVENT = """[event]
name = "Invented cup"
date = 2026-02-14
rules = "cup_rules.toml"

[[class]]
id = "open"

[[field]]
drill = "lower_bowl"

[[entry]]
bib = 1
name = "Runa"
class = "open"
runs = {lower_bowl = "runa-1"}

[[entry]]
bib = 2
name = "Ilvo"
class = "open"
runs = {lower_bowl = "ilvo-2"}
"""
JUDGE = """
[[judge]]
bib = 1
field = "lower_bowl"
penalty_s = 10
reason = "left the area"
by = "A judge"
at = 2026-02-14T10:12:00+01:00
"""
SHEET = """[event_rules]
name = "Invented sheet"
version = "1"
kind = "fastest"
missed_transmitter_s = 300
"""
NOT_READ = (TRUTH_FILE, LOCK_FILE)
"""The truth of an invented run, which no score rests on, and a lock, which is empty."""


@dataclass
class Outcome:
    """What came of the rounds. `missed`: a line for each change that no line named; `rounds`: file -> changes of it."""

    missed: list[str] = field(default_factory=list)
    rounds: Counter = field(default_factory=Counter)


def make_club(root: Path) -> Path:
    """Write a workspace with an event that was scored, and once more after a judge's entry; return the event."""
    drill, event = root / "drills" / "lower_bowl", root / "events" / "cup"
    for run in RUNS:
        shutil.copytree(SAMPLES / "lower_bowl" / "runs" / run, drill / "runs" / run)
        toml = drill / "runs" / run / "run.toml"
        toml.write_text("\n".join(line for line in toml.read_text().splitlines() if not line.startswith("bib")) + "\n")
    shutil.copy(SAMPLES / "lower_bowl" / "drill.toml", drill)
    event.mkdir(parents=True)
    (event / "cup_rules.toml").write_text(SHEET)
    (event / "event.toml").write_text(EVENT)
    score_event(read_event_folder(event))
    (event / "event.toml").write_text(EVENT + JUDGE)
    score_event(read_event_folder(event), again=True)
    return event


def files_of(root: Path) -> list[Path]:
    """Return every file that a score rests on or that scoring wrote."""
    return sorted(p for p in root.rglob("*") if p.is_file() and p.name not in NOT_READ)


def lines_of(event: Path, scratch: Path) -> list[str]:
    """Return what `verify` says."""
    try:
        return verify_event(event, scratch=scratch)[0]
    except AnalyzerError as error:
        return [str(error)]


def changed_bytes(event: Path, scratch: Path, *, changes: int, seed: int) -> Outcome:
    """Change so many bytes, one at a time; the event is as before afterwards."""
    rng, root, out = np.random.default_rng(seed), event.parents[1], Outcome()
    files = files_of(root)
    unharmed = lines_of(event, scratch)
    if unharmed:
        raise RuntimeError(f"verify names something where nothing is changed: {unharmed}")
    for _ in range(changes):
        path = files[rng.integers(len(files))]
        data = path.read_bytes()
        place = int(rng.integers(len(data)))
        other = (data[place] + int(rng.integers(1, 256))) % 256
        try:
            path.write_bytes(data[:place] + bytes([other]) + data[place + 1 :])
            lines = lines_of(event, scratch)
        finally:
            path.write_bytes(data)
        shown = path.relative_to(event if event in path.parents else root).as_posix()
        out.rounds[shown] += 1
        if not any(shown in line or (len(lines) == 1 and path.name in line) for line in lines):
            out.missed.append(f"{shown}, byte {place}: 0x{data[place]:02x} -> 0x{other:02x}; verify said {lines}")
    return out


def main() -> int:
    """Print how many changes were named, by file, and each that was not; return 1 where there is one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        event = make_club(Path(temporary) / "club")
        scratch = Path(temporary) / "scratch"
        scratch.mkdir()
        out = changed_bytes(event, scratch, changes=arguments.changes, seed=arguments.seed)
    for name, count in sorted(out.rounds.items()):
        sys.stdout.write(f"{count:5d}  {name}\n")
    for line in out.missed:
        sys.stdout.write(f"not named: {line}\n")
    sys.stdout.write(
        f"{arguments.changes - len(out.missed)} of {arguments.changes} changed bytes named, seed {arguments.seed}\n"
    )
    return 1 if out.missed else 0


if __name__ == "__main__":
    sys.exit(main())
