"""Codes that let one phone in, once, and limits on how often anything may be tried. Both live in memory alone."""

import contextlib
import hmac
import secrets
import threading
from collections import deque
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field

SIGNS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""No sign that is taken for another one on a screen in sunlight (I, L, O, 0, 1)."""
CODE_SIGNS = 8
"""Our choice: 31^8 codes, of which one counts; at 3000 tries a minute a guess takes 540 years on average."""
CODE_LIFE_S = 600.0
"""Our choice: a code that nobody used is replaced after ten minutes, so that a photograph of the screen opens nothing
later."""


def plain_code(text: str) -> str:
    """Return a code as typed by hand in the form that codes have: capitals, no spaces or hyphens."""
    return "".join(text.split()).replace("-", "").upper()


def spaced_code(code: str) -> str:
    """Return a code as it is read out: in two halves."""
    half = CODE_SIGNS // 2
    return f"{code[:half]}-{code[half:]}"


@dataclass(slots=True)
class Codes:
    """The one code that counts now. Each is used once, and then another one counts."""

    _code: str = ""
    _made_s: float = 0.0
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def current(self, now_s: float) -> str:
        """Return the code that counts; a new one where the last was used or is too old."""
        with self._turn:
            if not self._code or not 0.0 <= now_s - self._made_s <= CODE_LIFE_S:
                self._code = "".join(secrets.choice(SIGNS) for _ in range(CODE_SIGNS))
                self._made_s = now_s
            return self._code

    def use(self, code: str, now_s: float) -> bool:
        """Use a code up; return whether it counted."""
        typed = plain_code(code).encode()
        with self._turn:
            counts = bool(self._code) and 0.0 <= now_s - self._made_s <= CODE_LIFE_S
            if not counts or not hmac.compare_digest(typed, self._code.encode()):
                return False
            self._code = ""
            return True


@dataclass(slots=True)
class Limit:
    """At most `most` of something in `per_s` seconds, for each key (a device, an address)."""

    most: int
    per_s: float
    _seen: dict[Hashable, deque[float]] = field(default_factory=dict)
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def allows(self, key: Hashable, now_s: float) -> bool:
        """Return whether one more is allowed now, and count it."""
        with self._turn:
            for other in [k for k, times in self._seen.items() if times and now_s - times[-1] > self.per_s]:
                del self._seen[other]
            times = self._seen.setdefault(key, deque())
            while times and now_s - times[0] > self.per_s:
                times.popleft()
            if len(times) >= self.most:
                return False
            times.append(now_s)
            return True


@dataclass(slots=True)
class OneAtATime:
    """One piece of work at a time for each key (a device)."""

    _busy: set[Hashable] = field(default_factory=set)
    _turn: threading.Lock = field(default_factory=threading.Lock)

    @contextlib.contextmanager
    def begun(self, key: Hashable) -> Iterator[bool]:
        """Give whether the work may be done, which nothing else of the key may until it is."""
        with self._turn:
            free = key not in self._busy
            self._busy.add(key)
        try:
            yield free
        finally:
            if free:
                with self._turn:
                    self._busy.discard(key)
