"""The readers of files and whole runs, attacked with seeded inputs.

    python -m tests.attacks.readers --inputs 50000 --seed 7      # counts by kind; exit code 1 where anything is wrong
    python -m tests.attacks.readers --only 1234                  # one input again, with all that is known of it
    python -m tests.attacks.readers --bombs                      # files that are made to cost much

Every hundredth input is a whole run: read, measured with two draws, its result written and read. Input i of a seed is
input seed * 10,000,000 + i. A worker process takes one input after the other; an input has 5 seconds of the processor
and 1 GB of memory beyond what the program itself takes.
"""

import argparse
import multiprocessing
import resource
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from multiprocessing.connection import Connection
from pathlib import Path

from tests.attacks import bombs
from tests.attacks.trial import MESSAGE, RAW, READ, READERS, REFUSED, Outcome, made, outcome, tried

LIMIT_S = 5
LIMIT_BYTES = 1_000_000_000
PATIENCE_S = 90.0
"""A library that never looks at signals is ended from outside; the processor may be busy with other things."""
APART = 10_000_000
SLOW, MEMORY, DIED = "too slow", "too much memory", "process died"
WRONG = (RAW, MESSAGE, SLOW, MEMORY, DIED)
MOST_TOLD = 30

Task = int | str
"""The seed of an input, or the name of a bomb."""


class TooSlowError(BaseException):
    """The time of an input is over; no reader may take it for an error of a library."""


def _over(*_: object) -> None:
    raise TooSlowError


def limited(task: Task) -> Outcome:
    """Return what comes of a task within its time; the memory limit is that of the process."""
    signal.signal(signal.SIGPROF, _over)
    try:
        if isinstance(task, int):
            signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
            return tried(task)
        kind, make = {**bombs.SMALL, **bombs.LARGE}[task]
        data = make()
        signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
        return outcome(kind, lambda: READERS[kind](data))
    except TooSlowError:
        return Outcome(str(task), SLOW)
    except MemoryError:
        return Outcome(str(task), MEMORY)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def _limit_memory() -> None:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    most = pages * resource.getpagesize() + LIMIT_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def _work(pipe: Connection, tasks: list[Task]) -> None:
    tried(0)  # a whole run: what the program itself takes is loaded
    _limit_memory()
    for task in tasks:
        pipe.send(limited(task))
    pipe.close()


def attacked(tasks: Iterable[Task]) -> Iterator[tuple[Task, Outcome]]:
    """Yield each task and what comes of it. A process that does not answer is ended and another one goes on."""
    left = list(tasks)
    context = multiprocessing.get_context("fork" if "fork" in multiprocessing.get_all_start_methods() else None)
    while left:
        here, there = context.Pipe(duplex=False)
        worker = context.Process(target=_work, args=(there, left), daemon=True)
        worker.start()
        there.close()
        done = 0
        try:
            for task in left:
                if not here.poll(PATIENCE_S):
                    worker.kill()
                    yield task, Outcome(str(task), SLOW, "did not look at signals")
                    break
                yield task, here.recv()
                done += 1
            left = left[done + (done < len(left)) :]
        except EOFError:
            yield left[done], Outcome(str(left[done]), DIED)
            left = left[done + 1 :]
        worker.join()


def report(found: Iterable[tuple[Task, Outcome]]) -> int:
    """Print what is wrong, and counts by kind of input, those so far where it is stopped; return the number of wrong
    outcomes."""
    counts: dict[str, Counter[str]] = {}
    try:
        _count(found, counts)
    except KeyboardInterrupt:
        print("stopped; so far:")
    print(f"{'kind':<14}{'inputs':>8}" + "".join(f"{word:>18}" for word in (READ, REFUSED, *WRONG)))
    total: Counter[str] = sum(counts.values(), Counter())
    for kind, own in (*sorted(counts.items()), ("all", total)):
        print(f"{kind:<14}{own.total():>8}" + "".join(f"{own[word]:>18}" for word in (READ, REFUSED, *WRONG)))
    return sum(total[word] for word in WRONG)


def _count(found: Iterable[tuple[Task, Outcome]], counts: dict[str, Counter[str]]) -> None:
    wrong = 0
    began = time.monotonic()
    for number, (task, one) in enumerate(found, start=1):
        kind = "any" if one.what in (SLOW, MEMORY, DIED) else one.kind.partition(",")[0]
        counts.setdefault(kind, Counter())[one.what] += 1
        if one.what in WRONG:
            wrong += 1
            if wrong <= MOST_TOLD:
                print(f"{one.what}: --only {task}\n{one.detail}", flush=True)
        if number % 1000 == 0:
            print(f"{number} inputs, {wrong} wrong, {time.monotonic() - began:.0f} s", flush=True)


def main(argv: list[str] | None = None) -> int:
    """Run the command; return its exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--inputs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", help="the number of an input, or the name of a bomb")
    parser.add_argument("--keep", type=Path, help="with --only: write the input there")
    parser.add_argument("--bombs", action="store_true")
    asked = parser.parse_args(argv)
    if asked.only is not None:
        task: Task = int(asked.only) if asked.only.isdigit() else asked.only
        if asked.keep is not None and isinstance(task, int):
            _, data = made(task)
            asked.keep.write_bytes(data if isinstance(data, bytes) else repr(data).encode())
        return int(report(attacked([task])) > 0)
    tasks: list[Task] = [*bombs.SMALL, *bombs.LARGE] if asked.bombs else []
    tasks += [] if asked.bombs else range(asked.seed * APART, asked.seed * APART + asked.inputs)
    return int(report(attacked(tasks)) > 0)


if __name__ == "__main__":
    sys.exit(main())
