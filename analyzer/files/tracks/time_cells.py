"""Times as cells of track tables write them: told for a whole column, because one cell often has two meanings."""

import datetime as dt
import re
from collections.abc import Callable, Sequence
from statistics import median

from analyzer.errors import InputError, quoted
from analyzer.files.numbers import number_in
from analyzer.files.times import parse_elapsed, parse_utc
from analyzer.files.tracks.place_cells import LONGEST
from analyzer.files.tracks.point_rows import NAN, of_calendar
from analyzer.files.years import END_RECORDED_S, FIRST_RECORDED_S

ReadTime = Callable[[str, str], float]
"""Text and where it stands -> seconds since 1970 UTC, NaN where the text is empty."""

PER_SECOND = (1.0, 1e3, 1e6, 1e9)
"""Seconds, milliseconds, microseconds, nanoseconds: years of recordings in one are no years of them in another."""
DAY_NUMBERS = (20_000.0, 80_000.0)
"""Days since 1900 of the years 1954 to 2119, as spreadsheets count; some write them without a format."""
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d*)?(?:[eE]\+?\d+)?", re.ASCII)
_ISO = re.compile(r"\d{4}-?\d{2}-?\d{2}[T ]\d{2}:?\d{2}(?::?\d{2}(?:[.,]\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?", re.ASCII)
_DATE = r"(?P<a>\d{1,4})(?P<sign>[-/.])(?P<b>\d{1,2})(?P=sign)(?P<c>\d{1,4})\.?|(?P<digits>\d{8})"
_CLOCK = r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2}(?:[.,:]\d{1,9})?))?|(?P<packed>\d{5,6})(?P<part>[.,]\d{1,9})?"
_WHOLE = re.compile(
    rf"(?:{_DATE})(?:[T,;]|\s)+(?:{_CLOCK})\s*(?:(?P<half>[ap])\.?\s?m\.?)?\s*(?P<zone>Z|UTC|GMT|[+-]\d\d:?\d\d)?",
    re.ASCII | re.IGNORECASE,
)
_HAS_DATE = re.compile(rf"(?:{_DATE})(?:[T,;]|\s)+\d", re.ASCII)
_MONTHS = 12


def has_date(text: str) -> bool:
    """Return whether a text is a date with a time of day behind it."""
    return bool(_HAS_DATE.match(text[:LONGEST]))


def counts_from_1970(text: str) -> bool:
    """Return whether a text is a number too large for a time of day, hhmmss."""
    return bool(_NUMBER.fullmatch(text)) and float(text) >= FIRST_RECORDED_S


def times_like(texts: Sequence[str], *, column: str, where: str, zone: dt.tzinfo | None) -> ReadTime:
    """Return what reads the cells of a column of times, of which `texts` are all.

    Parameters
    ----------
    texts : sequence of str
        Numbers since 1970, in whatever unit gives years of recordings; ISO 8601; or dates in another order with times.
    column, where : str
        Its name, and the place of its first cell, for error texts.
    zone : tzinfo, optional
        Of times that bear none.

    Raises
    ------
    InputError
        Where numbers are no times since 1970, or no date of the column says whether the day or the month stands first.
    """
    filled = [text for text in texts if text]
    numbers = [float(text) for text in filled if len(text) <= LONGEST and _NUMBER.fullmatch(text)]
    if len(numbers) > 0.5 * len(filled) and not _WHOLE.fullmatch(_spread(filled[0])):
        return _counted(median(numbers), column, where)
    day_first = _day_first(filled, column, where)

    def read(text: str, place: str) -> float:
        if not text:
            return NAN
        return parse_utc(text if _ISO.fullmatch(text) else _as_iso(text, day_first), where=place, zone=zone)

    return read


def seconds_from_start(text: str, where: str, *, clock: bool = False) -> float:
    """Return the seconds that a cell counts from the start, NaN where it is empty; `clock`: it is written with colons.

    Raises
    ------
    InputError
        Where it is no such time.
    """
    if clock and text and ":" not in text:
        what = f"{quoted(text)} is no time in minutes and seconds, as the heading says"
        raise InputError(where=where, what=what, do="write it like 6:04")
    return parse_elapsed(text, where=where) if text else NAN


