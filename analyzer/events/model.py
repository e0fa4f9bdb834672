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
OPEN, CONFIRMED, REJECTED = "open", "confirmed", "rejected"
"""What has become of a proposal."""
OVERALL = "overall"
"""The name of the standings over all fields; no drill may have it."""


@dataclass(frozen=True, slots=True)
class FaultPenalty:
    """Seconds that are proposed for a wrong thing that the measuring found; they count once a judge confirms them.

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
    """A field of the event: a drill of the workspace. `transmitters`: their ids. `time_limit_s`: None where none is.

    `team`: several searchers look for one burial at once, so that what one of them did not strike is nobody's miss.
    """

    drill: str
    name: str
    transmitters: tuple[str, ...]
    time_limit_s: float | None = None
    team: bool = False


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
    bonus_points | status | confirms | rejects. `amount`: above 0, 0 where there is none. `at`: ISO 8601 with offset.

    `about`: the finding or measure of the proposal that is confirmed or rejected; `transmitter`: of which search, ""
    where it is the only one.
    """

    number: int
    bib: str
    drill: str
    kind: str
    amount: float
    status: str
    reason: str
    by: str
    at: str
    about: str = ""
    transmitter: str = ""

    @property
    def said(self) -> str:
        """Why, by whom and when."""
        return f"{self.reason} ({self.by}, {self.at})"


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
    """A finding of a run as an event needs it. `place`: where it stands in the result file ("findings[0]").
    `probability`: that it is true, as the finding states it."""

    name: str
    transmitter: str
    text: str
    from_s: float
    place: str
    probability: float


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What a score rests on, of one result file.

    `strikes`: (transmitter, seconds since the start, place in the file), the first of each transmitter, by time.
    `measures`: (name, transmitter, figure, place). `timeline_ends_s`: when each row of the timeline ends, in its order.
    `start_marked`: whether the clock began with a start mark, else with the first fix. `logged`: whether there is a
    log of the readings. `marked`: whether anything was marked: without a mark nothing says how the run ended.
    """

    source: str
    duration_s: float
    strikes: tuple[tuple[str, float, str], ...]
    faults: tuple[FoundFault, ...] = ()
    measures: tuple[tuple[str, str, Measured, str], ...] = ()
    timeline_ends_s: tuple[float, ...] = ()
    start_marked: bool = True
    logged: bool = True
    marked: bool = True


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
class Proposal:
    """A penalty that the engine proposes. It adds seconds once a judge has confirmed it, and never by itself.

    `about`: the finding or measure; `probability`: that the finding is true, or that the measure lies beyond what is
    free. `seconds`: what it adds, with the interval of the measure. `figure`: the measure, None for a finding.
    `state`: open | confirmed | rejected; `said`: by whom and why, "" while it is open. The rest as in a `ScoreLine`.
    """

    drill: str
    about: str
    transmitter: str
    text: str
    probability: float
    seconds: Figure
    rule: str
    rule_value: str
    source: str
    evidence: str
    figure: Measured | None = None
    timeline_row: int | None = None
    state: str = OPEN
    said: str = ""


@dataclass(frozen=True, slots=True)
class FieldScore:
    """What an entry has on one field, or overall (`drill` is OVERALL then).

    `targets`: transmitters struck in time, with judges' points; `targets_low`, `targets_high`: what it may be within
    the uncertainty of the marks. `seconds`: total so far; None where the entry has no place, and `why` says why.
    `pending`: a result is still to come. `done`: the fields in the total. `known`: what is to be known of the evidence.
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
    pending: bool = False
    done: int = 1
    proposals: tuple[Proposal, ...] = ()
    known: tuple[str, ...] = ()

    @property
    def open(self) -> int:
        """How many proposals wait for a judge."""
        return sum(one.state == OPEN for one in self.proposals)


@dataclass(frozen=True, slots=True)
class Unclear:
    """Another entry that one is not clearly ahead of or behind. Seconds: its total less ours, and 90 % bounds.
    `because`: "time", or "targets" where even their number is not sure."""

    bib: str
    gap_s: float
    low_s: float
    high_s: float
    because: str


@dataclass(frozen=True, slots=True)
class Place:
    """One row of the standings. `rank` None where there is no place. `low`, `high`: the 90 % range of places that the
    uncertainty of all totals leaves; None where there is no place."""

    rank: int | None
    score: FieldScore
    name: str
    class_id: str
    unclear: tuple[Unclear, ...] = ()
    low: int | None = None
    high: int | None = None


@dataclass(frozen=True, slots=True)
class Standings:
    """One table. `scope`: a drill or OVERALL; `class_id`: "" for all classes together.

    While results of `waiting` entries are to come, it is an intermediate ranking.
    """

    scope: str
    class_id: str
    places: tuple[Place, ...]

    @property
    def waiting(self) -> int:
        """Of how many entries a result is still to come."""
        return sum(place.score.pending for place in self.places)

    @property
    def open(self) -> int:
        """How many proposals wait for a judge."""
        return sum(place.score.open for place in self.places)
