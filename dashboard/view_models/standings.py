"""What the pages of events show: the list of events, one table, and how one entry's total comes about. No Dash."""

from dataclasses import dataclass
from urllib.parse import quote, urlencode

from analyzer.events.model import OVERALL
from analyzer.events.shown import ShownLine, ShownProposal, ShownRow


@dataclass(frozen=True, slots=True)
class EventEntry:
    """One line of the list of events. `problem`: why it cannot be shown, "" where it can; `scored`: whether it is."""

    key: str
    name: str
    date: str = ""
    entries: int = 0
    fields: int = 0
    scored: bool = False
    problem: str = ""


@dataclass(frozen=True, slots=True)
class TableView:
    """One table of an event and what is to be known of it.

    `fields`, `classes`: (key, name) of what can be chosen. `columns`: heads of the rows' parts. `state`: what is still
    open, in words; `intermediate`: results are to come. `changed`: lines on files changed since the scoring;
    `broken`: lines on stored files that are not as they were written; `notes`: runs set aside or not measured. `how`,
    `how_to_confirm`: how to read the places, and what a judge does with a proposal.
    """

    key: str
    name: str
    date: str
    rules: str
    source: str
    engine: str
    integrity: str
    log_head: str
    fields: tuple[tuple[str, str], ...]
    classes: tuple[tuple[str, str], ...]
    scope: str
    class_id: str
    columns: tuple[str, ...]
    state: tuple[str, ...]
    intermediate: bool
    rows: tuple[ShownRow, ...]
    proposals: tuple[ShownProposal, ...]
    changed: tuple[str, ...]
    broken: tuple[str, ...]
    notes: tuple[str, ...]
    how: str
    how_to_confirm: str

    def address(self, *, scope: str | None = None, class_id: str | None = None) -> str:
        """Return the address of a table of the event: this one, with another field or class."""
        return table_address(
            self.key, self.scope if scope is None else scope, self.class_id if class_id is None else class_id
        )


@dataclass(frozen=True, slots=True)
class AccountView:
    """How an entry's total on one field comes about. `debrief`: address of the `run` (drill, name), ""
    where there is none."""

    title: str
    why: str
    lines: tuple[ShownLine, ...]
    debrief: str
    proposals: tuple[ShownProposal, ...] = ()
    run: tuple[str, str] = ("", "")


def event_address(key: str) -> str:
    """Return the address of an event's page."""
    return f"/standings/{quote(key, safe='')}"


def table_address(key: str, scope: str, class_id: str) -> str:
    """Return the address of a table; what is shown without being asked for is left out."""
    asked = {"field": "" if scope == OVERALL else scope, "class": class_id}
    query = urlencode({name: value for name, value in asked.items() if value})
    return event_address(key) + (f"?{query}" if query else "")


def download_address(key: str, name: str) -> str:
    """Return the address of a file of an event."""
    return f"/take-event/{quote(key, safe='')}/{name}"
