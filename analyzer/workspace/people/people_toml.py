"""people.toml: who the searchers of a workspace are. The file is the truth; a database only repeats it."""

import os
import re
from collections.abc import Callable
from pathlib import Path

from analyzer.errors import InputError, quoted
from analyzer.files.source import MAX_BYTES, decode_text, not_a_file, read_bytes, regular_bytes, write_atomic
from analyzer.files.toml_table import TomlTable, read_toml
from analyzer.files.writers import toml_text
from analyzer.model.people import People, Person, name_key
from analyzer.workspace.layout import PEOPLE_FILE
from analyzer.workspace.lock import locked

LOCK = ".people-lock"
KEYS = ("name", "group", "consent", "consent_date", "spellings", "note")
HEAD = "# The people of this workspace. Commands of searchwake keep these first lines of comment, and no others.\n"
STRINGS = re.compile(r'"""(?:\\.|[^\\])*?"""' + r"|'''.*?'''" + r'|"(?:\\.|[^"\\\n])*"' + r"|'[^'\n]*'", re.DOTALL)


def read_people(workspace: Path) -> People:
    """Return the people of a workspace, nobody where there is no people.toml; see `parse_people`."""
    path = workspace / PEOPLE_FILE
    if not os.path.lexists(path):
        return People()
    if path.exists() and not path.is_file():
        raise not_a_file(path)
    if path.is_file() and path.stat().st_size <= MAX_BYTES and not path.read_bytes().strip():
        return People()
    return parse_people(read_bytes(path))


def parse_people(data: bytes, *, name: str = PEOPLE_FILE) -> People:
    """Return the checked people.

    Raises
    ------
    FileError
        With every key that is unknown, name that is missing, consent without a date and spelling that two people
        share: all at once.
    InputError
        Where the file is no TOML.
    """
    return read_toml(_people, data, name=name) if decode_text(data, name=name).strip() else People()


def _people(outer: TomlTable) -> People:
    outer.allow("person")
    persons: list[Person] = []
    taken: dict[str, int] = {}
    for number, table in enumerate(outer.tables("person")):
        person = _person(table)
        for spelling in filter(name_key, person.names):
            other = taken.setdefault(name_key(spelling), number)
            if other != number:
                table.report(
                    "name" if spelling == person.name else "spellings",
                    f"{quoted(spelling)} already stands for {quoted(persons[other].name)}",
                    "keep it with one person (capitals and spaces make no difference)",
                )
        persons.append(person)
    return People(tuple(persons))


def _person(table: TomlTable) -> Person:
    table.allow(*KEYS)
    consent = table.values.get("consent", False)
    if not isinstance(consent, bool):
        table.report("consent", f"{quoted(consent)} is neither true nor false", "write true or false")
    date = table.day("consent_date")
    if consent is True and date is None and not table.wrong("consent_date"):
        table.report("consent_date", "a consent without its date", "write the day, like 2026-01-17")
    spellings = table.values.get("spellings", [])
    if not isinstance(spellings, list) or not all(isinstance(s, str) for s in spellings):
        table.report("spellings", "this is not a list of names", 'write ["Mara K", "mk"]')
        spellings = []
    name = table.text("name")
    return Person(
        name=name if table.wrong("name") else _name(table, "name", name),
        group=table.text("group", ""),
        consent=consent is True,
        consent_date=date,
        spellings=tuple(_name(table, "spellings", s) for s in spellings),
        note=table.text("note", ""),
    )


def _name(table: TomlTable, key: str, text: str) -> str:
    if not name_key(text) or any(ord(c) < 32 for c in text):
        table.report(key, f"{quoted(text)} is no name", "write a name of at least one letter, on one line")
    return text


def people_bytes(people: People, *, head: str = HEAD) -> bytes:
    """Return people.toml."""
    return (head + "".join(f"\n{person_text(person)}" for person in people.persons)).encode()


def person_text(person: Person) -> str:
    """Return one person's table."""
    lines = ["[[person]]", f"name = {toml_text(person.name)}"]
    if person.group:
        lines.append(f"group = {toml_text(person.group)}")
    lines.append(f"consent = {str(person.consent).lower()}")
    if person.consent_date is not None:
        lines.append(f"consent_date = {person.consent_date.isoformat()}")
    if person.spellings:
        lines.append(f"spellings = [{', '.join(map(toml_text, person.spellings))}]")
    if person.note:
        lines.append(f"note = {toml_text(person.note)}")
    return "\n".join(lines) + "\n"


def change_people(workspace: Path, change: Callable[[People], People]) -> People:
    """Read people.toml, change it and write it back, with nobody in between; return the people after it.

    Raises
    ------
    InputError
        Where the file is bad, cannot be written, or holds comments that a rewriting would lose.
    """
    path = workspace / PEOPLE_FILE
    try:
        with locked(workspace / LOCK):
            head = _head(path)
            people = change(read_people(workspace))
            parse_people(data := people_bytes(people, head=head))
            write_atomic(path, data)
    except OSError as error:
        raise InputError(
            where=PEOPLE_FILE,
            what=f"the file cannot be written ({error.strerror})",
            do="allow writing to the workspace; nothing was changed",
        ) from None
    return people


def _head(path: Path) -> str:
    """Return the comment at the top of the file; comments further down are an error, for they would be lost."""
    data = regular_bytes(path) or b""
    if not data.strip():
        return HEAD
    text = decode_text(data, name=PEOPLE_FILE)
    lines = text.splitlines(keepends=True)
    top = next((i for i, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")), len(lines))
    bare = STRINGS.sub(lambda found: "\n" * found.group().count("\n"), "".join(lines[top:]))
    for number, line in enumerate(bare.splitlines(), start=top + 1):
        if "#" in line:
            raise InputError(
                where=f"{PEOPLE_FILE}, line {number}",
                what="this command would lose the comment",
                do='move it to the top of the file, or into note = "..." of the person',
            )
    return "".join(lines[:top]).rstrip("\n") + "\n" if top else ""
