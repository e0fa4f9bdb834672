"""What a file is, as its content shows."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Recognised:
    """What a file is; the fields are those of `IncomingFile`."""

    kind: str
    ending: str = ""
    begin_s: float | None = None
    end_s: float | None = None
    elapsed: bool = False
    rows: int = 0
    title: str = ""
    needs: str = ""
    aside: str = ""
    told: str = ""
    latitude: float | None = None
    longitude: float | None = None
    day: str = ""
    zone: str = ""
    zone_asked: bool = False
    problem: str = ""


Reader = Callable[[bytes, str], Recognised]
"""Makes what a file is of its bytes and its name; raises `InputError` where it cannot be used."""


def counted(dropped: Iterable[tuple[str, int]]) -> str:
    """Return what is set aside of a file, in words."""
    return ", ".join(f"{count} {reason}" for reason, count in dropped)
