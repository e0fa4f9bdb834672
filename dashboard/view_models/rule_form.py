"""A rule sheet as the fields of a form, and back. Weights are in per cent on the page. No Dash, no files."""

from dataclasses import replace
from typing import Any

from analyzer.errors import InputError
from analyzer.model.phases import PHASES as PHASE_KEYS
from analyzer.model.rules import PaceKnot, ReferenceRules, Rules
from dashboard.wording import PHASES

KNOTS = 5
"""Rows for the pace at a range; the empty ones do not count."""
NUMBERS = {
    "signal_pace_mps": ("Pace in signal search", "m/s"),
    "bracket_pace_mps": ("Pace in fine search", "m/s"),
    "pinpoint_reference_s": ("Time to pinpoint", "s"),
    "fine_radius_m": ("Fine search begins at a reading of", "m"),
    "bracket_arm_m": ("Arm of the ideal bracket past the lowest reading", "m"),
}
PACES, LENGTHS = tuple(NUMBERS)[:3], tuple(NUMBERS)[3:]

Form = dict[str, float | str | None]


def form_of(rules: Rules) -> Form:
    """Return the fields of a sheet."""
    form: Form = {key: getattr(rules, key) for key in NUMBERS}
    for i in range(KNOTS):
        knot = rules.pace[i] if i < len(rules.pace) else None
        form[f"range_{i}"] = None if knot is None else knot.range_m
        form[f"pace_{i}"] = None if knot is None else knot.pace_mps
    weights, points = dict(rules.weights), dict(rules.seconds_points)
    for phase in PHASE_KEYS:
        form[f"weight_{phase}"] = round(100.0 * weights.get(phase, 0.0), 6)
        form[f"points_{phase}"] = points.get(phase, 0.0)
    return form


def weights_sum(form: Form) -> float:
    """Return what the weights add up to, per cent; empty ones count nothing."""
    return sum(_number(form, f"weight_{phase}") or 0.0 for phase in PHASE_KEYS)


def weights_words(form: Form) -> str:
    """Return in words whether the weights add up."""
    total = weights_sum(form)
    if abs(total - 100.0) < 1e-4:
        return "The weights add up to 100 %."
    much = f"{abs(total - 100.0):g} % too {'much' if total > 100.0 else 'little'}"
    return f"The weights add up to {total:g} %, not 100 %: {much}."


def rules_of(form: Form, base: Rules, *, name: str, version: str) -> Rules:
    """Return the sheet of a form; its deductions are those of `base`. Ranges are checked where the sheet is read.

    Raises
    ------
    InputError
        Where a number is missing or the weights do not add up.
    """
    empty = [text for key, (text, _) in NUMBERS.items() if _number(form, key) is None]
    empty += [f"Weight of {PHASES[p].lower()}" for p in PHASE_KEYS if _number(form, f"weight_{p}") is None]
    empty += [f"Points per second in {PHASES[p].lower()}" for p in PHASE_KEYS if _number(form, f"points_{p}") is None]
    if empty:
        raise InputError(where="rule sheet", what=f"no number for: {', '.join(empty)}", do="give a number")
    if abs(weights_sum(form) - 100.0) >= 1e-4:
        raise InputError(where="rule sheet, weights", what=weights_words(form).rstrip("."), do="share out 100 %")
    if len(base.pace) > KNOTS:
        raise InputError(
            where=f"rule sheet {base.name}",
            what=f"it has {len(base.pace)} paces, this page holds {KNOTS}",
            do="edit this sheet as a file",
        )
    numbers: dict[str, Any] = {key: _number(form, key) for key in NUMBERS}  # fields of Rules, each a float
    return replace(
        base,
        name=name.strip(),
        version=version.strip(),
        sha256="",
        pace=_knots(form),
        weights=tuple((p, (_number(form, f"weight_{p}") or 0.0) / 100.0) for p in PHASE_KEYS),
        seconds_points=tuple((p, _number(form, f"points_{p}") or 0.0) for p in PHASE_KEYS),
        **numbers,
    )


def _knots(form: Form) -> tuple[PaceKnot, ...]:
    knots = []
    for i in range(KNOTS):
        range_m, pace = _number(form, f"range_{i}"), _number(form, f"pace_{i}")
        if (range_m is None) != (pace is None):
            raise InputError(
                where=f"rule sheet, pace {i + 1}", what="only one of range and pace is given", do="give both, or none"
            )
        if range_m is not None and pace is not None:
            knots.append(PaceKnot(range_m, pace))
    return tuple(sorted(knots, key=lambda knot: knot.range_m))


def _number(form: Form, key: str) -> float | None:
    value = form.get(key)
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def same_searcher(one: ReferenceRules, other: ReferenceRules) -> bool:
    """Return whether two sheets have the same reference searcher, so that measures and accounts are the same."""
    close = all(abs(getattr(one, key) - getattr(other, key)) < 1e-6 for key in NUMBERS)
    pairs = [[(k.range_m, k.pace_mps) for k in sorted(r.pace, key=lambda k: k.range_m)] for r in (one, other)]
    return close and pairs[0] == pairs[1]
