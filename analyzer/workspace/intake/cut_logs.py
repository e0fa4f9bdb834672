"""Which logs of a load go with which part of a recording that is cut: whose they are, which rows, on which clock."""

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.files.cells import tables_of
from analyzer.files.clock_repairs import HOUR_S
from analyzer.files.cut_log import CUT_FROM, Span, cut_marks, cut_readings
from analyzer.files.log_table import own_sheet
from analyzer.files.marks_csv import MarkLog, mark_log_lacks, marks_of
from analyzer.files.readings_csv import readings_of
from analyzer.files.source import MAX_BYTES
from analyzer.files.tracks.proposed_cuts import Moments
from analyzer.model.settings import CLOCK_REACH_S
from analyzer.workspace.intake.matching import clear_track
from analyzer.workspace.intake.model import MARKS, NO, READINGS, TRACK, Basket, Cut, IncomingFile
from analyzer.workspace.intake.originals import keep, read_original
from analyzer.workspace.intake.recognise import recognise
from analyzer.workspace.intake.repairs import added_s, moved, moved_log

LATER = ("probe_hit", "finish", "marking_end", "dig_begin", "airway_free", "probe")
Own = list[tuple[int, IncomingFile]]


@dataclass(frozen=True, slots=True)
class Dealt:
    """A log and what of it goes to which part, by the part's number. `sure`: whether it is of this recording; `hours`:
    that a person adds to its times."""

    file: IncomingFile
    own: Own
    sure: bool = True
    hours: float = 0.0


@dataclass(frozen=True, slots=True)
class _Log:
    file: IncomingFile
    sure: bool
    hours: float = 0.0


def dealt_out(workspace: Path, basket: Basket, whole: IncomingFile, cuts: Sequence[Cut]) -> list[Dealt]:
    """Return the logs that go with the parts of a recording. `cuts`: on the clock that a person gave it.

    Raises
    ------
    InputError
        As `analyzer.workspace.intake.cut.cut_up`.
    """
    logs = _logs_of(basket, whole)
    return [*_by_times(logs, cuts), *_by_starts(workspace, logs, cuts)]


def _logs_of(basket: Basket, whole: IncomingFile) -> list[_Log]:
    """Return the logs that are of a recording, or may be: by a person's choice, else by folder, times and name."""
    tracks = [
        replace(moved(f, added_s(f.id, basket.choices)), cut=False)
        for f in basket.files
        if f.kind == TRACK and not (f.problem or f.placed or f.cut_for)
        if f.id == whole.id or (f.sha256 != whole.sha256 and basket.choices.get(f"use-{f.id}") != NO)
    ]
    found = []
    for file in basket.files:
        if file.kind not in (READINGS, MARKS) or file.placed or file.cut_for:
            continue
        chosen, hours = moved_log(basket.choices.get(f"of-{file.id}", ""))
        clear = None if chosen else clear_track(file, tracks)
        if chosen == str(whole.id) or (not chosen and (len(tracks) == 1 or clear is None or clear.id == whole.id)):
            found.append(_Log(file, bool(chosen) or len(tracks) == 1 or clear is not None, hours))
    return found


def _by_times(logs: Sequence[_Log], cuts: Sequence[Cut]) -> list[Dealt]:
    """Return each log of times of day with the parts that it reaches; a clock may be off by as much as is searched."""
    found = []
    for log in logs:
        at = moved(log.file, log.hours * HOUR_S)
        if at.problem or at.begin_s is None:
            continue
        begin, end = at.begin_s, at.end_s if at.end_s is not None else at.begin_s
        own = [
            (number, log.file)
            for number, cut in enumerate(cuts)
            if begin <= cut.end_s + CLOCK_REACH_S and end >= cut.begin_s - CLOCK_REACH_S
        ]
        if own:
            found.append(Dealt(log.file, own, log.sure, log.hours))
    return found


