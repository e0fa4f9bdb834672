"""The zones that a recorder's clock may be in, as offsets from UTC: those in use (IANA time zone database)."""

_QUARTERS = {-9.5, -3.5, 3.5, 4.5, 5.5, 5.75, 6.5, 8.75, 9.5, 10.5, 12.75}
"""Offsets in use that are no whole hours."""


def _text(hours: float) -> str:
    minutes = round(abs(hours) * 60)
    return f"{'-' if hours < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def _words(text: str) -> str:
    return {"+00:00": "UTC", "+01:00": "+01:00, winter in central Europe", "+02:00": "+02:00, summer there"}.get(
        text, text
    )


ZONES = tuple((t, _words(t)) for t in map(_text, sorted({*map(float, range(-12, 15)), *_QUARTERS})))
"""Value and words of each."""
