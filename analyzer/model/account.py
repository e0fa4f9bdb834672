"""What is said of a run: timeline, account, findings and scores."""

from dataclasses import dataclass, fields

from analyzer.model.figure import Figure, Measured, share_above

PHASE_KEYS = ("overall", "signal_search", "coarse_search", "fine_search", "pinpoint")


ACTIVITIES = (
    "strips",
    "walking",
    "along_line",
    "off_line",
    "wrong_way",
    "way_back",
    "standing",
    "first_line",
    "crossing_line",
    "extra_line",
    "bracketing",
    "probing",
    "marking",
    "not_recorded",
    "unexplained",
)
"""What a searcher does, as the timeline names it."""
FAULT_CAUSES = (
    "wrong_way",
    "detour",
    "standing",
    "missed_strip",
    "covered_twice",
    "extra_lines",
    "off_lowest",
    "long_probing",
)
"""Causes of the account that are a fault by themselves, named as the fault and its finding are."""
FINDINGS = (
    "missed_strip",
    "covered_twice",
    "wrong_way",
    "detour",
    "standing",
    "pace",
    "late_slow_down",
    "rushed_bracketing",
    "narrow_bracketing",
    "oblique_bracketing",
    "extra_lines",
    "off_lowest",
    "long_probing",
)
"""What a finding may be about: the names in their ids, before the colon."""
OTHER_CAUSES = (
    "reference",
    "pace",
    "longer_lines",
    "outside",
    "marking",
    "not_recorded",
    "not_told_apart",
    "not_assessed",
)
"""Causes of the account that are none."""
NOBODYS_CAUSES = ("not_recorded", "not_told_apart", "not_assessed")
"""Causes of the account that the evidence gives to nobody."""
CAUSE_TITLES = {
    "reference": "The reference searcher",
    "wrong_way": "Wrong way",
    "detour": "Detours from the field line",
    "standing": "Standing",
    "missed_strip": "Strip passed by",
    "covered_twice": "Ground covered twice",
    "outside": "Outside the area",
    "extra_lines": "Lines beyond one cross",
    "longer_lines": "Lines longer than needed",
    "off_lowest": "Probing beside the lowest spot",
    "long_probing": "Probing longer than the sheet allows",
    "pace": "Slower than the sheet's pace",
    "marking": "Marking longer than the sheet allows",
    "not_recorded": "Not recorded or held",
    "not_told_apart": "Cannot be told apart",
    "not_assessed": "Signal and coarse search together",
}
"""What each cause of the account is called where it cost time."""
FINDING_TITLES = {name: CAUSE_TITLES[name] for name in FINDINGS if name in CAUSE_TITLES} | {
    "late_slow_down": "Slowed down late",
    "rushed_bracketing": "Lines of the cross too fast",
    "narrow_bracketing": "Cross too narrow",
    "oblique_bracketing": "Second line not square",
}
"""What each finding is called in lists that others read: no sentence to the searcher."""


SAID_FROM, POSSIBLE_FROM = 0.9, 0.6
"""A remark is a finding from the first probability on, and possible from the second on."""
CROSS_LINES = 2
"""Lines of one cross."""
OFF_LOWEST_M, SURELY_OFF_LOWEST_M = 0.25, 0.1
"""Probing began beside the lowest reading where the last reading was so far above it, and surely at least so far. Our
choice: more than the display's step."""


def began_beside_lowest(ended: Measured | None) -> bool:
    """Return whether `ended_on_lowest_m` shows that the probing began beside the lowest reading."""
    if not isinstance(ended, Figure):
        return False
    return ended.value >= OFF_LOWEST_M and share_above(ended, SURELY_OFF_LOWEST_M) >= SAID_FROM


@dataclass(frozen=True, slots=True)
class TimelineRow:
    """What happened, where it happened: rows are disjoint and cover the run. `metres`: walked in the slope plane."""

    phase: str
    transmitter: str
    activity: str
    from_s: float
    to_s: float
    seconds: float
    metres: float


