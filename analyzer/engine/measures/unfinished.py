"""Figures of a phase whose end a recording does not show: what only a whole phase can show is not assessable.

It ended early, or the hit is not marked and the probing cannot be told from the bracketing before it. A recording that
ends early would be praised otherwise: half a field line is walked in less than its length, and a fine search that has
hardly begun has ended on its lowest reading. What was seen to happen (a wrong way, a stop) stays.
"""

from collections.abc import Collection

from analyzer.model.figure import Measured, NotAssessable
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL

OF_WHOLE = {
    SIGNAL: frozenset({"duration_s", "duration_reference_s", "luck_s"}),
    COARSE: frozenset({"walked_m", "path_ratio"}),
    FINE: frozenset({"duration_s", "ended_on_lowest_m", "final_offset_m", "final_offset_physics_m", "walked_m"}),
}
"""Figures of each phase that rest on where and when it ended."""


def unfinished_phase(phases: Collection[str], hit_s: float | None) -> str:
    """Return the last of the phases of the search for a transmitter where no probing is seen, else ""."""
    if PINPOINT in phases or hit_s is not None:
        return ""
    return next((phase for phase in reversed(PHASES) if phase in phases), "")


def of_unfinished(phase: str, figures: tuple[tuple[str, Measured], ...]) -> tuple[tuple[str, Measured], ...]:
    """Return the figures of a phase whose end is not shown."""
    why = NotAssessable(f"the recording does not show where the {phase.replace('_', ' ')} ended")
    keys = OF_WHOLE.get(phase, frozenset())
    return tuple((key, why if key in keys and not isinstance(f, NotAssessable) else f) for key, f in figures)
