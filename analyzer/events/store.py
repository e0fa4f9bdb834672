"""Score an event and keep the outcome; say what has changed since. What was scored is never overwritten unasked."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from analyzer import __version__
from analyzer.errors import AnalyzerError, InputError
from analyzer.events.bonuses import too_large
from analyzer.events.decisions_log import append_log, last_log, log_head
from analyzer.events.earlier import left_parts, put_away, refuse_scored_from_nothing, scorings_of, stated_integrity
from analyzer.events.files.folder import EventFolder, workspace_of
from analyzer.events.files.hashes import input_hashes
from analyzer.events.files.scored_json import (
    SCORED_FILE,
    Sampling,
    Scored,
    file_bytes,
    parse_scored,
    read_scored,
    scored_bytes,
    scored_values,
)
from analyzer.events.lost import Had, lost_lines, lost_reasons, lost_runs, noted_as_lost
from analyzer.events.measured import measured_runs
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores
from analyzer.events.written import unread_faults, written_faults
from analyzer.files.hashes import UNREADABLE
from analyzer.files.names import RUNS
from analyzer.files.source import write_atomic
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.layout import BEGUN_FILE, DRILLS, EARLIER_STANDINGS, EVENT_FILE, EVENTS, RESULTS

MOST_FOUND = 20
"""How many lines on damaged files the log notes with a scoring. Our own choice: the first ones tell the story."""
SCORED, SCORED_AGAIN, SCORED_FROM_NOTHING = "scored", "scored again", "scored again, scored.json was missing"


@dataclass(frozen=True, slots=True)
class Changed:
    """A file that is not the one that was scored. `bib`: whose run it belongs to, "" where it bears on all."""

    bib: str
    drill: str
    line: str


def computed(
    folder: EventFolder, out: Path, *, lost: Had, jobs: int = 1, recorded: dict[str, str] | None = None
) -> Scored:
    """Measure into `out` what is not measured there yet, score and rank; no more is written.

    Parameters
    ----------
    folder : EventFolder
    out : Path
        The folder of results; an empty one has everything measured.
    lost : mapping
        What runs had that were scored before and are not there any more.
    jobs : int
        Processes.
    recorded : dict, optional
        Path in `out` -> SHA-256 of results as they were scored.
    """
    runs = measured_runs(folder, out, jobs=jobs, recorded=recorded)
    event = folder.event
    refused = too_large(event, runs.facts)
    facts = {key: one for key, one in runs.facts.items() if key not in refused}
    gone = lost_reasons(event, lost)
    return Scored(
        name=event.name,
        date="" if event.date is None else event.date.isoformat(),
        engine=__version__,
        rules=event.rules,
        measuring=folder.measuring.sheet,
        settings=Sampling(DRAWS, SEED),
        inputs=folder.inputs,
        results=runs.results,
        notes=(*event.set_aside, *runs.failures, *refused.values(), *lost_lines(gone)),
        classes=tuple((c.id, c.name) for c in event.classes),
        fields=tuple((f.drill, f.name) for f in event.fields),
        standings=all_standings(event, field_scores(event, facts, runs.problems | refused, gone), facts),
    )


def score_event(
    folder: EventFolder,
    *,
    jobs: int = 1,
    again: bool = False,
    action: str = "",
    put_old_away: bool = True,
    **noted: Any,
) -> Scored:
    """Score an event, write its results and scored.json, and note it in the log.

    What was scored before is put away into earlier/ first, readable by this version or not.

    Parameters
    ----------
    folder : EventFolder
    jobs : int
        Processes.
    again : bool
        Whether an event that is scored already is scored anew.
    action : str
        What the log says was done; that it was scored (again) where empty.
    put_old_away : bool
        Whether the standing before is kept; it is not where it names somebody who is forgotten.
    **noted
        More that stands in the line of the log.

    Raises
    ------
    InputError
        Where it has been scored already, or its log says so, and `again` is not given; where the folder cannot be
        written to.
    """
    finish_begun(folder)
    target = folder.path / SCORED_FILE
    before = target.is_file()
    if before and not again:
        raise InputError(
            where=f"{folder.key}/{SCORED_FILE}", what="the event is scored already", do="score anew with --again"
        )
    if not again:
        refuse_scored_from_nothing(folder.path)
    with _writing(folder):
        done = SCORED_AGAIN if before else SCORED_FROM_NOTHING if scorings_of(folder.path) else SCORED
        old, found = _before(folder.path) if before else (None, [])
        lost = lost_runs(folder.event, old, noted_as_lost(folder.path))
        scored = computed(folder, folder.path / RESULTS, lost=lost, jobs=jobs, recorded=old.results if old else None)
        values = scored_values(scored)
        write_atomic(folder.path / BEGUN_FILE, file_bytes(values))  # a kill after the log's line loses nothing then
        head = append_log(
            folder.path,
            action=action or done,
            engine=__version__,
            integrity=values["integrity"],
            was=(stated_integrity(target) or "unreadable") if before else "",
            rules=scored.rules.sha256,
            runs=len(scored.results),
            **noted,
            **({"lost": lost} if lost else {}),
            **(_put_away(folder.path, found) if before and put_old_away else {}),
        )
        write_atomic(target, file_bytes(values | {"log_head": head}))
        (folder.path / BEGUN_FILE).unlink(missing_ok=True)  # another call may have finished it meanwhile
    return read_scored(target)


def finish_begun(folder: EventFolder) -> None:
    """Put the scoring in its place that a killed call had noted in the log and not got that far with.

    It counts where its integrity is the one of the log's last line; what the log does not tell of is taken away, and
    so is what a killed call had begun to write.

    Raises
    ------
    InputError
        Where there is something to finish, and the folder cannot be written to.
    """
    begun, parts = folder.path / BEGUN_FILE, left_parts(folder.path)
    if not begun.is_file() and not parts:
        return
    with _writing(folder):
        for part in parts:
            part.unlink(missing_ok=True)
        if not begun.is_file():
            return
        data = begun.read_bytes()
        try:
            found = parse_scored(data)
        except AnalyzerError:
            found = None
        noted = last_log(folder.path).get("integrity")
        if found is not None and found.intact and found.integrity == noted:
            write_atomic(folder.path / SCORED_FILE, scored_bytes(replace(found, log_head=log_head(folder.path))))
        begun.unlink(missing_ok=True)


def _before(event: Path) -> tuple[Scored | None, list[str]]:
    """Return what was scored before, None where it cannot be read, and what is wrong with the stored files.

    Results are told by bib, for names of runs would stay in the log for good.
    """
    try:
        scored = read_scored(event / SCORED_FILE)
    except AnalyzerError as error:
        return None, unread_faults(event, error)
    lines = written_faults(event, scored)
    for (drill, run), bib in _owners(scored).items() if lines else ():
        place, told = f"{RESULTS}/{drill}/{run}.json", f"the result of bib {bib} on {drill}"
        lines = [line.replace(place, told) for line in lines]
    return scored, lines


def _put_away(event: Path, found: list[str]) -> dict[str, Any]:
    """Put the standing before away; return what the log says of it and of what was wrong with the stored files."""
    return {"kept": put_away(event), **({"found": found[:MOST_FOUND]} if found else {})}


def _owners(scored: Scored) -> dict[tuple[str, str], str]:
    """Return (drill, run) -> bib of all runs that were scored."""
    return {(p.score.drill, p.score.run): p.score.bib for t in scored.standings for p in t.places if p.score.run}


@contextmanager
def _writing(folder: EventFolder) -> Iterator[None]:
    """Turn what the system says of a place that cannot be written to into one line, before anything is measured."""
    what = "the event's folder cannot be written to"
    do = f"allow writing to {EVENTS}/{folder.key} and repeat the command; the standings are as they were"
    if not os.access(folder.path, os.W_OK):
        raise InputError(where=folder.key, what=what, do=do)
    try:
        yield
    except OSError as error:
        place = Path(error.filename).name if isinstance(error.filename, str) else folder.key
        raise InputError(where=f"{folder.key}, {place}", what=f"{what} ({error.strerror})", do=do) from None


def changes(scored: Scored, now: dict[str, str]) -> tuple[Changed, ...]:
    """Return what is not as it was when the event was scored, in the order of the files' names.

    Parameters
    ----------
    scored : Scored
    now : dict
        Path from the workspace -> SHA-256, as the files are now; see `inputs_now`.
    """
    owners = _owners(scored)
    found = []
    for path in sorted(scored.inputs.keys() | now.keys()):
        old, new = scored.inputs.get(path), now.get(path)
        if old == new:
            continue
        what = (
            "is new since the scoring"
            if old is None
            else "is gone since the scoring"
            if new is None
            else f"cannot be read since the scoring: {new}"
            if new.startswith(UNREADABLE)
            else f"was replaced after the scoring (SHA-256 {old[:8]}, now {new[:8]})"
        )
        drill, run = _of_run(path)
        bib = owners.get((drill, run), "")
        who = f"bib {bib}, " if bib else ""
        count = (
            "it still counts here, and --again would count without it; put it back from a copy first"
            if new is None
            else "judges' entries since then do not count yet; --again ranks anew and measures nothing for it"
            if path.endswith(f"/{EVENT_FILE}")
            else "not counted; score anew with --again"
        )
        found.append(Changed(bib, drill, f"{who}{path} {what}: {count}"))
    if scored.engine != __version__:
        line = (
            f"scored with version {scored.engine} of the program, this is {__version__}: --again scores anew and keeps "
            f"this standing in {EARLIER_STANDINGS}/"
        )
        found.append(Changed("", "", line))
    return tuple(found)


def inputs_now(folder: Path, scored: Scored) -> dict[str, str]:
    """Return the hashes of the files that a scored event rests on, as they are now; `folder`: the event's."""
    workspace = workspace_of(folder)
    own = [workspace / path for path in scored.inputs if not path.startswith("drills/")]
    return input_hashes(workspace, (drill for drill, _ in scored.fields), own)


def _of_run(path: str) -> tuple[str, str]:
    parts = path.split("/")
    return (parts[1], parts[3]) if len(parts) == 5 and parts[0] == DRILLS and parts[2] == RUNS else ("", "")


def stale_bibs(found: tuple[Changed, ...]) -> dict[str, list[str]]:
    """Return bib -> the lines on its changed files."""
    stale: dict[str, list[str]] = {}
    for one in found:
        if one.bib:
            stale.setdefault(one.bib, []).append(one.line)
    return stale
