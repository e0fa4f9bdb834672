"""Measuring that goes on while people look at pages: which drill, which run of it, and what did not work.

What was changed is measured in the order in which it came, one drill at a time, as loads are.
"""

import contextlib
import functools
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from analyzer.errors import AnalyzerError
from analyzer.workspace.unforeseen import unforeseen_line
from dashboard.services.intake import Intake

WAITING, MEASURING, MEASURED = "waiting", "measuring", "measured"
MOST_KEPT = 200
"""Drills of which is kept how their last measuring went; our choice."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the measuring of a drill is. `state`: WAITING, MEASURING or MEASURED; `run`: the one being measured, the
    `number`-th of `count`; `since_s`: seconds since 1970; `failures`: a line each. `asked`: how often it was asked for;
    `seen`: how often it had been when the last pass that ended began, which saw all files as they were then.
    """

    state: str
    run: str = ""
    number: int = 0
    count: int = 0
    since_s: float = 0.0
    failures: tuple[str, ...] = ()
    asked: int = 0
    seen: int = 0


@dataclass(frozen=True, slots=True)
class Measuring:
    """The measuring of one dashboard."""

    intake: Intake
    _at: dict[str, Progress] = field(default_factory=dict)
    _anew: set[str] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def start(self, *drills: str, anew: bool = False) -> None:
        """Have drills measured as soon as it is their turn; returns at once. `anew`: it is noted what moved."""
        with self._lock:
            self._anew.update(drills if anew else ())
            for drill in drills:
                now = self._at.get(drill, Progress(MEASURED))
                self._put(drill, Progress(WAITING, since_s=time.time(), asked=now.asked + 1, seen=now.seen))
        threading.Thread(target=self.work, args=(drills,), daemon=True, name="measuring").start()

    def progress(self, drill: str) -> Progress | None:
        """Return how far a drill is, None where it was not asked for since the program began."""
        return self._at.get(drill)

    def busy(self, drill: str) -> bool:
        """Return whether a drill waits to be measured, or is."""
        found = self._at.get(drill)
        return found is not None and found.state != MEASURED

    def work(self, drills: Sequence[str]) -> None:
        """Measure drills, whatever happens; how it goes is in their progress."""
        for drill in drills:
            asked, anew = self._asked(drill)
            lines: tuple[str, ...] = ()
            try:
                told = functools.partial(self._told, drill)
                lines = self.intake.measure(drill, told, anew=True) if anew else self.intake.measure(drill, told)
            except AnalyzerError as error:
                lines = (str(error),)
            except Exception as error:
                lines = (unforeseen_line(drill, "measuring", error),)
            finally:
                self._end(drill, asked, lines)

    def _asked(self, drill: str) -> tuple[int, bool]:
        """Return how often a drill was asked for until now, and whether what moves is to be noted in this pass."""
        with self._lock:
            anew = drill in self._anew
            self._anew.discard(drill)
            return self._at.get(drill, Progress(MEASURED)).asked, anew

    def _told(self, drill: str, run: str) -> None:
        count = 0
        with contextlib.suppress(AnalyzerError):
            count = self.intake.run_count(drill)
        with self._lock:
            now = self._at.get(drill, Progress(WAITING))
            number = now.number + 1 if now.state == MEASURING else 1
            since_s = now.since_s or time.time()
            self._put(
                drill, Progress(MEASURING, run, number, max(count, number), since_s, asked=now.asked, seen=now.seen)
            )

    def _end(self, drill: str, asked: int, lines: tuple[str, ...]) -> None:
        with self._lock:
            now = self._at.get(drill, Progress(MEASURED))
            if asked >= now.seen:  # passes need not get their turn in the order in which they were asked for
                now = replace(now, seen=asked, failures=lines)
            if now.seen == now.asked:
                self._put(drill, replace(now, state=MEASURED))
            else:  # it was asked for again: that pass ends it
                self._put(drill, Progress(WAITING, since_s=time.time(), asked=now.asked, seen=now.seen))

    def _put(self, drill: str, progress: Progress) -> None:
        self._at.pop(drill, None)
        self._at[drill] = progress
        while len(self._at) > MOST_KEPT:
            self._at.pop(next(iter(self._at)))
