"""Which entry of an event a run is of, by the event's words, its bib or the standing; and which runs are gone."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from analyzer.events.files.event_toml import EventDraft, bib_number
from analyzer.events.files.scored_json import Scored
from analyzer.events.model import OVERALL
from analyzer.files.names import RUNS
from analyzer.workspace.drill_key import is_plain_name
from analyzer.workspace.layout import DRILLS


@dataclass(frozen=True, slots=True)
class NamedRun:
    """A run of an event: of the entry `bib`, called `name`, on the field `field` of the drill. `scored`: the standing
    rests on it; else the event names it or is to take it by its bib."""

    drill: str
    run: str
    bib: str
    name: str
    field: str
    scored: bool


def named_runs(draft: EventDraft, scored: Scored | None) -> tuple[NamedRun, ...]:
    """Return the runs that an event names, and those that its standing rests on; each once, in the order of entries."""
    fields = {field.drill: field.name for field in draft.fields} | (dict(scored.fields) if scored else {})
    names = {entry.bib: entry.name for entry in draft.entries}
    found = {(drill, run): (entry.bib, entry.name, False) for entry in draft.entries for drill, run in entry.runs}
    for table in scored.standings if scored is not None else ():
        if table.scope != OVERALL and not table.class_id:
            found |= {
                (p.score.drill, p.score.run): (p.score.bib, names.get(p.score.bib, p.name), True)
                for p in table.places
                if p.score.run
            }
    return tuple(
        NamedRun(drill, run, *who[:2], fields.get(drill, drill), who[2]) for (drill, run), who in found.items()
    )


def named_as(draft: EventDraft, scored: Scored | None, drill: str, run: str, bib: str) -> NamedRun | None:
    """Return as which entry a run takes part, None where it does not.

    `bib`: the one that its run.toml states, by which an entry that names no run of the drill finds it.
    """
    named = named_runs(draft, scored)
    own = next((one for one in named if (one.drill, one.run) == (drill, run)), None)
    field = next((f for f in draft.fields if f.drill == drill), None)
    if own is not None or field is None or not bib:
        return own
    entry = next((e for e in draft.entries if bib_number(e.bib) == bib_number(bib)), None)
    if entry is None or drill in dict(entry.runs):
        return None
    return NamedRun(drill, run, entry.bib, entry.name, field.name, False)


def gone_runs(workspace: Path, named: Iterable[NamedRun]) -> tuple[NamedRun, ...]:
    """Return those whose folders are not in the workspace any more."""
    return tuple(
        one
        for one in named
        if is_plain_name(one.drill)
        and is_plain_name(one.run)
        and not (workspace / DRILLS / one.drill / RUNS / one.run).is_dir()
    )
