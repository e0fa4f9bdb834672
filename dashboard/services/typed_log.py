"""A log typed while a film plays: put into a run as files, and what its clock came to."""

import csv
import io
import math
from dataclasses import dataclass

from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.files.folder import zone_of_drill
from analyzer.files.marks_csv import MarkRow, parse_marks_csv
from analyzer.files.names import LOG_FILES, MARKS_FILE, READINGS_FILE, READINGS_FILES
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.run_logs import run_logs
from analyzer.files.times import utc_text, zone_of
from analyzer.model.figure import NotAssessable
from analyzer.model.recording import READINGS_CLOCK
from analyzer.workspace.runs.at_hand import drill_at_hand, file_bytes, run_at_hand, run_names
from dashboard.services.results import RunMissingError
from dashboard.services.runs import Runs, Said

MOST_RUNS = 300
"""Runs that a page offers to choose from; others are reached from their own pages. Our choice."""
COLUMNS = ("time", "elapsed (s)", "mark", "transmitter", "note", "clock")


@dataclass(frozen=True, slots=True)
class ClockLine:
    """What is known of a typed log after it was saved. `busy`: it is still being measured."""

    busy: bool
    line: str
    faults: tuple[str, ...] = ()


def runs_to_type_for(runs: Runs) -> tuple[list[tuple[str, str]], int]:
    """Return (drill, run) of the first runs of the workspace, and how many more there are."""
    every = [(place.key, run) for place in runs.intake.places() for run in run_names(runs.workspace, place.key)]
    return every[:MOST_RUNS], max(len(every) - MOST_RUNS, 0)


def transmitters_of(runs: Runs, drill: str, run: str) -> tuple[str, ...]:
    """Return the names of the transmitters of a run's drill.

    Raises
    ------
    InputError
        Where the run or its drill is not in the workspace.
    """
    run_at_hand(runs.workspace, drill, run)
    return tuple(t.id for t in drill_at_hand(runs.workspace, drill)[1].transmitters)


def save_typed(runs: Runs, drill: str, run: str, readings: bytes, marks: bytes) -> Said:
    """Put a typed log into a run; what it had goes into the bin, marks of a kind that was not typed stay.

    Parameters
    ----------
    runs : Runs
    drill, run : str
    readings, marks : bytes
        As readings.csv and marks.csv, with elapsed times from the start mark; b"" for none.

    Raises
    ------
    InputError
        Where the run is gone, or the project's readers refuse what was typed.
    """
    files = []
    if readings:
        parse_readings_csv(readings)
        files.append((READINGS_FILE, [readings]))
    joined, kept = _joined(runs, drill, run, marks, replaced=bool(readings))
    if joined:
        files.append((MARKS_FILE, [joined]))
    if not files:
        raise InputError(where=f"{drill}/{run}", what="nothing was typed", do="type a reading or a mark first")
    said = runs.add_files(drill, run, files)
    if not kept or said.faults:
        return said
    return Said(f"{said.done} Kept of the marks the run had: {', '.join(kept)}.", entry=said.entry)


def clock_line(runs: Runs, drill: str, run: str) -> ClockLine:
    """Return how a run's log lies against its track, once it is measured."""
    progress = runs.measuring.progress(drill)
    if runs.measuring.busy(drill):
        return ClockLine(True, "Being measured …")
    faults = progress.failures if progress is not None else ()
    try:
        offset = runs.service.result(drill, run).evidence.clock_offset_s
    except (AnalyzerError, RunMissingError) as error:
        return ClockLine(False, "", (*faults, f"{run}: there is no result ({error})"))
    if isinstance(offset, NotAssessable):
        return ClockLine(False, f"Your clock could not be set against the track: {offset.why}.", faults)
    return ClockLine(False, clock_words(offset.value, offset.low, offset.high), faults)


def clock_words(offset_s: float, low_s: float, high_s: float) -> str:
    """Return in words how late or early a log was; `offset_s` is added to its times to get those of the track."""
    side, (least, most) = ("late", (-high_s, -low_s)) if offset_s < 0.0 else ("early", (low_s, high_s))
    ends = " to ".join(f"{round(end, 1) + 0.0:.1f}" for end in (least, most))  # + 0.0: no "-0.0"
    return (
        f"Your clock was {abs(offset_s):.1f} s {side} against the track ({ends} s, nine times in "
        "ten): what you typed has been set right by that."
    )


def _joined(runs: Runs, drill: str, run: str, marks: bytes, *, replaced: bool) -> tuple[bytes, tuple[str, ...]]:
    """Return typed marks with those of the run whose kind was not typed, and their kinds; b"" for the start alone.

    A start mark with a time of day says more than the moment a clock was started, and stays. Where the readings are
    `replaced`, and the marks stand in one workbook with them, they go into a file of their own.
    """
    typed = parse_marks_csv(marks) if marks else ()
    alone = all(row.mark == "start" for row in typed)
    if alone and not replaced:
        return b"", ()
    found = run_at_hand(runs.workspace, drill, run)
    laid = drill_at_hand(runs.workspace, drill)[1]
    data = {name: file_bytes(found.folder / name) or b"" for name in found.files if name in LOG_FILES}
    zone = zone_of(found.info.zone) or zone_of_drill(laid)
    logs = run_logs({n: d for n, d in data.items() if d}, zone=zone, day=laid.date)
    if alone and logs.marks_file not in READINGS_FILES:
        return b"", ()
    old = logs.mark_rows
    dated = any(row.mark == "start" and not row.elapsed for row in old)
    kinds = {_kind(row) for row in typed if not (row.mark == "start" and dated)}
    kept = [row for row in old if _kind(row) not in kinds]
    open_one = next((row for row in kept if not math.isnan(row.other_s)), None)
    if open_one is not None:  # what it means is told by the other rows of its column, which it leaves
        what = f"the time of the mark {quoted(open_one.mark)} that the run has may be seconds, or minutes and seconds"
        raise InputError(where=open_one.where, what=what, do="write it like 6:04.0 or 364 there, then save again")
    rows = [row for row in typed if _kind(row) in kinds]
    return _bytes([*kept, *rows]), tuple(dict.fromkeys(row.mark for row in kept))


def _kind(row: MarkRow) -> str:
    """Return the kind of a mark; the two ends of a hold are one."""
    return "hold" if row.mark.startswith("hold_") else row.mark


def _bytes(rows: list[MarkRow]) -> bytes:
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for row in rows:
        clock = row.clock if row.mark != "start" or row.clock != READINGS_CLOCK else ""
        when = ("", f"{row.time_s:.3f}") if row.elapsed else (utc_text(row.time_s), "")
        table.writerow((*when, row.mark, row.transmitter or "", row.note, clock))
    return text.getvalue().encode()
