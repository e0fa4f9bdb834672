"""What the database of a workspace tells: lines of runs for a season, who searched, what was done."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import func, select

from analyzer.errors import InputError
from analyzer.files.results.run_line_json import from_json
from analyzer.model.people import name_key
from analyzer.model.run_line import RunLine
from analyzer.workspace.database.connection import Store
from analyzer.workspace.database.errors import REBUILD
from analyzer.workspace.database.tables import AuditRow, DrillRow, PersonRow, RunRow, SpellingRow


@dataclass(frozen=True, slots=True)
class Searcher:
    """Someone who searched, or who stands in people.toml. `listed`: they stand in it. `runs`: how many are indexed;
    `first`, `last`: ISO 8601 UTC of the first and last of them, "" where there is none."""

    name: str
    group: str
    consent: bool
    listed: bool
    runs: int
    first: str
    last: str


@dataclass(frozen=True, slots=True)
class AuditLine:
    """One line of the audit log. `at`: ISO 8601 UTC; `by`: the system's user; `place`: the machine's name."""

    at: str
    what: str
    by: str
    place: str


def run_lines(
    store: Store, *, person: str | None = None, group: str | None = None, consent_only: bool = False
) -> tuple[RunLine, ...]:
    """Return the lines of indexed runs in the order of their times.

    `searcher` is the person's own name, whichever spelling the run has. Runs that name nobody are with everyone's.

    Parameters
    ----------
    store : Store
    person : str, optional
        A name or another spelling of it: this person's runs alone.
    group : str, optional
        The runs of this group's people alone.
    consent_only : bool
        For lists that others see: only people of people.toml who agreed to be named.

    Raises
    ------
    InputError
        Where the database cannot be used.
    """
    query = (
        select(RunRow.line, PersonRow.name, DrillRow.name)
        .join(DrillRow, RunRow.drill_id == DrillRow.id)
        .outerjoin(SpellingRow, SpellingRow.key == RunRow.searcher_key)
        .outerjoin(PersonRow, PersonRow.id == SpellingRow.person_id)
        .order_by(RunRow.time_zero, DrillRow.name, RunRow.name)
    )
    with store.reading() as session:
        if person is not None:
            query = query.where(RunRow.searcher_key.in_(_keys_of(store, person)))
        if group is not None:
            query = query.where(PersonRow.group == group)
        if consent_only:
            query = query.where(PersonRow.consent)
        rows = session.execute(query).all()
    lines = []
    for values, name, drill in rows:
        try:
            line = from_json(values)
        except InputError:
            raise InputError(where=store.where, what=f"a row of {drill} is damaged", do=REBUILD) from None
        lines.append(line if name is None else replace(line, searcher=name))
    return tuple(lines)


def _keys_of(store: Store, person: str) -> Sequence[str]:
    """Return all spellings of a person, in the form that runs are found by; the one given where nobody is listed."""
    mine = select(SpellingRow.person_id).where(SpellingRow.key == name_key(person))
    with store.reading() as session:
        found = session.scalars(select(SpellingRow.key).where(SpellingRow.person_id.in_(mine))).all()
    return found or [name_key(person)]


def searchers(store: Store) -> tuple[Searcher, ...]:
    """Return the people of people.toml, then the names in runs that stand for none of them, each by name."""
    times = func.count(RunRow.id), func.min(RunRow.time_zero), func.max(RunRow.time_zero)
    listed = (
        select(PersonRow.name, PersonRow.group, PersonRow.consent, *times)
        .outerjoin(SpellingRow, SpellingRow.person_id == PersonRow.id)
        .outerjoin(RunRow, RunRow.searcher_key == SpellingRow.key)
        .group_by(PersonRow.id, PersonRow.name, PersonRow.group, PersonRow.consent)
    )
    others: Any = (
        select(func.min(RunRow.searcher), *times)
        .where(RunRow.searcher_key != "", RunRow.searcher_key.not_in(select(SpellingRow.key)))
        .group_by(RunRow.searcher_key)
    )
    with store.reading() as session:
        known = [Searcher(n, g, c, True, runs, a or "", b or "") for n, g, c, runs, a, b in session.execute(listed)]
        unknown = [Searcher(n, "", False, False, runs, a, b) for n, runs, a, b in session.execute(others)]
    return (*sorted(known, key=_by_name), *sorted(unknown, key=_by_name))


def _by_name(searcher: Searcher) -> str:
    return name_key(searcher.name)


def failures(store: Store) -> tuple[str, ...]:
    """Return a line for each run that could not be measured."""
    with store.reading() as session:
        rows = session.scalars(select(DrillRow.failures).order_by(DrillRow.name))
        return tuple(line for lines in rows for line in lines)


def audit_lines(store: Store) -> tuple[AuditLine, ...]:
    """Return the audit log, oldest first."""
    with store.reading() as session:
        rows = session.scalars(select(AuditRow).order_by(AuditRow.id))
        return tuple(AuditLine(row.at, row.what, row.by, row.place) for row in rows)
