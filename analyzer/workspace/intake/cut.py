"""Cutting a recording that was taken in into runs: each part is the same bytes with a window, and logs are dealt out.

The recording stays in the load as a whole, marked as cut: cutting it again, or taking it whole, begins from it.
"""

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.cells import tables_of
from analyzer.files.cut_log import Span, cut_marks, cut_readings
from analyzer.files.marks_csv import MarkLog, mark_log_lacks, marks_of
from analyzer.files.readings_csv import readings_of
from analyzer.files.source import MAX_BYTES
from analyzer.files.tracks.proposed_cuts import Moments
from analyzer.model.settings import CLOCK_REACH_S
from analyzer.workspace.intake.model import MARKS, READINGS, TRACK, Basket, IncomingFile
from analyzer.workspace.intake.names import safe_name
from analyzer.workspace.intake.originals import keep, read_original
from analyzer.workspace.intake.recognise import recognise

MOST_PIECES = 60
"""Runs of one recording; our choice: a day of ten minutes each."""
LATER = ("probe_hit", "finish", "marking_end", "dig_begin", "airway_free", "probe")


@dataclass(frozen=True, slots=True)
class Cut:
    """A run to be: from when to when, seconds since 1970 UTC, and what it is called."""

    begin_s: float
    end_s: float
    title: str


def checked_cuts(cuts: Sequence[Cut], begin_s: float, end_s: float) -> tuple[Cut, ...]:
    """Return cuts in the order of time.

    Raises
    ------
    InputError
        Where there is none or too many, or one is empty, lies outside the recording, or overlaps another.
    """
    in_order = tuple(sorted(cuts, key=lambda cut: cut.begin_s))
    if not in_order:
        raise InputError(where="runs", what="no run is taken", do="take one, or go back and take the recording whole")
    if len(in_order) > MOST_PIECES:
        raise InputError(where="runs", what=f"more than {MOST_PIECES} runs are taken", do="load the recording in parts")
    for number, cut in enumerate(in_order):
        where = f"run {cut.title!r}"
        if not cut.begin_s < cut.end_s:
            raise InputError(where=where, what="it ends before it begins", do="mend its times")
        if cut.begin_s < begin_s - 1.0 or cut.end_s > end_s + 1.0:
            raise InputError(where=where, what="it reaches beyond the recording", do="mend its times")
        if number and cut.begin_s < in_order[number - 1].end_s:
            before = in_order[number - 1].title
            raise InputError(where=where, what=f"it begins before {before!r} ends", do="let runs follow each other")
    return in_order


def uncut(basket: Basket, track: int) -> Basket:
    """Return a basket in which a recording is whole again, with its logs as they came."""
    gone = {file.id for file in basket.files if file.cut_for == track}
    wholes = {file.cut_of for file in basket.files if file.cut_for == track} | {track}
    files = tuple(replace(f, cut=False) if f.id in wholes else f for f in basket.files if f.id not in gone)
    choices = {key: value for key, value in basket.choices.items() if not _names(key, gone)}
    return dataclasses.replace(basket, files=files, choices=choices)


def _names(key: str, ids: set[int]) -> bool:
    tail = key.rpartition("-")[2]
    return tail.isdigit() and int(tail) in ids


