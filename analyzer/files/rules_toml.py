"""Rule sheets."""

import itertools
from importlib import resources
from pathlib import Path

from analyzer.files.source import read_bytes, sha256_hex
from analyzer.files.toml_table import TomlTable, nearest, read_toml
from analyzer.model.measures import SCORABLE
from analyzer.model.phases import PHASES
from analyzer.model.rules import Deduction, PaceKnot, Rules

WEIGHT_TOLERANCE = 1e-6
REFERENCE_KEYS = (
    "fine_radius_m",
    "signal_pace_mps",
    "pace",
    "bracket_arm_m",
    "bracket_pace_mps",
    "pinpoint_reference_s",
)
MEASURES = SCORABLE
"""What a deduction may rest on: figures of a search, by group and name as in the result file."""


def read_rules_toml(path: Path) -> Rules:
    """Return the rules of a rule sheet; see `parse_rules_toml`."""
    return parse_rules_toml(read_bytes(path), name=path.name)


def default_rules() -> Rules:
    """Return the rules that come with the package."""
    return parse_rules_toml(default_rules_bytes(), name="default_rules.toml")


def default_rules_bytes() -> bytes:
    """Return the rule sheet that comes with the package, as a file with its comments."""
    return resources.files("analyzer.files").joinpath("default_rules.toml").read_bytes()


def parse_rules_toml(data: bytes, *, name: str = "rules.toml") -> Rules:
    """Return the checked rules.

    Raises
    ------
    FileError
        With every key, phase or measure that is not known, every number that is not positive, and weights that do
        not add up to 1: all at once.
    InputError
        Where the file is no TOML.
    """
    return read_toml(lambda outer: _rules(outer, sha256_hex(data)), data, name=name)


def _rules(outer: TomlTable, sha256: str) -> Rules:
    outer.allow("rules", "reference", "weights", "seconds_points", "deduction")
    head = outer.table("rules", needed=True)
    head.allow("name", "version")
    reference = outer.table("reference", needed=True)
    reference.allow(*REFERENCE_KEYS)
    return Rules(
        name=head.text("name"),
        version=head.text("version"),
        sha256=sha256,
        fine_radius_m=reference.number("fine_radius_m", above=0.0, high=20.0),
        signal_pace_mps=reference.number("signal_pace_mps", above=0.0, high=20.0),
        pace=_pace(reference),
        bracket_arm_m=reference.number("bracket_arm_m", above=0.0, high=20.0),
        bracket_pace_mps=reference.number("bracket_pace_mps", above=0.0, high=20.0),
        pinpoint_reference_s=reference.number("pinpoint_reference_s", above=0.0, high=3600.0),
        weights=_weights(outer.table("weights", needed=True)),
        deductions=tuple(_deduction(table) for table in outer.tables("deduction")),
        seconds_points=_by_phase(outer.table("seconds_points")),
    )


def _pace(reference: TomlTable) -> tuple[PaceKnot, ...]:
    knots = []
    for table in reference.tables("pace"):
        table.allow("range_m", "pace_mps")
        knots.append(
            PaceKnot(
                range_m=table.number("range_m", low=0.0, high=200.0),
                pace_mps=table.number("pace_mps", above=0.0, high=20.0),
            )
        )
    if not knots and not reference.wrong("pace"):
        reference.missing("pace", "add pace = [{range_m = 10, pace_mps = 1.2}, ...]")
    knots.sort(key=lambda knot: knot.range_m)
    for near, far in itertools.pairwise(knots):
        if near.range_m == far.range_m:
            reference.report("pace", f"two paces at {near.range_m:g} m", "keep one")
    return tuple(knots)


def _by_phase(table: TomlTable) -> tuple[tuple[str, float], ...]:
    table.allow(*PHASES)
    return tuple((phase, table.number(phase, low=0.0)) for phase in PHASES if table.has(phase))


def _weights(table: TomlTable) -> tuple[tuple[str, float], ...]:
    weights = _by_phase(table)
    total = sum(weight for _, weight in weights)
    if abs(total - 1.0) > WEIGHT_TOLERANCE:  # not where one of them is no number: their sum is none either
        table.report("", f"the weights add up to {total:.6g}, not 1", f"share out 1 among {', '.join(PHASES)}")
    return weights


def _deduction(table: TomlTable) -> Deduction:
    table.allow("phase", "measure", "free", "points_per_unit", "at_most")
    points = table.number("points_per_unit")
    if points == 0.0:
        table.report("points_per_unit", "0 points take nothing off", "write a number, or remove the deduction")
    return Deduction(
        phase=_known(table, "phase", PHASES),
        measure=_known(table, "measure", MEASURES),
        free=table.number("free", 0.0, low=0.0),
        points_per_unit=points,
        at_most=table.number("at_most", 100.0, above=0.0, high=100.0),
    )


def _known(table: TomlTable, key: str, known: tuple[str, ...]) -> str:
    word = table.text(key)
    if word not in known and not table.wrong(key):
        table.report(key, f"the {key} {word!r} is not known", nearest(word, known))
    return word
