"""How times are counted: in tenths, against a limit, between two marks set by hand. And the words for a status."""

import math

from analyzer.events.model import EventField, EventRules, RunFacts
from analyzer.model.figure import HALF_90

NO_MARKS = "nothing marked"
"""A run without a mark: whether it ended with a hit is not known, which is not the same as that it did not."""
LOST = "its files are gone"
"""A run that was scored and is not there any more, which is not the same as that it is still to come."""
STATUS_WORDS = {
    "waiting": "not yet on the field",
    "started": "on the field",
    "finished": "finished",
    "absent": "did not start",
    "stopped": "did not finish",
    "excluded": "disqualified",
}
TENTHS_PER_S = 10
"""Times are counted in tenths of a second: our choice, because marks set by hand are no better, and what is counted in
the step that is shown adds up as shown."""


def tenth(seconds: float) -> float:
    """Return seconds in whole tenths, half up."""
    return math.floor(seconds * TENTHS_PER_S + 0.5 + 1e-6) / TENTHS_PER_S


def limit_of(field: EventField, rules: EventRules) -> tuple[float, str]:
    """Return the time limit of a field and the key that states it; infinite where there is none."""
    if rules.time_limit_s is not None:
        return rules.time_limit_s, "time_limit_s"
    return (math.inf, "") if field.time_limit_s is None else (field.time_limit_s, "field.time_limit_s")


def strike_half(rules: EventRules) -> float:
    """Return half the 90 % interval of a time between two marks set by hand, their errors independent."""
    return HALF_90 * math.sqrt(2.0) * rules.mark_sigma_s


def with_limit_moved(field: EventField, rules: EventRules, facts: RunFacts) -> tuple[float, float, bool]:
    """Return how much less and more a time with its misses may be because strikes lie near the limit, and whether one
    is surely in time.

    A strike that may have been late is counted and not counted: the limit is moved by half an interval each way.
    """
    limit, half = limit_of(field, rules)[0], strike_half(rules)
    own = [at_s for who, at_s, _ in facts.strikes if who in field.transmitters]
    if all(abs(at_s - limit) > half for at_s in own):
        return 0.0, 0.0, True
    missed_s = 0.0 if field.team else rules.missed_transmitter_s
    totals = []
    for moved in (limit, limit - half, limit + half):
        in_time = [at_s for at_s in own if at_s <= moved]
        if in_time:
            totals.append(max(in_time) + missed_s * (len(field.transmitters) - len(in_time)))
    sure = any(at_s <= limit - half for at_s in own)
    return totals[0] - min(totals), max(totals) - totals[0], sure


def clock(seconds: float) -> str:
    """Return minutes, seconds and a tenth, "4:32.4", half up."""
    steps = int(abs(seconds) * 10 + 0.5 + 1e-6)
    sign = "−" if seconds < 0 and steps else ""
    return f"{sign}{steps // 600}:{steps // 10 % 60:02d}.{steps % 10}"
