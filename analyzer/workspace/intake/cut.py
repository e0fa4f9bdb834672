"""Cutting a recording that was taken in into runs: each part is the same bytes with a window, and logs are dealt out.

The recording stays in the load as a whole, marked as cut: cutting it again, or taking it whole, begins from it.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analyzer.errors import InputError, quoted
from analyzer.workspace.intake.cut_logs import dealt_out
from analyzer.workspace.intake.model import TRACK, Basket, Cut, IncomingFile
from analyzer.workspace.intake.names import safe_name
from analyzer.workspace.intake.repairs import added_s, moved_log

MOST_PIECES = 60
"""Runs of one recording; our choice: a day of ten minutes each."""


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
        where = f"run {quoted(cut.title)}"
        if not cut.begin_s < cut.end_s:
            raise InputError(where=where, what="it ends before it begins", do="mend its times")
        if cut.begin_s < begin_s - 1.0 or cut.end_s > end_s + 1.0:
            raise InputError(where=where, what="it reaches beyond the recording", do="mend its times")
        if number and cut.begin_s < in_order[number - 1].end_s:
            before = in_order[number - 1].title
            raise InputError(
                where=where, what=f"it begins before {quoted(before)} ends", do="let runs follow each other"
            )
    return in_order


def uncut(basket: Basket, track: int) -> Basket:
    """Return a basket in which a recording is whole again, with its logs as they came.

    A log that parts of another recording have too stays dealt out. What was chosen of parts, or for a log that would go
    with one of them, is chosen no more; their numbers do not come back, for a page that is still open has them.
    """
    gone = {file.id for file in basket.files if file.cut_for == track}
    kept = {file.cut_of for file in basket.files if file.cut_for and file.id not in gone}
    wholes = ({file.cut_of for file in basket.files if file.id in gone} | {track}) - kept
    files = tuple(replace(f, cut=False) if f.id in wholes else f for f in basket.files if f.id not in gone)
    choices = {key: value for key, value in basket.choices.items() if not _speaks_of(key, value, gone)}
    return dataclasses.replace(basket, files=files, choices=choices, last_id=basket.next_id - 1)


def _speaks_of(key: str, value: str, ids: set[int]) -> bool:
    tail = key.rpartition("-")[2]
    to = moved_log(value)[0] if key.startswith("of-") else ""
    return any(text.isdigit() and int(text) in ids for text in (tail, to))


def cut_up(workspace: Path, basket: Basket, track: int, cuts: Sequence[Cut]) -> Basket:
    """Return a basket with the parts of a recording in its place, and the logs that go with each.

    A log of times of day goes to each part that it reaches, as it is: a run's window sets aside the rest. A log that
    counts from a start mark, and marks with a start for each run, are cut by those starts. A log of another recording
    stays with that one; where several might have it, a person is asked for each part.

    Raises
    ------
    InputError
        Where the log of several runs does not have a start for each part, or something cannot be read or kept.
    """
    basket = uncut(basket, track)
    whole = next(file for file in basket.files if file.id == track)
    taken = basket.next_id
    parts = tuple(_part(whole, cut, taken + n) for n, cut in enumerate(cuts))
    taken += len(parts)
    logs, choices = list[IncomingFile](), dict[str, str]()
    by = added_s(track, basket.choices)
    moved_cuts = [replace(cut, begin_s=cut.begin_s + by, end_s=cut.end_s + by) for cut in cuts]
    for dealt in dealt_out(workspace, basket, whole, moved_cuts):
        for number, copy in dealt.own:
            to = parts[number].id if dealt.sure else 0
            logs.append(replace(copy, id=taken, cut=False, cut_for=track, cut_of=dealt.file.id, cut_to=to))
            if to:
                choices[f"of-{taken}"] = f"{to}@{dealt.hours:g}" if dealt.hours else str(to)
            taken += 1
    choices |= {f"name-{part.id}": cut.title for part, cut in zip(parts, cuts, strict=True)}
    choices |= {f"use-{part.id}": basket.choices[f"use-{track}"] for part in parts if by}
    wholes = {track, *(file.cut_of for file in logs)}
    files = [replace(file, cut=True) if file.id in wholes else file for file in basket.files]
    return dataclasses.replace(basket, files=(*files, *parts, *logs), choices=basket.choices | choices)


def stem_of(file: IncomingFile) -> tuple[str, str]:
    """Return the name of a recording without its ending, and the ending as it is written there."""
    if file.ending and file.name.lower().endswith(file.ending.lower()):
        return file.name[: -len(file.ending)], file.name[-len(file.ending) :]
    stem, dot, ending = file.name.rpartition(".")
    return (stem, dot + ending) if stem else (file.name, "")


def _part(whole: IncomingFile, cut: Cut, own_id: int) -> IncomingFile:
    stem, ending = stem_of(whole)
    name = f"{stem} {safe_name(cut.title) or own_id}{ending}"
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


def is_recording(file: IncomingFile) -> bool:
    """Return whether a file can be cut: a track with times of day that is not in a drill yet."""
    whole = file.kind == TRACK and not file.problem and not file.placed and not file.cut_for
    return whole and file.begin_s is not None and file.end_s is not None