def cut_up(workspace: Path, basket: Basket, track: int, cuts: Sequence[Cut]) -> Basket:
    """Return a basket with the parts of a recording in its place, and the logs that go with each.

    A log of times of day goes to each part that it reaches, as it is: a run's window sets aside the rest. A log that
    counts from a start mark, and marks with a start for each run, are cut by those starts.

    Raises
    ------
    InputError
        Where the log of several runs does not have a start for each part, or something cannot be read or kept.
    """
    basket = uncut(basket, track)
    whole = next(file for file in basket.files if file.id == track)
    taken = max((file.id for file in basket.files), default=0)
    parts = tuple(_part(whole, cut, taken + 1 + n) for n, cut in enumerate(cuts))
    taken += len(parts)
    logs, choices = list[IncomingFile](), dict[str, str]()
    for file, own in [*_dealt(basket, cuts), *_sliced(workspace, basket, cuts)]:
        for number, copy in own:
            taken += 1
            logs.append(replace(copy, id=taken, cut=False, cut_for=track, cut_of=file.id))
            choices[f"of-{taken}"] = str(parts[number].id)
    choices |= {f"name-{part.id}": cut.title for part, cut in zip(parts, cuts, strict=True)}
    wholes = {track, *(file.cut_of for file in logs)}
    files = [replace(file, cut=True) if file.id in wholes else file for file in basket.files]
    return dataclasses.replace(basket, files=(*files, *parts, *logs), choices=basket.choices | choices)


def _part(whole: IncomingFile, cut: Cut, own_id: int) -> IncomingFile:
    stem, dot, ending = whole.name.partition(".")
    name = f"{stem} {safe_name(cut.title) or own_id}{dot}{ending}"
    return replace(
        whole,
        id=own_id,
        path=f"{whole.folder}/{name}" if whole.folder else name,
        begin_s=cut.begin_s,
        end_s=cut.end_s,
        window_s=(cut.begin_s, cut.end_s),
        title="",
        cut=False,
        cut_for=whole.id,
        cut_of=whole.id,
    )


Own = list[tuple[int, IncomingFile]]


def _dealt(basket: Basket, cuts: Sequence[Cut]) -> list[tuple[IncomingFile, Own]]:
    """Return each log of times of day with the parts that it reaches; a clock may be off by as much as is searched."""
    found = []
    for file in basket.files:
        if file.kind not in (READINGS, MARKS) or not file.waits or file.cut_for or file.begin_s is None:
            continue
        begin, end = file.begin_s, file.end_s if file.end_s is not None else file.begin_s
        own = [
            (number, file)
            for number, cut in enumerate(cuts)
            if begin <= cut.end_s + CLOCK_REACH_S and end >= cut.begin_s - CLOCK_REACH_S
        ]
        if own:
            found.append((file, own))
    return found


def _sliced(workspace: Path, basket: Basket, cuts: Sequence[Cut]) -> list[tuple[IncomingFile, Own]]:
    """Return marks with several starts, and logs that count from the first of them, cut at these starts."""
    several = [(file, log) for file in basket.files if (log := several_starts(workspace, file)) is not None]
    if not several:
        return []
    if len(several) > 1:
        raise InputError(
            where=several[1][0].path, what="a second log marks several starts", do="keep the marks of a day in one file"
        )
    file, log = several[0]
    starts = sorted(mark.time_s for mark in log.marks if mark.mark == "start")
    elapsed = all(mark.elapsed for mark in log.marks if mark.mark == "start")
    zeros = starts if elapsed else [_start_in(starts, cut, file) for cut in cuts]
    if len(zeros) != len(cuts):
        raise InputError(
            where=file.path,
            what=f"it marks {len(zeros)} starts that count from each other, and {len(cuts)} runs are taken",
            do="take as many runs as there are starts, or write times of day",
        )
    spans = [(a, b) for a, b in zip(zeros, [*zeros[1:], math.inf], strict=True)]
    own: Own = []
    for number, (cut, span) in enumerate(zip(cuts, spans, strict=True)):
        at, words = cut.begin_s if elapsed else None, _remark(file, number, cuts)
        data = cut_marks(log.marks, span, zero_s=span[0], remark=words, start_at_s=at)
        own.append((number, _kept(workspace, file, data)))
    film = [(a - starts[0], b - starts[0]) for a, b in spans]
    return [(file, own), *_readings(workspace, basket, film, cuts)]


