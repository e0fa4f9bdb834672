"""A rule sheet as the fields of a form, and back. No Dash, no files."""

from dataclasses import replace
from typing import Any

from analyzer.errors import InputError
from analyzer.model.rules import PaceKnot, ReferenceRules, Rules

KNOTS = 5
"""Rows for the pace at a range; the empty ones do not count."""
NUMBERS = {
    "signal_pace_mps": ("Pace in signal search", "m/s"),
    "bracket_pace_mps": ("Pace in fine search", "m/s"),
    "pinpoint_reference_s": ("Time to pinpoint", "s"),
    "fine_radius_m": ("Fine search begins at a reading of", "m"),
    "bracket_arm_m": ("Arm of the ideal bracket past the lowest reading", "m"),
    "marking_s": ("Time from a hit until the spot is left", "s"),
    "missed_s": ("Seconds that a transmitter not found adds to the loss", "s"),
}
PACES, LENGTHS, TIMES = tuple(NUMBERS)[:3], tuple(NUMBERS)[3:5], tuple(NUMBERS)[5:]
POINTS_ONLY = ("missed_s",)
"""Numbers that change points, and neither measures nor accounts."""

Form = dict[str, float | str | None]


def form_of(rules: Rules) -> Form:
    """Return the fields of a sheet."""
    form: Form = {key: getattr(rules, key) for key in NUMBERS}
    for i in range(KNOTS):
        knot = rules.pace[i] if i < len(rules.pace) else None
        form[f"range_{i}"] = None if knot is None else knot.range_m
        form[f"pace_{i}"] = None if knot is None else knot.pace_mps
    return form


def rules_of(form: Form, base: Rules, *, name: str, version: str) -> Rules:
    """Return the sheet of a form; its deductions are those of `base`. Ranges are checked where the sheet is read.

    Raises
    ------
    InputError
        Where a number is missing.
    """
    empty = [text for key, (text, _) in NUMBERS.items() if _number(form, key) is None]
    if empty:
        raise InputError(where="rule sheet", what=f"no number for: {', '.join(empty)}", do="give a number")
    if len(base.pace) > KNOTS:
        raise InputError(
            where=f"rule sheet {base.name}",
            what=f"it has {len(base.pace)} paces, this page holds {KNOTS}",
            do="edit this sheet as a file",
        )
    numbers: dict[str, Any] = {key: _number(form, key) for key in NUMBERS}  # fields of Rules, each a float
    return replace(base, name=name.strip(), version=version.strip(), sha256="", pace=_knots(form), **numbers)


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
    close = all(abs(getattr(one, key) - getattr(other, key)) < 1e-6 for key in NUMBERS if key not in POINTS_ONLY)
    pairs = [[(k.range_m, k.pace_mps) for k in sorted(r.pace, key=lambda k: k.range_m)] for r in (one, other)]
    return close and pairs[0] == pairs[1]
