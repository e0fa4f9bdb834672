"""Changes of people.toml: add a person, change what is known of them, join two entries or spellings to one person."""

import dataclasses
import datetime as dt
from pathlib import Path
from typing import Any

from analyzer.errors import InputError, quoted
from analyzer.model.people import People, Person, name_key
from analyzer.workspace.database.connection import opened
from analyzer.workspace.layout import PEOPLE_FILE
from analyzer.workspace.people.people_toml import change_people, read_people
from analyzer.workspace.people.rows import note, put_people


def add_person(workspace: Path, person: Person) -> Person:
    """Put a new person into people.toml.

    Raises
    ------
    InputError
        Where one of the names stands for somebody already, or the file or database cannot be used.
    """

    def add(people: People) -> People:
        taken = next((name for name in person.names if people.find(name) is not None), None)
        if taken is not None:
            raise _wrong(f"{quoted(taken)} stands for somebody already", "choose another name, or merge the two")
        return People((*people.persons, person))

    _apply(workspace, add, "a person was added")
    return person


def change_person(workspace: Path, name: str, **changes: Any) -> Person:
    """Change fields of a person, such as `group`, `consent` with `consent_date`, or `note`, and return the person.

    Raises
    ------
    InputError
        Where nobody has this name, or the file or database cannot be used.
    """

    def change(people: People) -> People:
        person = _found(people, name)
        return _with(people, person, dataclasses.replace(person, **changes))

    return _found(_apply(workspace, change, "what is known of a person was changed"), name)


def merge_people(workspace: Path, name: str, other: str) -> Person:
    """Make `other` a spelling of the person `name`; where it is a person of its own, the two become one.

    Group and note are those of `name`, of `other` where it has none. Of two answers about consent the later one
    counts; of two of one day, and where neither has a date, the answer is no unless both are yes.

    Raises
    ------
    InputError
        Where nobody has the name `name`, the two are the same person already, or a file or the database cannot be used.
    """

    def merge(people: People) -> People:
        first, second = _found(people, name), people.find(other)
        if second is first:
            raise _wrong(
                f"{quoted(other)} stands for {quoted(first.name)} already", "give two names of different people"
            )
        if second is None:
            joined = dataclasses.replace(first, spellings=(*first.spellings, other))
            return _with(people, first, joined)
        consent, date = _answer(first, second)
        joined = Person(
            name=first.name,
            group=first.group or second.group,
            consent=consent,
            consent_date=date,
            spellings=_spellings(first, second),
            note=first.note or second.note,
        )
        rest = People(tuple(p for p in people.persons if p is not second))
        return _with(rest, first, joined)

    return _found(_apply(workspace, merge, "two spellings were merged"), name)


def person_named(workspace: Path, name: str) -> tuple[Person, bool]:
    """Return a person, and whether people.toml has them; a name that stands in runs alone is a person as well."""
    found = read_people(workspace).find(name)
    return (found, True) if found is not None else (Person(name), False)


def _spellings(first: Person, second: Person) -> tuple[str, ...]:
    found = {name_key(n): n for n in reversed((*first.spellings, *second.names)) if name_key(n) != name_key(first.name)}
    return tuple(reversed(found.values()))


def _answer(first: Person, second: Person) -> tuple[bool, dt.date | None]:
    dates = [p.consent_date or dt.date.min for p in (first, second)]
    if dates[0] == dates[1]:
        return first.consent and second.consent, first.consent_date
    later = first if dates[0] > dates[1] else second
    return later.consent, later.consent_date


def _found(people: People, name: str) -> Person:
    person = people.find(name)
    if person is None:
        raise _wrong(f"nobody is named {quoted(name)}", "add them first, or look at searchwake people WORKSPACE list")
    return person


def _with(people: People, before: Person, after: Person) -> People:
    return People(tuple(after if p is before else p for p in people.persons))


def _wrong(what: str, do: str) -> InputError:
    return InputError(where=PEOPLE_FILE, what=what, do=do)


def _apply(workspace: Path, change: Any, words: str) -> People:
    """Change people.toml, then its rows; the database is opened first, so that a fault of it changes nothing."""
    with opened(workspace) as store:
        people = change_people(workspace, change)
        with store.writing() as session:
            put_people(session, people)
            note(session, words)
    return people
