"""The form in which a recording is cut into runs: its rows, and times of day as people type them. No files, no Dash."""

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyzer.errors import InputError, quoted

LONGEST_TITLE = 80
TAKEN, LEFT = "yes", "no"
DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class CutRow:
    """A row of the form: a piece of the recording, as it is typed. `why`: what it seems to be."""

    begin: str
    end: str
    title: str
    take: bool
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class CutView:
    """What the page shows of a recording.

    `zone`: of all times of day on it. `line`: rows of seconds since the begin, metres from the first fix, metres a
    second over half a minute; None in gaps. `starts_s`: of start marks, since the begin. `saved`: whether it is cut
    already. `seen`: what tells whether somebody else cut it in the meantime. `opened_for`: the drill that Load was
    opened for.
    """

    batch: str
    track: int
    path: str
    drill: str
    begin_s: float
    end_s: float
    zone: dt.tzinfo
    rows: tuple[CutRow, ...]
    line: tuple[tuple[float | None, float | None, float | None], ...]
    starts_s: tuple[float, ...] = ()
    saved: bool = False
    seen: str = ""
    opened_for: str = ""

    @property
    def offset_s(self) -> float:
        """Seconds by which clocks of the zone are ahead of UTC."""
        gone = self.zone.utcoffset(None)
        return gone.total_seconds() if gone is not None else 0.0


def clock_of(posix_s: float, begin_s: float, zone: dt.tzinfo) -> str:
    """Return the time of day, to the second that has begun: a start mark in it lies after it.

    `begin_s`: of the recording; where it lasted more than a day, "+1" stands behind times of its second day.
    """
    whole_s = math.floor(posix_s + 1e-3)
    text = dt.datetime.fromtimestamp(whole_s, tz=zone).strftime("%H:%M:%S")
    days = round((whole_s - posix_of_clock(text, begin_s, zone, where="")) / DAY_S)
    return f"{text} +{days}" if days > 0 else text


def posix_of_clock(typed: str, view_begin_s: float, zone: dt.tzinfo, *, where: str) -> float:
    """Return seconds since 1970 UTC of "9:41:30" or "9:41", on the day of the recording or, before its time, the next.

    "9:41 +1" is a day later than that.

    Raises
    ------
    InputError
        Where it is no time of day.
    """
    found = re.fullmatch(r"\s*(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?(?:\s*\+(\d))?\s*", typed, re.ASCII)
    hour, minute, second, days = (int(part or 0) for part in found.groups()) if found else (99, 0, 0, 0)
    if not (hour < 24 and minute < 60 and second < 60):
        raise InputError(where=where, what=f"{quoted(typed.strip())} is no time of day", do="write it like 9:41:30")
    begin = dt.datetime.fromtimestamp(view_begin_s, tz=zone)
    at = begin.replace(hour=hour, minute=minute, second=second, microsecond=0)
    if at < begin - dt.timedelta(seconds=1):
        at += dt.timedelta(days=1)
    return at.timestamp() + days * DAY_S


def typed_cuts(form: Mapping[str, str]) -> tuple[CutRow, ...]:
    """Return the rows of a form that was sent, those with nothing in them left out."""
    numbers = sorted({int(m[1]) for key in form if (m := re.fullmatch(r"begin-(\d{1,4})", key))})
    rows = [
        CutRow(
            form.get(f"begin-{n}", "").strip()[:20],
            form.get(f"end-{n}", "").strip()[:20],
            " ".join(form.get(f"title-{n}", "").split())[:LONGEST_TITLE],
            form.get(f"take-{n}", TAKEN) == TAKEN,
            form.get(f"why-{n}", "")[:200],
        )
        for n in numbers
    ]
    return tuple(row for row in rows if row.begin or row.end)


def titles(base: str, takes: Sequence[bool]) -> list[str]:
    """Return a title for each piece that is taken: the recording's name with a number."""
    number, found = 0, []
    for take in takes:
        number += take
        found.append(f"{base} {number}" if take else "")
    return found