def _by_starts(workspace: Path, logs: Sequence[_Log], cuts: Sequence[Cut]) -> list[Dealt]:
    """Return marks with several starts, and logs that count from the first of them, cut at these starts."""
    several = [(log, marks) for log in logs if (marks := _several(workspace, log)) is not None]
    several = [(log, marks) for log, marks in several if log.sure or _reaches(marks, cuts)]
    if not several:
        return []
    if len(several) > 1:
        raise InputError(
            where=several[1][0].file.path,
            what="a second log marks several starts",
            do="keep the marks of a day in one file",
        )
    (log, marks), starts = several[0], _starts(several[0][1])
    file, elapsed = log.file, marks.marks[0].elapsed
    zeros = _checked_zeros(starts, cuts, file) if elapsed else _zeros(starts, cuts, file)
    spans = [(zero, min((s for s in starts if s > zero), default=math.inf)) for zero in zeros]
    own: Own = []
    for number, (cut, span) in enumerate(zip(cuts, spans, strict=True)):
        at, words = cut.begin_s if elapsed else None, _remark(file, number, cuts)
        data = cut_marks(marks.marks, span, zero_s=span[0], remark=words, start_at_s=at)
        own.append((number, _kept(workspace, file, data)))
    found = [Dealt(file, own, log.sure)]
    if file.kind == READINGS:  # in the table of the marks, on their clock
        found += _sliced(workspace, log, spans, cuts)
    film = [(a - starts[0], b - starts[0]) for a, b in spans]
    for one in logs:
        if one.sure and one.file.kind == READINGS and one.file.elapsed and not one.file.problem:
            found += _sliced(workspace, one, film, cuts, second_s=starts[1] - starts[0])
    return found


def _several(workspace: Path, log: _Log) -> MarkLog | None:
    """Return as `several_starts`; one that cannot be told and may be of another recording does not stop the cut."""
    try:
        return several_starts(workspace, log.file)
    except InputError:
        if log.sure:
            raise
        return None


def _starts(marks: MarkLog) -> list[float]:
    return sorted(mark.time_s for mark in marks.marks if mark.mark == "start")


def _reaches(marks: MarkLog, cuts: Sequence[Cut]) -> bool:
    """Return whether each part begins near a start mark of a log; one that may be of another recording need not."""
    starts = _starts(marks)
    near = all(min(abs(s - cut.begin_s) for s in starts) <= CLOCK_REACH_S for cut in cuts)
    return near and not marks.marks[0].elapsed


def _zeros(starts: Sequence[float], cuts: Sequence[Cut], file: IncomingFile) -> list[float]:
    """Return the start mark of each part: the nearest to its begin."""
    zeros: list[float] = []
    for cut in cuts:
        near = min(starts, key=lambda start, cut=cut: abs(start - cut.begin_s))  # type: ignore[misc]
        if abs(near - cut.begin_s) > CLOCK_REACH_S:
            raise InputError(
                where=file.path,
                what=f"it has no start mark within {CLOCK_REACH_S:g} s of the begin of run {quoted(cut.title)}",
                do="move that begin to a start mark, or leave the run out",
            )
        if near in zeros:
            twin = cuts[zeros.index(near)].title
            raise InputError(
                where=file.path,
                what=f"runs {quoted(twin)} and {quoted(cut.title)} begin at one start mark",
                do="join them, or move the begin of one to its own start mark",
            )
        zeros.append(near)
    return zeros


def _checked_zeros(starts: list[float], cuts: Sequence[Cut], file: IncomingFile) -> list[float]:
    """Return starts that count from each other, one for each part, which lie as far apart as the parts do."""
    if len(starts) != len(cuts):
        raise InputError(
            where=file.path,
            what=f"it marks {len(starts)} starts that count from each other, and {len(cuts)} runs are taken",
            do="take as many runs as there are starts, or write times of day",
        )
    off = [cut.begin_s - start for cut, start in zip(cuts, starts, strict=True)]
    if max(off) - min(off) > CLOCK_REACH_S:
        raise InputError(
            where=file.path,
            what=f"its starts do not lie as far apart as the runs that are taken, by up to {max(off) - min(off):.0f} s",
            do="let each run begin at its start, or write times of day",
        )
    return starts


