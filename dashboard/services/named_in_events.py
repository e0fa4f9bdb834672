"""Runs that events name: a warning before one is moved or deleted, and what became of one that is gone."""

import os
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.events.files.event_toml import EventDraft, parse_event_toml
from analyzer.events.files.forgotten_json import read_forgotten
from analyzer.events.files.scored_json import SCORED_FILE, Scored, read_scored
from analyzer.events.named_runs import NamedRun, gone_runs, named_as, named_runs
from analyzer.files.source import read_bytes
from analyzer.workspace.layout import EVENT_FILE, EVENTS, EVERY_EVENT
from analyzer.workspace.runs.at_hand import run_at_hand
from analyzer.workspace.runs.bin import DELETED, MOVED, binned
from analyzer.workspace.runs.whereabouts import Whereabouts, whereabouts
from dashboard.services.runs import day_of

ASK = "Answer the question beside the button with yes, and press it again."
SURE = "yes"
"""The answer of somebody who moves or deletes a run that an event names."""


@dataclass(frozen=True, slots=True)
class InEvents:
    """The events that a run takes part in: `named`, a line for each; `unread`: a line for each that cannot be read."""

    named: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NamedInEvents:
    """The events of one workspace, by the runs that they name."""

    workspace: Path

    def warnings(self, drill: str, run: str, bib: str) -> "InEvents":
        """Return the events that a run takes part in; `bib`: the one that its run.toml states."""
        lines, unread = [], []
        for folder in self._folders():
            try:
                draft, scored = _read(folder)
            except AnalyzerError:
                what = f"{EVENTS}/{folder.name} cannot be read, so that it may name this run"
                unread.append(f"{what}: searchwake check tells what is wrong with it.")
                continue
            found = named_as(draft, scored, drill, run, bib)
            if found is not None:
                lines.append(_warning(draft.name, found))
        return InEvents(tuple(lines), tuple(unread))

    def refused(self, drill: str, run: str, sure: str) -> tuple[str, ...]:
        """Return why a run is not moved or deleted: the events that name it, unless the person answered SURE.

        Nothing where the run is gone: that is told when it is looked for.
        """
        if sure == SURE:
            return ()
        try:
            bib = run_at_hand(self.workspace, drill, run).info.bib
        except AnalyzerError:
            return ()
        lines = self.warnings(drill, run, bib).named
        return (*lines, ASK) if lines else ()

    def fates(self, event: str) -> tuple[str, ...]:
        """Return a line for each run of an event that is not in its drill any more: what became of it.

        Runs of people who were forgotten are no such: the event keeps their times by itself.
        """
        folder = next((path for path in self._folders() if path.name == event), None)
        if folder is None:
            return ()
        try:
            draft, scored = _read(folder)
            forgotten = {(one.drill, one.run) for one in read_forgotten(folder)}
        except AnalyzerError:  # the event's own page says what is wrong with it
            return ()
        named = [one for one in named_runs(draft, scored) if (one.drill, one.run) not in forgotten]
        gone = gone_runs(self.workspace, named)
        things = binned(self.workspace) if gone else ()
        return tuple(_fate(one, whereabouts(things, one.drill, one.run)) for one in gone)

    def _folders(self) -> list[Path]:
        return sorted(path.parent for path in (self.workspace / EVENTS).glob(EVERY_EVENT))


def _read(folder: Path) -> tuple[EventDraft, Scored | None]:
    target = folder / SCORED_FILE
    scored = read_scored(target) if os.path.lexists(target) else None
    return parse_event_toml(read_bytes(folder / EVENT_FILE)), scored


def _who(one: NamedRun) -> str:
    return f"bib {one.bib}, {one.name}, on {one.field}"


def _warning(event: str, one: NamedRun) -> str:
    if one.scored:
        return (
            f"The standing of {event} rests on this run ({_who(one)}). It stays as it was scored; scored anew without "
            "the run here, the entry has no result on this field."
        )
    return f"{event} takes this run for {_who(one)}. Without the run here, the entry has no result on this field."


def _fate(one: NamedRun, now: Whereabouts) -> str:
    head = f"{_who(one)}: its run {one.run} "
    if now.kind == MOVED:
        what = f"was moved to {now.drill} on {day_of(now.when)}, where it is {now.run}"
    elif now.kind == DELETED:
        last = "" if now.drill == one.drill else f" from {now.drill}"
        what = f"was deleted{last} on {day_of(now.when)} and lies in the bin"
    else:
        what = f"is not in {one.drill} any more, and the bin does not know of it: its folder was taken out by hand"
    counts = "It counts here as it was scored; scored anew, it does not." if one.scored else "So it does not count."
    back = "The page Bin puts it back. " if now.kind else ""
    return f"{head}{what}. {back}{counts}"
