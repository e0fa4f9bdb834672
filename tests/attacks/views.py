"""Damages stored files at random and asks every page, callback and download; counts what was answered with an error.

`python -m tests.attacks.views --views 10000 --seed 1`; a round is told with its seed, and `--round N` repeats it alone.
"""

import argparse
import logging
import random
import shutil
import sys
import tempfile
import threading
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from analyzer.workspace.unforeseen import FAILED
from dashboard.config import PHONES_KEY
from tests.attacks.asked import Question, questions
from tests.attacks.damaged import damaged
from tests.attacks.phone_asked import let_in, phone_questions
from tests.attacks.registered import registered
from tests.attacks.stored import BASKET, damageable, make_workspace, put_back, put_damaged

VIEWS_PER_ROUND = 8
SLOW_S = 5.0
SHOWN = 30
MOST_WORK_S = 60.0


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
        token = let_in(app.server.config[PHONES_KEY])
        whole = Whole(workspace, Path(folder) / "as-it-was")
        asked = _all_questions(app, token, whole)
        rounds = [arguments.round] if arguments.round is not None else range(-(-arguments.views // VIEWS_PER_ROUND))
        return _attacked(app.server, whole, asked, rounds, arguments.seed, tell=arguments.round is not None)


def _app(workspace: Path) -> Any:
    from dashboard.app import app_to_serve
    from dashboard.config import Config

    config = Config(
        workspace / "results", rules=workspace / "rules", workspace=workspace, network="http://192.0.2.7:8070/"
    )
    logging.getLogger("searchwake.dashboard").addHandler(LAST)
    return app_to_serve(config)


class _Last(logging.Handler):
    """Keeps the last error that nobody thought of, as it is logged."""

    error: BaseException | None = None

    def emit(self, record: logging.LogRecord) -> None:
        """Keep it."""
        self.error = record.exc_info[1] if record.exc_info else None


LAST = _Last()


def _all_questions(app: Any, token: str, whole: "Whole") -> list[Question]:
    """Return all questions; each of them must be answered as long as nothing is damaged, else it asks for nothing."""
    from analyzer.files.source import sha256_hex

    asked = questions(BASKET, sha256_hex((whole.workspace / "rules" / "own.toml").read_bytes()))
    asked += [*registered(app, asked), *phone_questions(app.server.config[PHONES_KEY], token)]
    client, wrong = app.server.test_client(), []
    for question in asked:
        with question.ask(client) as answer:
            text = answer.get_data().decode(errors="replace")
            if answer.status_code not in (200, 204, 303, 400, 404, 413, 422) or FAILED in text:
                wrong.append((question.name, answer.status_code, text[:300]))
        if question.changes:
            whole.put_back()
    if wrong:
        raise SystemExit(f"undamaged, these are not answered: {wrong}")
    return asked


def _attacked(app: Any, whole: "Whole", asked: list[Question], rounds: Any, seed: int, *, tell: bool) -> int:
    workspace = whole.workspace
    kept = {path: path.read_bytes() for path in damageable(workspace)}
    views, slowest, causes = 0, 0.0, Counter[str]()
    failures: list[str] = []
    for number in rounds:
        chance = random.Random(f"{seed}/{number}")
        changed = list(_damage(kept, chance))
        chosen = chance.sample(asked, VIEWS_PER_ROUND)
        for question in chosen:
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
        if any(question.changes for question in chosen):
            whole.put_back()
        else:
            for path in {path for path, _ in changed}:
                put_back(path, kept[path])
    _report(views, failures, causes, slowest, seed)
    return 1 if failures else 0


class Whole:
    """A whole workspace as it was, to be put back after a question that changes it."""

    def __init__(self, workspace: Path, copy: Path) -> None:
        self.workspace, self._copy = workspace, copy
        self._before = set(threading.enumerate())
        shutil.copytree(workspace, copy, symlinks=True)

    def put_back(self) -> None:
        """Wait for what was begun, and put everything back."""
        for thread in set(threading.enumerate()) - self._before:
            thread.join(timeout=MOST_WORK_S)
        shutil.rmtree(self.workspace)
        shutil.copytree(self._copy, self.workspace, symlinks=True)


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
