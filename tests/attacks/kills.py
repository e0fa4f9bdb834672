"""Kill what writes at random moments: `python -m tests.attacks.kills --kills 300 --seed 1` tells the counts.

After each kill no file under a final name is half written, nothing that was there before is gone, and the act done
again ends well and leaves what an undisturbed one leaves. The seed gives acts and waiting times; where a kill hits
depends on the machine as well.
"""

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.attacks.children import begin, done
from tests.attacks.workspace_acts import ACTS, World, differing, files, half_written, lost, told


def attack(kills: int, seed: int, scratch: Path) -> tuple[Counter[str], list[str]]:
    """Return how many kills of each act hit it at work, and came after its end, and a line for each fault."""
    world, rng, counts, faults = World(scratch), random.Random(seed), Counter[str](), list[str]()
    output = scratch / "output"
    for name in ACTS:
        faults += undisturbed(world, name, output)
    for number in range(kills if not faults else 0):
        name = list(ACTS)[number % len(ACTS)]
        club, wait_s = world.fresh(), rng.uniform(0.0, world.seconds[name])
        child = begin(lambda club=club, name=name: told(ACTS[name], club), output)
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        counts[f"{name}: {'at work' if os.WIFSIGNALED(status) else 'after its end'}"] += 1
        found = [*half_written(club), *lost(world.before, club, world.changed(name))]
        code, printed = done(lambda club=club, name=name: told(ACTS[name], club), output)
        if code != 0:
            found.append(f"done again it ends with {code}: {printed[-300:]}")
        found += differing(club, world.after[name])
        faults += [f"kill {number} of {name} after {1000 * wait_s:.1f} ms: {line}" for line in found]
    return counts, faults


def undisturbed(world: World, name: str, output: Path) -> list[str]:
    """Do an act as it is meant, note what it leaves and how long it takes, and return what is wrong.

    It is done once before, so that the time is that of an act whose files and modules are in memory.
    """
    done(lambda: told(ACTS[name], world.fresh()), output)
    club, start = world.fresh(), time.monotonic()
    code, printed = done(lambda: told(ACTS[name], club), output)
    world.seconds[name], world.after[name] = time.monotonic() - start, files(club)
    found = [] if code == 0 else [f"undisturbed {name} ends with {code}: {printed[-500:]}"]
    return found + [f"undisturbed {name}: {line}" for line in half_written(club)]


def main() -> int:
    """Do what the command line says; 1 where there was a fault."""
    parser = argparse.ArgumentParser(description="Kill what writes at random moments.")
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    scratch = Path(tempfile.mkdtemp(prefix="searchwake-kills-"))
    try:
        counts, faults = attack(given.kills, given.seed, scratch)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    lines = [*faults, *(f"{what}: {n}" for what, n in sorted(counts.items()))]
    at_work = sum(n for what, n in counts.items() if what.endswith("at work"))
    lines.append(f"{sum(counts.values())} kills, {at_work} at work, seed {given.seed}: {len(faults)} faults")
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
