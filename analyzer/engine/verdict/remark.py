"""What all remarks share: the case they look at, how they are ranked, how they speak of times."""

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.engine.verdict.likelihood import Likely
from analyzer.model.account import AccountRow, Finding, MeasuredSearch
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.phases import COARSE, FINE, PINPOINT, PhaseSpan
from analyzer.model.rules import Rules

COSTLY_S, SEVERE_S = 6.0, 20.0
"""Our choice: with these a remark is costly or severe; below it is a note."""
PROBABILITY_DIGITS = 4
ORDER = {
    (COARSE, "coarse.off_line_rms_m"): (2.0, 3.0, 10.0),
    (COARSE, "coarse.speed_at_3_m"): (0.8, 20.0, 10.0),
    (FINE, "fine.pace_mps"): (0.4, 30.0, 10.0),
    (FINE, "fine.crossing_angle_deg"): (65.0, -0.5, 15.0),
    (FINE, "fine.reach_m"): (0.7, -20.0, 10.0),
    (FINE, "fine.ended_on_lowest_m"): (0.2, 25.0, 25.0),
}
"""Where faults that cost certainty stand among those that cost seconds: what is free of a measure, points for a unit
beyond it, the most. Our choice, and the same under every rule sheet: what a sheet scores does not order the remarks."""
SECONDS_A_POINT = 2.0
"""Such a point ranks as so many seconds: what a point of the score is worth over a reference of 200 s. Our choice."""
UNTIMED = "it costs certainty, not seconds that can be counted"
UNTOLD = "its seconds cannot be told from its neighbours'"


@dataclass(frozen=True, slots=True)
class Case:
    """One search with its account."""

    search: MeasuredSearch
    spans: tuple[PhaseSpan, ...]
    rules: Rules

    def figure(self, group: str, name: str) -> Figure | None:
        """Return a figure, None where it is not assessable."""
        found = self.search.figure(group, name)
        return found if isinstance(found, Figure) else None

    def extra(self, name: str) -> Figure | None:
        """Return a figure that is not part of the result's contract."""
        found = dict(self.search.extra).get(name)
        return found if isinstance(found, Figure) else None

    def span(self, phase: str) -> PhaseSpan | None:
        """Return the span of a phase, None where it was not reached."""
        return next((s for s in self.spans if s.phase == phase and s.transmitter == self.search.transmitter), None)

    def probing(self) -> PhaseSpan | None:
        """Return the span of the probing, up to the hit, None where it was not reached."""
        span = self.span(PINPOINT)
        return None if span is None else span.probing

    def row(self, phase: str, cause: str) -> AccountRow | None:
        """Return the account's row of a cause in a phase of this search, None where the account has none."""
        return next((r for r in self.search.account if (r.phase, r.cause) == (phase, cause)), None)

    def cost(self, phase: str, cause: str) -> Figure | None:
        """Return the account's seconds of a cause, None where it has none or where they may as well be none."""
        row = self.row(phase, cause)
        return row.seconds if row is not None and row.seconds.low > 0.0 else None

    def seconds(self, phase: str, cause: str) -> Figure | None:
        """Return the account's seconds of a cause, however sure, None where it has none."""
        row = self.row(phase, cause)
        return None if row is None else row.seconds

    def points(self, phase: str, measure: str) -> float:
        """Return how much a measure counts in the order of the remarks; 0 where it is good or not assessable."""
        figure = self.figure(*measure.split(".", 1))
        free, per_unit, at_most = ORDER[phase, measure]
        return 0.0 if figure is None else min(max((figure.value - free) * per_unit, 0.0), at_most)


@dataclass(frozen=True, slots=True)
class Remark:
    """A finding, the seconds it is ranked by, and whether it is large enough to be told."""

    finding: Finding
    rank_s: float
    worth: bool

    @property
    def said(self) -> bool:
        """Whether it stands as a finding."""
        return Likely(self.finding.probability, self.worth).said


def remark(
    case: Case,
    name: str,
    phase: str,
    window: tuple[float, float],
    likely: Likely,
    text: str,
    saving: Measured,
    figures: Sequence[tuple[str, Measured | None]],
    *,
    points: float = 0.0,
) -> Remark:
    """Return a remark.

    Parameters
    ----------
    name : str
        What it is about; with the transmitter it makes the id.
    window : tuple
        Where to look, seconds.
    likely : Likely
        How likely it holds, and whether it is worth telling.
    saving : Measured
        Seconds.
    points : float
        Of ORDER, where seconds cannot be counted; a point ranks as SECONDS_A_POINT.
    """
    rank = max(saving.value if isinstance(saving, Figure) else 0.0, points * SECONDS_A_POINT)
    severity = "severe" if rank >= SEVERE_S else "costly" if rank >= COSTLY_S else "note"
    kept = tuple((n, f) for n, f in figures if f is not None)
    who = case.search.transmitter
    p = round(likely.probability, PROBABILITY_DIGITS)
    finding = Finding(f"{name}:{who}", phase, who, window[0], window[1], severity, p, text, saving, kept)
    return Remark(finding, rank, likely.worth)


def was_said(remark: Remark | None) -> bool:
    """Return whether there is such a remark and it stands as a finding."""
    return remark is not None and remark.said


def untimed() -> Measured:
    """Return the saving of a fault that costs certainty and not seconds."""
    return NotAssessable(UNTIMED)


def saving_of(cost: Figure | None) -> Measured:
    """Return what doing it right would have saved: the account's seconds, which are never negative, or why not."""
    if cost is None:
        return NotAssessable(UNTOLD)
    return Figure(max(cost.value, 0.0), max(cost.low, 0.0), max(cost.high, 0.0), cost.unit)
