"""Runs that were scored and whose files are gone since: they are told, and not taken for runs that are still to come.

What they had is noted in the log under field and bib at each scoring, so that it stays known at the next one and to
`verify`, which has the log and not the standing of before.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

from analyzer.events.earlier import scorings_of
from analyzer.events.files.scored_json import Scored
from analyzer.events.model import OVERALL, Event
from analyzer.events.timing import LOST
from analyzer.events.words import total_words
from analyzer.files.names import RUNS
from analyzer.workspace.layout import DRILLS, EARLIER_STANDINGS

Had = Mapping[str, str]
"""Field and bib ("lower_bowl/7") -> what the run had, in words."""


def lost_runs(event: Event, before: Scored | None, noted: Had) -> dict[str, str]:
    """Return what runs had that were scored and are not there any more, in the order of the entries.

    Parameters
    ----------
    event : Event
        As it is matched with the runs now.
    before : Scored, optional
        The scoring before.
    noted : mapping
        What was lost by then; see `noted_as_lost`.
    """
    had = dict(noted)
    if before is not None:
        kind, tables = before.rules.kind, [t for t in before.standings if not t.class_id and t.scope != OVERALL]
        had |= {_key(t.scope, p.score.bib): total_words(p.score, kind) for t in tables for p in t.places if p.score.run}
    gone = [_key(f.drill, e.bib) for e in event.entries for f in event.fields if f.drill not in dict(e.runs)]
    return {key: had[key] for key in gone if key in had}


def noted_as_lost(event: Path) -> dict[str, str]:
    """Return what the last scoring noted as lost in the log, {} where there is nothing."""
    scorings = scorings_of(event)
    found = scorings[-1].get("lost") if scorings else None
    return {str(key): str(had) for key, had in found.items()} if isinstance(found, dict) else {}


def lost_reasons(event: Event, lost: Had) -> dict[tuple[str, str], str]:
    """Return (drill, bib) -> why there is no result, and what to do."""
    return {
        (f.drill, e.bib): _reason(f.drill, lost[_key(f.drill, e.bib)])
        for e in event.entries
        for f in event.fields
        if _key(f.drill, e.bib) in lost
    }


def lost_lines(reasons: Mapping[tuple[str, str], str]) -> Sequence[str]:
    """Return a line for each of them."""
    return [f"bib {bib}, {drill}: {why}" for (drill, bib), why in reasons.items()]


def _reason(drill: str, had: str) -> str:
    return (
        f"{LOST}: its run had {had or 'no time'} when it was scored before, which stands in {EARLIER_STANDINGS}/; put "
        f"its folder back into {DRILLS}/{drill}/{RUNS} and score anew with --again, or let a judge enter a status"
    )


def _key(drill: str, bib: str) -> str:
    return f"{drill}/{bib}"