def _sliced(
    workspace: Path, one: _Log, spans: Sequence[Span], cuts: Sequence[Cut], *, second_s: float = -math.inf
) -> list[Dealt]:
    """Return a reading log cut by starts; `spans`: from one to the next, on its clock.

    One that ends before the second start (`second_s`) may count from the start of any run: it stays as it is, and a
    person is asked.
    """
    file = one.file
    tables = own_sheet(tables_of(_bytes(workspace, file), name=file.path), file.sheet)
    log = readings_of(tables, zone=None, day=None)
    if log.readings[-1].time_s < second_s:
        return []
    own = [
        (n, _kept(workspace, file, cut_readings(log, span, zero_s=span[0], remark=_remark(file, n, cuts))))
        for n, span in enumerate(spans)
        if any(span[0] <= row.time_s < span[1] for row in log.readings)
    ]
    return [Dealt(file, own, one.sure)] if own else []


def _remark(file: IncomingFile, number: int, cuts: Sequence[Cut]) -> str:
    return f"run {number + 1} of {len(cuts)}, {CUT_FROM} {file.path}"


def _kept(workspace: Path, file: IncomingFile, data: bytes) -> IncomingFile:
    """Keep a log that was cut out of another one, and return what it is."""
    kept = keep(workspace, file.path, [data], most=MAX_BYTES, source=file.sha256)
    found = recognise(data, name=file.path)
    values = {f.name: getattr(found, f.name) for f in dataclasses.fields(found)}
    return replace(IncomingFile(0, file.path, kept.sha256, kept.size, **values))


def several_starts(workspace: Path, file: IncomingFile) -> MarkLog | None:
    """Return the marks of a log with a start mark for each of several runs, readings beside them or not; None for any
    other file.

    Raises
    ------
    InputError
        Where its times of day bear no date or no zone, or it has elapsed times beside them.
    """
    if file.kind not in (MARKS, READINGS) or file.placed or file.cut_for or "a second 'start'" not in file.problem:
        return None
    try:
        tables = own_sheet(tables_of(_bytes(workspace, file), name=file.path), file.sheet)
        lacking = any(mark_log_lacks(tables))
        log = marks_of(tables, zone=None, day=None, several=True) if not lacking else None
    except AnalyzerError:
        return None
    if log is None:
        raise InputError(
            where=file.path,
            what="its times of day have no date or no zone, so its starts cannot be told from each other",
            do="write dates with an offset from UTC, or times from the first start mark",
        )
    if sum(mark.mark == "start" for mark in log.marks) < 2:
        return None
    if len({mark.elapsed for mark in log.marks}) > 1:
        raise InputError(
            where=file.path,
            what="it marks several starts with both times of day and elapsed times, which may count from any of them",
            do="write all of its times alike",
        )
    return log


def moments_of(workspace: Path, basket: Basket, whole: IncomingFile) -> Moments:
    """Return the start marks and later marks of the logs of a recording that bear times of day, on its own clock.

    Raises
    ------
    InputError
        As `several_starts`.
    """
    starts, ends = list[float](), list[float]()
    for one in _logs_of(basket, whole):
        file, by = one.file, one.hours * HOUR_S - added_s(whole.id, basket.choices)
        log = _several(workspace, one)
        if log is None and file.kind == MARKS and not file.problem and file.begin_s is not None:
            tables = own_sheet(tables_of(_bytes(workspace, file), name=file.path), file.sheet)
            log = marks_of(tables, zone=None, day=None)
        for mark in () if log is None else log.marks:
            if not mark.elapsed:
                (starts if mark.mark == "start" else ends if mark.mark in LATER else []).append(mark.time_s + by)
    return Moments(tuple(sorted(starts)), tuple(sorted(ends)))


def _bytes(workspace: Path, file: IncomingFile) -> bytes:
    return read_original(workspace, file.sha256, name=file.path)
