"""Damages stored files at random and asks every page, callback and download; counts what was answered with an error.

`python -m tests.attacks.views --views 10000 --seed 1`; a round is told with its seed, and `--round N` repeats it alone.
"""

import argparse
import logging
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from analyzer.workspace.unforeseen import FAILED
from tests.attacks.asked import Question, questions
from tests.attacks.damaged import damaged
from tests.attacks.stored import BASKET, damageable, make_workspace, put_back, put_damaged

VIEWS_PER_ROUND = 8
SLOW_S = 5.0
SHOWN = 30


def main() -> int:
    """Attack as the arguments say; return 1 where a view failed or was slow."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--views", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--round", type=int, help="this round alone, with tracebacks")
    arguments = parser.parse_args()
    logging.getLogger("searchwake.dashboard").propagate = False
    with tempfile.TemporaryDirectory(prefix="searchwake-views-") as folder:
        workspace = make_workspace(Path(folder) / "week")
        app = _app(workspace)
        asked = _all_questions(app, workspace)
        rounds = [arguments.round] if arguments.round is not None else range(-(-arguments.views // VIEWS_PER_ROUND))
        return _attacked(app, workspace, asked, rounds, arguments.seed, tell=arguments.round is not None)


def _app(workspace: Path) -> Any:
    from dashboard.app import app_to_serve
    from dashboard.config import Config

    server = app_to_serve(Config(workspace / "results", rules=workspace / "rules", workspace=workspace)).server
    logging.getLogger("searchwake.dashboard").addHandler(LAST)
    return server


class _Last(logging.Handler):
    """Keeps the last error that nobody thought of, as it is logged."""

    error: BaseException | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Keep it."""
        self.error = record.exc_info[1] if record.exc_info else None


LAST = _Last()


def _all_questions(app: Any, workspace: Path) -> list[Question]:
    """Return all questions; each of them must be answered as long as nothing is damaged, else it asks for nothing."""
    from analyzer.files.source import sha256_hex

    asked = questions(BASKET, sha256_hex((workspace / "rules" / "own.toml").read_bytes()))
    client = app.test_client()
    before = {path: path.read_bytes() for path in damageable(workspace)}
    wrong = [(q.name, status) for q in asked if (status := q.ask(client).status_code) not in (200, 204, 303, 404, 422)]
    if wrong:
        raise SystemExit(f"undamaged, these are not answered: {wrong}")
    for path, data in before.items():
        put_back(path, data)
    return asked


def _attacked(app: Any, workspace: Path, asked: list[Question], rounds: Any, seed: int, *, tell: bool) -> int:
    kept = {path: path.read_bytes() for path in damageable(workspace)}
    views, slowest, causes = 0, 0.0, Counter[str]()
    failures: list[str] = []
    for number in rounds:
        chance = random.Random(f"{seed}/{number}")
        changed = list(_damage(kept, chance))
        for question in chance.sample(asked, VIEWS_PER_ROUND):
            LAST.error = None
            began = time.perf_counter()
            error = _asked(app, question)
            took = time.perf_counter() - began
            views, slowest = views + 1, max(slowest, took)
            if error or took > SLOW_S:
                causes[error.split(": ")[0] or "slow"] += 1
                names = ", ".join(f"{path.relative_to(workspace)} ({how})" for path, how in changed)
                if tell and LAST.error is not None:
                    traceback.print_exception(LAST.error)
                failures.append(f"round {number}: {question.name}: {error or f'{took:.1f} s'}; damaged: {names}")
        for path in {path for path, _ in changed} | {p for p in kept if "incoming" in p.parts}:
            put_back(path, kept[path])
    _report(views, failures, causes, slowest, seed)
    return 1 if failures else 0


def _damage(kept: dict[Path, bytes], chance: random.Random) -> Iterator[tuple[Path, str]]:
    for path in chance.sample(sorted(kept), chance.choice((1, 1, 2, 3, 6))):
        how = chance.choices(("content", "folder", "link", "gone"), (60, 1, 1, 2))[0]
        put_damaged(path, damaged(kept[path], path.suffix, chance), how)
        yield path, how


def _asked(app: Any, question: Question) -> str:
    """Return what went wrong, "" where the question was answered."""
    try:
        with question.ask(app.test_client()) as answer:
            text = answer.get_data().decode(errors="replace")
            return _last() if answer.status_code >= 500 or FAILED in text else ""
    except Exception as error:
        return f"{type(error).__name__}: {error}"[:200]


def _last() -> str:
    """Return the place and words of the error that nobody thought of."""
    error = LAST.error
    if error is None:
        return "500, or words of an unforeseen error"
    frame = [f for f in traceback.extract_tb(error.__traceback__) if "site-packages" not in f.filename][-1]
    return f"{type(error).__name__} in {Path(frame.filename).name}:{frame.lineno} {frame.name}: {error}"[:200]


def _report(views: int, failures: list[str], causes: Counter[str], slowest: float, seed: int) -> None:
    say = sys.stdout.write
    for line in failures[:SHOWN]:
        say(f"{line}\n")
    for cause, count in causes.most_common(SHOWN):
        say(f"{count:5d}  {cause}\n")
    slow = causes["slow"]
    say(f"{views} views, {len(failures) - slow} answered 500, {slow} above {SLOW_S:.0f} s, ")
    say(f"slowest {slowest:.2f} s, seed {seed}\n")


if __name__ == "__main__":
    sys.exit(main())
