"""The door from the pages to the events of a workspace: which there are, their tables, and files to take away.

Nothing is scored or written here: an organiser scores with `searchwake standings`. Names in an address are compared
with the folder's own names and never become part of a path.
"""

import contextlib
import functools
import os
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote, unquote

from analyzer.errors import AnalyzerError, InputError
from analyzer.events.decisions_log import shown_head
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.events.files.scored_json import SCORED_FILE, Scored, parse_scored
from analyzer.events.files.standings_csv import standings_csv
from analyzer.events.files.standings_html import standings_html
from analyzer.events.model import OVERALL, EventRules, Standings
from analyzer.events.persons import UNFINISHED, unfinished_parts
from analyzer.events.proposal_words import HOW as CONFIRM
from analyzer.events.proposal_words import shown_proposals
from analyzer.events.shown import ShownRow
from analyzer.events.store import Changed, changes, inputs_now, stale_bibs
from analyzer.events.words import HOW, columns_of, shown_lines, shown_rows, state_words
from analyzer.events.written import changed_results, log_and_scored_faults
from analyzer.files.names import RUNS
from analyzer.files.source import file_stamp, read_bytes
from analyzer.workspace.layout import DRILLS, EVENT_FILE, EVENTS, EVERY_EVENT
from analyzer.workspace.unforeseen import unforeseen_line
from dashboard.view_models.standings import AccountView, EventEntry, TableView

KEPT = 8


class EventMissingError(LookupError):
    """There is no such event, or no such table in it."""


class NotScoredError(LookupError):
    """The event is there and has not been scored."""


@dataclass(frozen=True, slots=True)
class Events:
    """The events of a workspace; none where there is no workspace."""

    workspace: Path | None

    def entries(self) -> tuple[EventEntry, ...]:
        """Return every event by the name of its folder; one that cannot be read says why."""
        return tuple(_entry(folder) for folder in self._folders())

    def table(self, key: str, scope: str, class_id: str) -> TableView:
        """Return one table of an event.

        Raises
        ------
        EventMissingError, NotScoredError, InputError
            Where there is no such event or table; where it is not scored; where what is stored cannot be read.
        """
        folder, scored, broken = self._scored(key)
        table = scored.table(scope, class_id)
        if table is None:
            raise EventMissingError(f"no table of field {scope!r} and class {class_id!r}")
        changed = changes(scored, inputs_now(folder, scored))
        return TableView(
            key=folder.name,
            name=scored.name,
            date=scored.date,
            rules=_sheet(scored.rules),
            source=scored.rules.source,
            engine=scored.engine,
            integrity=scored.integrity,
            log_head=shown_head(scored.log_head),
            fields=((OVERALL, "Overall"), *scored.fields),
            classes=scored.classes,
            scope=scope,
            class_id=class_id,
            columns=columns_of(table, scored.rules.kind, scored.fields),
            state=state_words(table),
            intermediate=table.waiting > 0,
            rows=_rows(scored, table, stale_bibs(changed)),
            proposals=shown_proposals(table, scored.fields),
            changed=tuple(c.line for c in changed),
            broken=(
                *broken,
                *changed_results(folder, scored),
                *log_and_scored_faults(folder, scored),
                *_unfinished(folder),
            ),
            notes=scored.notes,
            how=HOW,
            how_to_confirm=CONFIRM,
        )

    def read_ahead(self) -> None:
        """Read and hash what the first page of each event needs; what is wrong that page tells."""
        for entry in self.entries():
            with contextlib.suppress(AnalyzerError, LookupError):
                self.table(entry.key, OVERALL, "")

    def account(self, key: str, scope: str, bib: str) -> tuple[AccountView, ...]:
        """Return how an entry's total comes about: on one field, or overall and then on every field.

        Raises
        ------
        EventMissingError
            Where there is no such entry.
        """
        _, scored, _ = self._scored(key)
        names = {OVERALL: "Overall"} | dict(scored.fields)
        scopes = (OVERALL, *(field for field, _ in scored.fields)) if scope == OVERALL else (scope,)
        found = [_account(scored, one, bib, names.get(one, one)) for one in scopes]
        return tuple(view if self._is_there(view.run) else replace(view, debrief="") for view in found)

    def _is_there(self, run: tuple[str, str]) -> bool:
        """Return whether a run's files are in the workspace: of one who was forgotten there is no debrief any more."""
        drill, name = run
        return bool(name) and self.workspace is not None and (self.workspace / DRILLS / drill / RUNS / name).is_dir()

    def file(self, key: str, name: str) -> bytes:
        """Return a file to take away: standings.csv, standings.json or list.html.

        Raises
        ------
        EventMissingError, NotScoredError, InputError
            As `table`.
        """
        folder, scored, broken = self._scored(key)
        if name == "standings.json":
            return read_bytes(folder / SCORED_FILE)
        changed: tuple[Changed, ...] = changes(scored, inputs_now(folder, scored))
        if name == "standings.csv":
            return standings_csv(scored, stale_bibs(changed))
        if name == "list.html":
            faults = (*broken, *changed_results(folder, scored), *log_and_scored_faults(folder, scored))
            return standings_html(scored, (*(c.line for c in changed), *faults))
        raise EventMissingError(f"no file {name!r} of an event")

    def _folders(self) -> list[Path]:
        if self.workspace is None:
            return []
        return sorted(path.parent for path in (self.workspace / EVENTS).glob(EVERY_EVENT))

    def _scored(self, key: str) -> tuple[Path, Scored, tuple[str, ...]]:
        folder = next((path for path in self._folders() if path.name in (key, unquote(key))), None)
        if folder is None:
            raise EventMissingError(f"no event {unquote(key)!r}")
        target = folder / SCORED_FILE
        if not os.path.lexists(target):
            raise NotScoredError(folder.name)
        scored, broken = _read(*file_stamp(target))
        return folder, scored, broken


