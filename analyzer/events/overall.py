"""The sum of an entry's fields, and what is still missing of it."""

import math

from analyzer.events.model import FASTEST, OVERALL, Event, EventRules, FieldScore, ScoreLine
from analyzer.events.timing import limit_of, tenth
from analyzer.model.figure import Figure

STATUS_ORDER = ("excluded", "waiting", "started", "absent", "stopped")
"""The first of these that an entry has on a field is its status overall."""


def overall_score(own: list[FieldScore], event: Event) -> FieldScore:
    """Return the sum of an entry's fields, with one line per field; errors of the fields are taken as independent.

    While a result is still to come, it is the sum so far. Where one is missing for good, there is no place.
    """
    rules, lines = event.rules, []
    missing: list[tuple[str, str]] = []
    waits: list[tuple[str, str]] = []
    limits = {field.drill: limit_of(field, rules)[0] for field in event.fields}
    names = {field.drill: field.name for field in event.fields}
    for score in own:
        seconds, rule = (score.seconds.value, "sum of the fields") if score.seconds is not None else (None, "")
        if score.seconds is None and score.status in ("absent", "stopped"):
            seconds, rule = _without(rules, limits[score.drill])
        if seconds is None:
            (waits if score.pending else missing).append((score.why, names[score.drill]))
            continue
        points = 0.0 if rules.kind == FASTEST else score.targets  # no targets are counted where the fastest leads
        lines.append(ScoreLine(names[score.drill], "overall", rule, seconds, points, score.drill, "", score.seconds))
    count, least, most = (math.fsum(getattr(s, k) for s in own) for k in ("targets", "targets_low", "targets_high"))
    return FieldScore(
        own[0].bib,
        OVERALL,
        "",
        next((s for s in STATUS_ORDER if any(score.status == s for score in own)), "finished"),
        count,
        least,
        most,
        _summed(lines) if lines and not missing else None,
        tuple(lines),
        "; ".join((*_by_reason(missing), *_by_reason(waits))),
        None if rules.kind == FASTEST else all(bool(score.passed) for score in own),
        pending=bool(waits) and not missing,
        done=len(lines),
        proposals=tuple(one for score in own for one in score.proposals),
        known=tuple(f"{names[score.drill]}: {line}" for score in own for line in score.known),
    )


def _by_reason(said: list[tuple[str, str]]) -> list[str]:
    """Return each reason once, after the fields that it holds for; `said`: reason and field."""
    fields: dict[str, list[str]] = {}
    for why, name in said:
        fields.setdefault(why, []).append(name)
    return [f"{', '.join(names)}: {why}" for why, names in fields.items()]


def _summed(lines: list[ScoreLine]) -> Figure:
    """Return the sum of the fields; what counts by the rule sheet alone is exact."""
    value = tenth(math.fsum(line.seconds for line in lines))
    known = [line.figure for line in lines if isinstance(line.figure, Figure)]
    low, high = math.hypot(*(f.value - f.low for f in known)), math.hypot(*(f.high - f.value for f in known))
    return Figure(value, value - low, value + high, "s")


def _without(rules: EventRules, limit: float) -> tuple[float | None, str]:
    """Return what a field without a result counts overall, and the rule in words; None where it has no place then."""
    if rules.kind != FASTEST:
        return (limit, "0 targets and the whole limit") if math.isfinite(limit) else (None, "")
    if rules.without_result_s is None:
        return None, ""
    return rules.without_result_s, f"{rules.without_result_s:g} s without a result (without_result_s)"