def _counted(usual: float, column: str, where: str) -> ReadTime:
    """Return what reads numbers since 1970 of which `usual` is the middle one."""
    per_second = next((p for p in PER_SECOND if FIRST_RECORDED_S <= usual / p < END_RECORDED_S), None)
    if per_second is None:
        days = DAY_NUMBERS[0] <= usual < DAY_NUMBERS[1]
        raise InputError(
            where=where,
            what=f"the numbers in {quoted(column)}, such as {usual:.15g}, are no times since 1970 in seconds or parts "
            "of them",
            do="give the column a format with date and time in the spreadsheet, and export it again"
            if days
            else "call the column elapsed where it counts seconds from the start, else write ISO 8601 times; the "
            "recorder's clock may not have been set",
        )
    unit = per_second

    def read(text: str, place: str) -> float:
        if not text:
            return NAN
        try:
            return of_calendar(number_in(text) / unit)
        except ValueError:
            raise InputError(
                where=place,
                what=f"the time {quoted(text)} does not count as the other lines do",
                do="mend or remove the line",
            ) from None

    return read


def _day_first(texts: Sequence[str], column: str, where: str) -> bool:
    """Return whether the day stands before the month in dates that begin with neither the year.

    Raises
    ------
    InputError
        Where no date of the column tells, or some tell one and some the other.
    """
    firsts: set[tuple[int, int]] = set()
    example = ""
    for text in {t[:11] for t in texts if not _ISO.fullmatch(t)}:
        found = _HAS_DATE.match(f"{text} 0")
        if found and found["a"] and len(found["a"]) <= 2:
            firsts.add((int(found["a"]), int(found["b"])))
            example = found[0][:-1].strip() if not example or int(found["a"]) <= _MONTHS else example
    day = any(a > _MONTHS for a, _ in firsts)
    month = any(b > _MONTHS for _, b in firsts)
    if day != month or all(a == b for a, b in firsts):
        return day or not month
    what = (
        f"some dates of {quoted(column)} begin with the day and some with the month"
        if day
        else f"the dates of {quoted(column)}, such as {quoted(example)}, may begin with the day or with the month"
    )
    raise InputError(where=where, what=what, do="write them with the year first, like 2026-01-17")


def _as_iso(text: str, day_first: bool) -> str:
    """Return a date with time as ISO 8601 writes it; what is none as it is."""
    found = _WHOLE.fullmatch(_spread(text))
    if found is None:
        return text
    a, b, c = found["a"], found["b"], found["c"]
    if found["digits"]:
        date = (found["digits"][:4], found["digits"][4:6], found["digits"][6:])
    elif len(a) == 4:
        date = (a, b, c)
    else:
        date = (c, b, a) if day_first else (c, a, b)
    if len(date[0]) != 4 or len(date[2]) > 2:
        return text
    clock = _clock(found)
    zone = (found["zone"] or "").upper()
    zone = "Z" if zone in ("UTC", "GMT") else zone
    return f"{date[0]}-{date[1]:0>2}-{date[2]:0>2}T{clock}{zone}" if clock else text


def _clock(found: re.Match[str]) -> str:
    """Return hh:mm:ss of a time, "" where it is none."""
    if found["packed"]:
        six = found["packed"].rjust(6, "0")
        hour, minute, second = six[:2], six[2:4], six[4:] + (found["part"] or "")
    else:
        hour, minute, second = found["h"], found["m"], found["s"] or "00"
    second = second.replace(",", ".").replace(":", ".")
    if found["half"]:
        if not 1 <= int(hour) <= _MONTHS:  # as many hours
            return ""
        hour = str(int(hour) % 12 + (12 if found["half"].lower() == "p" else 0))
    return f"{hour:0>2}:{minute}:{second}"


def _spread(text: str) -> str:
    """Return fourteen digits as date and time of day, "" for a text that is too long for one, others as they are."""
    if len(text) > LONGEST:
        return ""
    digits = text.partition(".")[0]
    return f"{text[:8]} {text[8:]}" if len(digits) == 14 and digits.isdigit() and digits.isascii() else text