def _start_in(starts: Sequence[float], cut: Cut, file: IncomingFile) -> float:
    """Return the start mark of a part: the nearest to its begin."""
    near = min(starts, key=lambda start: abs(start - cut.begin_s))
    if abs(near - cut.begin_s) > CLOCK_REACH_S:
        raise InputError(
            where=file.path,
            what=f"it has no start mark within {CLOCK_REACH_S:g} s of the begin of run {cut.title!r}",
            do="move that begin to a start mark, or leave the run out",
        )
    return near


def _readings(
    workspace: Path, basket: Basket, film: Sequence[Span], cuts: Sequence[Cut]
) -> list[tuple[IncomingFile, Own]]:
    """Return logs that count from the first start mark, cut by the starts. `film`: spans on their clock."""
    found = []
    for file in basket.files:
        if file.kind != READINGS or not file.waits or file.cut_for or not file.elapsed:
            continue
        log = readings_of(tables_of(_bytes(workspace, file), name=file.path), zone=None, day=None)
        own = [
            (n, _kept(workspace, file, cut_readings(log, span, zero_s=span[0], remark=_remark(file, n, cuts))))
            for n, span in enumerate(film)
            if any(span[0] <= row.time_s < span[1] for row in log.readings)
        ]
        if own:
            found.append((file, own))
    return found


def _remark(file: IncomingFile, number: int, cuts: Sequence[Cut]) -> str:
    return f"run {number + 1} of {len(cuts)}, cut from {file.path}"


def _kept(workspace: Path, file: IncomingFile, data: bytes) -> IncomingFile:
    """Keep a log that was cut out of another one, and return what it is."""
    kept = keep(workspace, file.path, [data], most=MAX_BYTES, source=file.sha256)
    found = recognise(data, name=file.path)
    values = {f.name: getattr(found, f.name) for f in dataclasses.fields(found)}
    return replace(IncomingFile(0, file.path, kept.sha256, kept.size, **values))


def several_starts(workspace: Path, file: IncomingFile) -> MarkLog | None:
    """Return the marks of a log with a start mark for each of several runs; None for any other file.

    Raises
    ------
    InputError
        Where its times of day bear no date or no zone.
    """
    if file.kind != MARKS or file.placed or file.cut_for:
        return None
    try:
        tables = tables_of(_bytes(workspace, file), name=file.path)
        lacking = any(mark_log_lacks(tables))
        log = marks_of(tables, zone=None, day=None, several=True) if not lacking else None
    except AnalyzerError:
        return None
    if log is None:
        if "a second" not in file.problem:
            return None
        raise InputError(
            where=file.path,
            what="its times of day have no date or no zone, so its starts cannot be told from each other",
            do="write dates with an offset from UTC, or times from the first start mark",
        )
    return log if sum(mark.mark == "start" for mark in log.marks) > 1 else None


def moments_of(workspace: Path, files: Sequence[IncomingFile]) -> Moments:
    """Return the start marks and later marks of the logs of a load that bear times of day.

    Raises
    ------
    InputError
        As `several_starts`.
    """
    starts, ends = list[float](), list[float]()
    for file in files:
        log = several_starts(workspace, file)
        if log is None and file.kind == MARKS and file.waits and not file.cut_for and file.begin_s is not None:
            log = marks_of(tables_of(_bytes(workspace, file), name=file.path), zone=None, day=None)
        for mark in () if log is None else log.marks:
            if not mark.elapsed:
                (starts if mark.mark == "start" else ends if mark.mark in LATER else []).append(mark.time_s)
    return Moments(tuple(sorted(starts)), tuple(sorted(ends)))


def _bytes(workspace: Path, file: IncomingFile) -> bytes:
    return read_original(workspace, file.sha256, name=file.path)


def is_recording(file: IncomingFile) -> bool:
    """Return whether a file can be cut: a track with times of day that is not in a drill yet."""
    whole = file.kind == TRACK and not file.problem and not file.placed and not file.cut_for
    return whole and file.begin_s is not None and file.end_s is not None
