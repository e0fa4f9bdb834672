"""A log of several runs, cut into a log for each: rows between two moments, counted from the start of their run."""

import csv
import io
import math
from collections.abc import Iterable

from analyzer.files.marks_csv import MarkRow
from analyzer.files.readings_csv import ReadingLog
from analyzer.files.times import utc_text

Span = tuple[float, float]
CUT_FROM = "cut from"
"""Stands in the first line of a log that was cut out of another one."""


def is_cut_out(data: bytes) -> bool:
    """Return whether a log was cut out of one of several runs: its times are those of one run already."""
    return data.startswith(b"# run ") and CUT_FROM.encode() in data.partition(b"\n")[0]


def cut_marks(
    marks: Iterable[MarkRow], span: Span, *, zero_s: float, remark: str, start_at_s: float | None = None
) -> bytes:
    """Return the marks with `span[0] <= time < span[1]` as marks.csv.

    `zero_s`: what elapsed times are counted from anew, on their own clock; times of day stay as they are. `start_at_s`:
    the start mark gets this time of day (seconds since 1970 UTC), where its own counts from another start.
    """
    rows = []
    for mark in marks:
        if span[0] <= mark.time_s < span[1]:
            begins = mark.mark == "start" and mark.elapsed and start_at_s is not None
            time = utc_text(start_at_s or 0.0) if begins else "" if mark.elapsed else utc_text(mark.time_s)
            elapsed = _number(mark.time_s - zero_s) if mark.elapsed and not begins else ""
            clock = "" if begins else mark.clock  # a time of day is on the track's clock
            rows.append([time, elapsed, mark.mark, mark.transmitter or "", mark.note, clock])
    return _table(["time", "elapsed", "mark", "transmitter", "note", "clock"], rows, remark)


def cut_readings(log: ReadingLog, span: Span, *, zero_s: float, remark: str) -> bytes:
    """Return the readings with `span[0] <= time < span[1]` of a log as readings.csv.

    `zero_s`: what elapsed times are counted from anew; times of day stay as they are.
    """
    rows = [
        [
            _number(row.time_s - zero_s) if log.elapsed else utc_text(row.time_s),
            _number(row.reading_m),
            row.transmitter or "",
            _number(row.steer_deg),
            _number(row.heading_deg),
        ]
        for row in log.readings
        if span[0] <= row.time_s < span[1]
    ]
    return _table(
        ["elapsed" if log.elapsed else "time", "reading_m", "transmitter", "steer_deg", "heading_deg"], rows, remark
    )


def _table(header: list[str], rows: list[list[str]], remark: str) -> bytes:
    """Return a table with a remark in its first line; columns that are empty throughout are left out."""
    used = [i for i, _ in enumerate(header) if i == 0 or any(row[i] for row in rows)]
    if rows and not any(row[0] for row in rows):
        used.remove(0)
    stream = io.StringIO()
    stream.write(f"# {' '.join(remark.split())}\n")
    table = csv.writer(stream, lineterminator="\n")
    table.writerow([header[i] for i in used])
    table.writerows([[row[i] for i in used] for row in rows])
    return stream.getvalue().encode()


def _number(value: float) -> str:
    """Return a number with at most three decimals, "" for none."""
    return f"{value:.3f}".rstrip("0").rstrip(".") if math.isfinite(value) else ""