def _entry(folder: Path) -> EventEntry:
    try:
        draft = parse_event_toml(read_bytes(folder / EVENT_FILE))
    except InputError as error:
        return EventEntry(folder.name, folder.name, problem=str(error))
    except Exception as error:
        problem = unforeseen_line(f"{folder.name}/{EVENT_FILE}", "reading", error)
        return EventEntry(folder.name, folder.name, problem=problem)
    return EventEntry(
        folder.name,
        draft.name,
        "" if draft.date is None else draft.date.isoformat(),
        len(draft.entries),
        len(draft.fields),
        (folder / SCORED_FILE).is_file(),
    )


def _rows(scored: Scored, table: Standings, stale: dict[str, list[str]]) -> tuple[ShownRow, ...]:
    kind, classes, step_s = scored.rules.kind, dict(scored.classes), scored.rules.resolution_s
    rows = shown_rows(table, kind, classes, scored.fields, scored.standings, step_s=step_s)
    return tuple(_marked(row, stale) for row in rows)


@functools.lru_cache(maxsize=KEPT)
def _read(path: str, modified_ns: int, size: int) -> tuple[Scored, tuple[str, ...]]:
    """Return a stored scoring and what is wrong with it; time and size of the file are part of the key only."""
    del modified_ns, size
    scored = parse_scored(read_bytes(Path(path)))
    return scored, () if scored.intact else (
        f"{SCORED_FILE} was changed after it was written: its integrity hash differs",
    )


def _unfinished(folder: Path) -> list[str]:
    """Return a line where taking somebody out of an event was stopped."""
    try:
        return (
            [f"{UNFINISHED}: searchwake standings {EVENTS}/{folder.name} finishes it"]
            if unfinished_parts(folder)
            else []
        )
    except AnalyzerError as error:
        return [str(error)]


def _sheet(rules: EventRules) -> str:
    return f"{rules.name}, version {rules.version} ({rules.sha256[:8]})"


def _marked(row: ShownRow, stale: dict[str, list[str]]) -> ShownRow:
    if row.bib not in stale:
        return row
    return replace(row, remarks=(*row.remarks, "stale: a file was changed after the scoring"))


def _account(scored: Scored, scope: str, bib: str, title: str) -> AccountView:
    table = scored.table(scope, "")
    place = next((p for p in table.places if p.score.bib == bib), None) if table is not None else None
    if table is None or place is None:
        raise EventMissingError(f"no entry with the bib {bib!r}")
    run = place.score.run
    debrief = f"/run/{quote(scope, safe='')}/{quote(run, safe='')}" if run else ""
    proposals = () if scope == OVERALL else shown_proposals(table, scored.fields, bib)
    return AccountView(title, place.score.why, shown_lines(place.score), debrief, proposals, (scope, run))
