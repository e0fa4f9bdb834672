"""Times as written in files: ISO 8601 with an offset, or time elapsed since the start mark."""

import datetime as dt
import math
import re
import zoneinfo

from analyzer.errors import InputError, quoted
from analyzer.files.numbers import number_in
from analyzer.files.years import FIRST_YEAR, LAST_YEAR

MAX_ELAPSED_S = 864_000.0
"""Ten days; our own choice, because a search lasts minutes and a recorder left running a day."""
_CLOCK = re.compile(r"(?:(\d{1,4}):)?(\d{1,3}):(\d{1,2}(?:\.\d{1,9})?)", re.ASCII)
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})")
_FARTHEST = dt.timedelta(hours=14)
_WITH_DAY = re.compile(r"\d{4}-?\d{2}-?\d{2}[T ]\d{2}")


def zone_of(text: str) -> dt.tzinfo | None:
    """Return a time zone by its IANA name ("Europe/Vienna") or fixed offset ("+01:00", "Z"), None for other texts."""
    offset = _OFFSET.fullmatch(text)
    if text in ("Z", "UTC"):
        return dt.UTC
    if offset:
        sign, hours, minutes = offset.groups()
        away = dt.timedelta(hours=int(hours), minutes=int(minutes))
        return dt.timezone(-away if sign == "-" else away) if away <= _FARTHEST and int(minutes) < 60 else None
    try:
        return zoneinfo.ZoneInfo(text) if "/" in text else None
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return None


def offset_text(moment: dt.datetime | None) -> str:
    """Return the offset from UTC that a time is written with, "+01:00"; "" for none, and for UTC: it is no place's."""
    offset = None if moment is None else moment.utcoffset()
    if not offset:
        return ""
    minutes = round(offset.total_seconds() / 60.0)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


class ZoneAsked(dt.tzinfo):
    """UTC, and whether anybody asked for it: then a file has times without a zone."""

    asked = False

    def utcoffset(self, moment: dt.datetime | None) -> dt.timedelta:
        """Return 0 and note that it was asked for."""
        del moment
        self.asked = True
        return dt.timedelta(0)

    def dst(self, moment: dt.datetime | None) -> dt.timedelta:
        """Return 0."""
        del moment
        return dt.timedelta(0)

    def tzname(self, moment: dt.datetime | None) -> str:
        """Return the name of UTC."""
        del moment
        return "UTC"


def parse_utc(text: str, *, where: str, zone: dt.tzinfo | None = None) -> float:
    """Return seconds since 1970-01-01T00:00Z of an ISO 8601 time with offset; `zone`: of a time that bears none.

    Raises
    ------
    InputError
        Where the text is no such time, its year or its offset is none of a recording, it has no offset and no zone is
        given, or the clocks of the zone show it never or twice.
    """
    stripped = text.strip()
    try:
        if not _WITH_DAY.match(stripped):
            raise ValueError
        moment = dt.datetime.fromisoformat(stripped)
    except ValueError:
        raise InputError(
            where=where,
            what=f"the time {quoted(text)} is not an ISO 8601 time",
            do="write it like 2026-01-17T09:30:00Z or 2026-01-17T10:30:00+01:00",
        ) from None
    return posix_of(moment, where=where, zone=zone)


def posix_of(moment: dt.datetime, *, where: str, zone: dt.tzinfo | None = None) -> float:
    """Return seconds since 1970-01-01T00:00Z of a moment; `zone`: of one that bears none.

    Raises
    ------
    InputError
        As `parse_utc`.
    """
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise InputError(
            where=where,
            what=f"the year {moment.year} is not between {FIRST_YEAR} and {LAST_YEAR}",
            do="check the date and the clock of the recorder, which may not have been set",
        )
    if moment.tzinfo is not None:
        return _with_offset(moment, where)
    shown = moment.isoformat()
    if zone is None:
        raise InputError(
            where=where,
            what=f"the time {quoted(shown)} has no offset from UTC",
            do="add Z for UTC or an offset like +01:00, or write zone in run.toml",
        )
    early, late = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() != late.utcoffset():
        gap = early.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != moment
        what = "is never shown" if gap else "is shown twice"
        raise InputError(
            where=where,
            what=f"the time {quoted(shown)} {what} by the clocks of {zone}, which are changed then",
            do="write the offset from UTC beside the time, or a fixed offset as zone in run.toml",
        )
    return early.timestamp()


def _with_offset(moment: dt.datetime, where: str) -> float:
    try:
        offset = moment.utcoffset()
    except ValueError:  # of a day and more
        offset = None
    if offset is None or abs(offset) > _FARTHEST:
        raise InputError(
            where=where,
            what="the time's offset from UTC is over 14 hours",
            do="write the offset of the place, like +01:00, or Z for UTC",
        )
    return moment.timestamp()


def parse_elapsed(text: str, *, where: str) -> float:
    """Return seconds of "83.5", "1:23.5" (mm:ss.s) or "1:01:23" (h:mm:ss).

    Raises
    ------
    InputError
        Where the text is none of these, is negative, over ten days, or has 60 and more seconds (or minutes beside
        hours).
    """
    stripped = text.strip()
    match = _CLOCK.fullmatch(stripped)
    if match:
        hours, minutes, seconds = match.groups()
        if float(seconds) < 60.0 and (hours is None or int(minutes) < 60):
            return _elapsed(int(hours or 0) * 3600.0 + int(minutes) * 60.0 + float(seconds), where)
    else:
        try:
            value = number_in(stripped)
        except ValueError:
            value = math.nan
        if math.isfinite(value) and value >= 0.0:
            return _elapsed(value, where)
    raise InputError(
        where=where,
        what=f"the elapsed time {quoted(text)} is neither seconds nor mm:ss.s",
        do="write seconds since the start mark like 83.5, or 1:23.5",
    )


def _elapsed(value_s: float, where: str) -> float:
    if value_s > MAX_ELAPSED_S:
        raise InputError(
            where=where,
            what=f"the elapsed time {value_s:g} s is over {MAX_ELAPSED_S / 86_400.0:g} days",
            do="write seconds since the start mark like 83.5, or 1:23.5",
        )
    return value_s


def utc_text(posix_s: float) -> str:
    """Return an ISO 8601 UTC time with milliseconds, "2026-01-17T09:30:00.000Z"."""
    moment = dt.datetime.fromtimestamp(round(posix_s * 1000.0) / 1000.0, tz=dt.UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"
