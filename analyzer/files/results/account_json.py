"""Timeline and account of a result as JSON values, and back.

Seconds and metres that must add up are rounded to 1e-6, figures of the account too: their values add up to the run.
"""

from typing import Any

from analyzer.model.account import AccountRow, TimelineRow
from analyzer.model.figure import Figure

Json = dict[str, Any]
EXACT = 6


def timeline_row(row: TimelineRow) -> Json:
    """Return a row of the timeline as JSON values."""
    return {
        "phase": row.phase,
        "transmitter": row.transmitter,
        "activity": row.activity,
        "from_s": round(row.from_s, EXACT),
        "to_s": round(row.to_s, EXACT),
        "seconds": round(row.seconds, EXACT),
        "metres": round(row.metres, EXACT),
    }


def account_row(row: AccountRow) -> Json:
    """Return a row of the account as JSON values."""
    figure = row.seconds
    seconds = {name: round(getattr(figure, name), EXACT) for name in ("value", "low", "high")}
    return {
        "phase": row.phase,
        "transmitter": row.transmitter,
        "cause": row.cause,
        "seconds": {**seconds, "unit": figure.unit},
        "metres": round(row.metres, EXACT),
        "windows": [[round(a, EXACT), round(b, EXACT)] for a, b in row.windows],
    }


def read_timeline_row(values: Json) -> TimelineRow:
    """Return a row of the timeline; raise TypeError or KeyError where a part is missing or one too many."""
    return TimelineRow(**values)


def read_account_row(values: Json) -> AccountRow:
    """Return a row of the account; raise TypeError, KeyError or ValueError where a part is missing or wrong."""
    rest = {name: value for name, value in values.items() if name not in ("seconds", "windows")}
    windows = tuple((float(a), float(b)) for a, b in values["windows"])
    return AccountRow(**rest, seconds=Figure(**values["seconds"]), windows=windows)
