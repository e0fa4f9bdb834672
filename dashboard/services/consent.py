"""Whether a searcher may be named to others: asked where runs are given to people, and kept in people.toml.

Without a clear yes nobody is named: whoever is not in people.toml, or whose answer cannot be written, counts as no.
"""

import datetime as dt
from pathlib import Path

from analyzer.errors import AnalyzerError, quoted
from analyzer.model.people import Person
from analyzer.workspace.people.changes import add_person, change_person
from analyzer.workspace.people.people_toml import read_people
from dashboard.view_models.run_form import AS_IT_IS, NO, YES

NOT_NAMED = "nobody else sees this name"


def note_consent(workspace: Path, name: str, consent: str, *, new: bool) -> tuple[str, ...]:
    """Put a searcher into people.toml with the answer of today, and return lines to tell.

    Somebody who is not in people.toml is put in where they are `new`, or an answer was given.

    An answer that is AS_IT_IS, or is none of the answers there are, changes nothing of who is there already, and leaves
    who is new unnamed.
    """
    today = dt.datetime.now(dt.UTC).astimezone().date()
    try:
        person = read_people(workspace).find(name)
        if person is None and not new and consent not in (YES, NO):
            return ()
        if person is None:
            agreed = consent == YES
            add_person(workspace, Person(name, consent=agreed, consent_date=today if consent in (YES, NO) else None))
            return (f"{name} is new in people.toml, and {'may be named' if agreed else 'is not named to others'}.",)
        if consent == AS_IT_IS or consent not in (YES, NO) or person.consent == (consent == YES):
            return ()
        change_person(workspace, person.name, consent=consent == YES, consent_date=today)
        return (f"{person.name} {'may be named' if consent == YES else 'is not named to others'} from now on.",)
    except AnalyzerError as error:
        return (f"The answer of {quoted(name)} was not kept, and {NOT_NAMED}: {error}",)
