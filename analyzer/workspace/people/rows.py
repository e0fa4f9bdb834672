"""People in the database, and the audit log."""

import datetime as dt
import getpass
import socket

from sqlalchemy import delete
from sqlalchemy.orm import Session

from analyzer.model.people import People, name_key
from analyzer.workspace.database.tables import AuditRow, PersonRow, SpellingRow


def put_people(session: Session, people: People) -> None:
    """Make the rows of people those of people.toml."""
    session.execute(delete(SpellingRow))
    session.execute(delete(PersonRow))
    for person in people.persons:
        spellings = [SpellingRow(key=key) for key in dict.fromkeys(map(name_key, person.names))]
        session.add(
            PersonRow(
                name=person.name,
                group=person.group,
                consent=person.consent,
                consent_date=person.consent_date,
                spellings=spellings,
            )
        )


def note(session: Session, what: str) -> None:
    """Add a line to the audit log; `what` names nobody."""
    try:
        user = getpass.getuser()
    except (KeyError, OSError):
        user = "unknown"
    at = dt.datetime.now(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    session.add(AuditRow(at=at, what=what, by=user, place=socket.gethostname()))