@dataclass(frozen=True, slots=True)
class AccountRow:
    """What one cause cost in a phase against the reference searcher, signed; the rows add up to the run.

    `seconds`: mean over the posterior draws with its 90 % interval. `metres`: beyond the reference's, or of the
    windows. `windows`: where to look, seconds.
    """

    phase: str
    transmitter: str
    cause: str
    seconds: Figure
    metres: float
    windows: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One coaching remark tied to a time window. `severity`: note | costly | severe.

    `probability`: 0..1, that the limit which the remark rests on holds on the true path. `saving_s`: what doing it
    right would have saved. `figures`: name -> measured figure the text rests on.
    """

    id: str
    phase: str
    transmitter: str
    from_s: float
    to_s: float
    severity: str
    probability: float
    text: str
    saving_s: Measured
    figures: tuple[tuple[str, Measured], ...] = ()


@dataclass(frozen=True, slots=True)
class PointLoss:
    """Points lost to a cause of the account, or to a measure of the sheet's deductions; the other one is empty.

    `phase`: one of PHASE_KEYS; "overall" only for transmitters not found.
    """

    phase: str
    points: float
    cause: str = ""
    measure: str = ""


@dataclass(frozen=True, slots=True)
class Scores:
    """`by_phase`: one entry per key of PHASE_KEYS, 0..100 or not assessable.

    `losses` of a phase add up to what its score lacks.
    """

    by_phase: tuple[tuple[str, Measured], ...]
    losses: tuple[PointLoss, ...]


@dataclass(frozen=True, slots=True)
class Leg:
    """One straight leg of the fine search."""

    from_s: float
    to_s: float
    length_m: float
    bearing_deg: float
    straightness_m: float


@dataclass(frozen=True, slots=True)
class WrongWay:
    """One stretch away from the transmitter. `metres`: the way out; `turn_s`: when the searcher turned back;
    `to_s`: when the lost range was regained."""

    from_s: float
    turn_s: float
    to_s: float
    metres: float


@dataclass(frozen=True, slots=True)
class Episode:
    """A stretch of a phase and what was done in it, one of ACTIVITIES: [`from_s`, `to_s`)."""

    activity: str
    phase: str
    transmitter: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Search:
    """The measures of the search for one transmitter.

    `signal`, `coarse`, `fine`, `pinpoint`: (name, figure) pairs named as in the result file.
    """

    transmitter: str
    found: bool
    signal: tuple[tuple[str, Measured], ...]
    coarse: tuple[tuple[str, Measured], ...]
    wrong_way_events: tuple[WrongWay, ...]
    fine: tuple[tuple[str, Measured], ...]
    legs: tuple[Leg, ...]
    pinpoint: tuple[tuple[str, Measured], ...]

    def figure(self, group: str, name: str) -> Measured | None:
        """Return one figure by group ("coarse") and name ("walked_m"), None where it was not measured at all."""
        return dict(getattr(self, group)).get(name)


@dataclass(frozen=True, slots=True)
class MeasuredSearch(Search):
    """A search with what the verdict needs of it beyond what is told in the result.

    `extra`: working figures of the findings. `off_line_spell_s`: from when to when it was walked off the ideal line,
    None where there is no line or nothing of the kind.
    """

    extra: tuple[tuple[str, Measured], ...] = ()
    off_line_spell_s: tuple[float, float] | None = None
    activities: tuple[Episode, ...] = ()
    """What the searcher did, for the timeline."""
    account: tuple[AccountRow, ...] = ()
    """This search against the reference searcher."""

    @property
    def told(self) -> Search:
        """What the result tells of this search."""
        return Search(**{field.name: getattr(self, field.name) for field in fields(Search)})


@dataclass(frozen=True, slots=True)
class Verdict:
    """Timeline and account, and what follows from them: findings, possible ones and scores."""

    timeline: tuple[TimelineRow, ...]
    account: tuple[AccountRow, ...]
    findings: tuple[Finding, ...]
    possible: tuple[Finding, ...]
    scores: Scores
