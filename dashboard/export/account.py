"""Timeline and account of a run as CSV for a spreadsheet."""

import csv
import io
from collections.abc import Iterable

from analyzer.files.csv_cells import harmless
from analyzer.model.result import RunResult
from dashboard.wording import ACTIVITIES, PHASES, cause_words

TIMELINE_HEADER = (
    "drill", "run", "searcher", "phase", "transmitter", "activity", "key", "from_s", "to_s", "seconds", "metres",
)  # fmt: skip
ACCOUNT_HEADER = (
    "drill", "run", "searcher", "phase", "transmitter", "cause", "key", "seconds", "low", "high", "metres", "windows",
)  # fmt: skip


def timeline_csv(result: RunResult) -> bytes:
    """Return one row per row of the timeline; seconds add up to the run."""
    rows: list[tuple[str | float, ...]] = [
        (
            PHASES.get(row.phase, ""),
            row.transmitter,
            ACTIVITIES[row.activity][1],
            row.activity,
            *_numbers(row.from_s, row.to_s, row.seconds, row.metres),
        )
        for row in result.timeline
    ]
    return _table(result, TIMELINE_HEADER, rows)


def account_csv(result: RunResult) -> bytes:
    """Return one row per row of the account; seconds below 0 were gained, and all add up to the run.

    `windows`: "from to" in seconds, several by semicolons.
    """
    rows: list[tuple[str | float, ...]] = [
        (
            PHASES.get(row.phase, row.phase),
            row.transmitter,
            cause_words(row.cause, row.phase, row.seconds.value)[0],
            row.cause,
            *_numbers(row.seconds.value, row.seconds.low, row.seconds.high, row.metres),
            "; ".join(f"{a:.1f} {b:.1f}" for a, b in row.windows),
        )
        for row in result.account
    ]
    return _table(result, ACCOUNT_HEADER, rows)


def _numbers(*values: float) -> tuple[float, ...]:
    """Return numbers to a thousandth; they are numbers, so a minus before them is no formula."""
    return tuple(round(value, 3) + 0.0 for value in values)


def _table(result: RunResult, header: tuple[str, ...], rows: Iterable[tuple[str | float, ...]]) -> bytes:
    """Return the table in UTF-8 with a mark that spreadsheets know."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    head = [harmless(text) for text in (result.drill, result.run_id, result.searcher)]
    for row in rows:
        writer.writerow([*head, *(harmless(cell) if isinstance(cell, str) else cell for cell in row)])
    return out.getvalue().encode("utf-8-sig")
