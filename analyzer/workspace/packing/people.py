"""Two lists of people joined: new ones are added, what differs of one person is told, and consent only narrows."""

import dataclasses
from pathlib import Path

from analyzer.errors import AnalyzerError, quoted
from analyzer.model.people import Person
from analyzer.workspace.layout import PEOPLE_FILE
from analyzer.workspace.people.changes import add_person, change_person
from analyzer.workspace.people.people_toml import parse_people, read_people


def join_people(workspace: Path, data: bytes) -> list[str]:
    """Add the people of another people.toml to a workspace's; return a line for each that is not the same in both."""
    try:
        theirs = parse_people(data)
        return [line for person in theirs.persons for line in _joined(workspace, person)]
    except AnalyzerError as error:
        return [f"{error}; the people of the pack were not added"]


def _joined(workspace: Path, person: Person) -> list[str]:
    ours = {found.name: found for name in person.names if (found := read_people(workspace).find(name)) is not None}
    if not ours:
        add_person(workspace, person)
        return []
    if len(ours) > 1:
        several = " and ".join(map(quoted, ours))
        return [f"{PEOPLE_FILE}: {quoted(person.name)} of the pack is {several} here; nothing was changed"]
    own = next(iter(ours.values()))
    lines = []
    if own.consent and not person.consent:
        change_person(workspace, own.name, consent=False, consent_date=person.consent_date)
        lines.append(
            f"{PEOPLE_FILE}: {quoted(own.name)} has not agreed to be named in the pack: the answer here is no now"
        )
    rest = dataclasses.replace(person, consent=own.consent, consent_date=own.consent_date)
    if rest != own or (person.consent and not own.consent):
        lines.append(f"{PEOPLE_FILE}: {quoted(own.name)} is described otherwise in the pack; what stands here stays")
    return lines
