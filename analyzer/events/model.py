"""An event: who searched where, by which rule sheet, what the judges said, and what came out of it.

Words for a status: `waiting` (not yet on the field), `started` (on the field), `finished`, `absent` (did not start),
`stopped` (did not finish), `excluded` (disqualified).
"""

import datetime as dt
from dataclasses import dataclass

from analyzer.model.figure import Figure, Measured

STATUSES = ("waiting", "started", "finished", "absent", "stopped", "excluded")
FASTEST, TARGETS = "fastest", "targets"
KINDS = (FASTEST, TARGETS)
OVERALL = "overall"
"""The name of the standings over all fields; no drill may have it."""


@dataclass(frozen=True, slots=True)
class FaultPenalty:
    """Seconds for a wrong thing that the measuring found.

    Either `finding`, the name of a finding ("off_lowest"): `seconds` for each one in the run. Or `measure`, a
    figure of each search ("pinpoint.probe_offset_m"): `seconds` per unit beyond `free`, `at_most` for a search.
    """

    finding: str
    measure: str
    seconds: float
    free: float = 0.0
    at_most: float = 3600.0

    @property
    def key(self) -> str:
        """The name of the rule in the lines of a score."""
        return f"penalty.{self.finding or self.measure}"


@dataclass(frozen=True, slots=True)
class EventRules:
    """A checked rule sheet of an event. `sha256`: of the bytes it was read from. Seconds unless said otherwise.

    `kind`: fastest (seconds, fewest first) or targets (transmitters struck in the time limit, most first).
    `missed_transmitter_s`: for each transmitter without a probe hit (fastest). `targets`: how many are wanted, None for
    all of the field. `time_limit_s`: None where the field's own holds. `resolution_s`: times are rounded to it before
    they are compared. `mark_sigma_s`: standard deviation of a mark set by hand. `without_result_s`: what a field
    without a result counts overall (fastest), None where there is no place overall then. `source`: where the rules
    come from.
    """

    name: str
    version: str
    sha256: str
    kind: str
    resolution_s: float
    mark_sigma_s: float
    missed_transmitter_s: float = 0.0
    penalties: tuple[FaultPenalty, ...] = ()
    targets: int | None = None
    time_limit_s: float | None = None
    without_result_s: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class EventField:
    """A field of the event: a drill of the workspace. `transmitters`: their ids. `time_limit_s`: None where none is."""

    drill: str
    name: str
    transmitters: tuple[str, ...]
    time_limit_s: float | None = None


@dataclass(frozen=True, slots=True)
class EventClass:
    """A class that entries are ranked in."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class Entry:
    """Someone who takes part. `runs`: (drill, run) pairs; `statuses`: (drill, status) as the organiser wrote them."""

    bib: str
    name: str
    class_id: str
    runs: tuple[tuple[str, str], ...] = ()
    statuses: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class JudgeEntry:
    """What a judge decided. `number`: from 1, as in the event file. `kind`: penalty_s | bonus_s | penalty_points |
    bonus_points | status. `amount`: above 0, 0 for a status. `at`: ISO 8601 with offset."""

    number: int
    bib: str
    drill: str
    kind: str
    amount: float
    status: str
    reason: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Event:
    """A checked event, its entries matched with the runs of the workspace."""

    name: str
    date: dt.date | None
    rules: EventRules
    classes: tuple[EventClass, ...]
    fields: tuple[EventField, ...]
    entries: tuple[Entry, ...]
    judge: tuple[JudgeEntry, ...] = ()
    set_aside: tuple[str, ...] = ()
    """Lines on runs that belong to no entry."""


@dataclass(frozen=True, slots=True)
class FoundFault:
    """A finding of a run as an event needs it. `place`: where it stands in the result file ("findings[0]")."""

    name: str
    transmitter: str
    text: str
    from_s: float
    place: str


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What a score rests on, of one result file.

    `strikes`: (transmitter, seconds since the start, place in the file), the first of each transmitter, by time.
    `measures`: (name, transmitter, figure, place). `timeline_ends_s`: when each row of the timeline ends, in its order.
    `start_marked`: whether the clock began with a start mark, else with the first fix.
    """

    source: str
    duration_s: float
    strikes: tuple[tuple[str, float, str], ...]
    faults: tuple[FoundFault, ...] = ()
    measures: tuple[tuple[str, str, Measured, str], ...] = ()
    timeline_ends_s: tuple[float, ...] = ()
    start_marked: bool = True


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """One line of a score: what, how much, by which rule, on what evidence.

    `figure`: what was measured, None for a count or a decision. `seconds`, `points`: what it adds.
    `source`: result file or "judge entry 2". `evidence`: place in that file. `timeline_row`: index of the row of the
    timeline in which the moment lies, None where there is none.
    """

    what: str
    rule: str
    rule_value: str
    seconds: float
    points: float
    source: str
    evidence: str = ""
    figure: Measured | None = None
    timeline_row: int | None = None


@dataclass(frozen=True, slots=True)
class FieldScore:
    """What an entry has on one field, or overall (`drill` is OVERALL then).

    `targets`: transmitters struck in time, with judges' points; `targets_low`, `targets_high`: what it may be within
    the uncertainty of the marks. `seconds`: total; None where the entry has no place, and `why` says why.
    """

    bib: str
    drill: str
    run: str
    status: str
    targets: float
    targets_low: float
    targets_high: float
    seconds: Figure | None
    lines: tuple[ScoreLine, ...] = ()
    why: str = ""
    passed: bool | None = None


@dataclass(frozen=True, slots=True)
class Unclear:
    """A neighbour that an entry is not clearly ahead of or behind. Seconds: its total less ours, and 90 % bounds.
    `because`: "time", or "targets" where even their number is not sure."""

    bib: str
    gap_s: float
    low_s: float
    high_s: float
    because: str


@dataclass(frozen=True, slots=True)
class Place:
    """One row of the standings. `rank` None where there is no place."""

    rank: int | None
    score: FieldScore
    name: str
    class_id: str
    unclear: tuple[Unclear, ...] = ()


@dataclass(frozen=True, slots=True)
class Standings:
    """One table. `scope`: a drill or OVERALL; `class_id`: "" for all classes together."""

    scope: str
    class_id: str
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class ShownLine:
    """One line of a score in words. `adds`: seconds and targets it adds; `evidence`: where to look it up."""

    what: str
    figure: str
    rule: str
    adds: str
    evidence: str


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One row of a table in words. `remarks`: what is to be known of the place; `lines`: how the total comes about."""

    place: str
    bib: str
    name: str
    class_name: str
    total: str
    interval: str
    status: str
    remarks: tuple[str, ...]
    lines: tuple[ShownLine, ...]
    runs: tuple[tuple[str, str], ...] = ()
