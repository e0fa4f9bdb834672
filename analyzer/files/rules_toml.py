"""Rule sheets. One of the form before is refused, with what to write; `renew_rules` rewrites it."""

import itertools
import re
from importlib import resources
from pathlib import Path

from analyzer.errors import InputError, quoted
from analyzer.files.names import SHEET_FILE
from analyzer.files.source import decode_text, read_bytes, sha256_hex
from analyzer.files.toml_table import TomlTable, nearest, parse_toml, read_toml
from analyzer.model.measures import SCORABLE
from analyzer.model.phases import PHASES
from analyzer.model.rules import Deduction, PaceKnot, Rules

REFERENCE_KEYS = (
    "fine_radius_m",
    "signal_pace_mps",
    "pace",
    "bracket_arm_m",
    "bracket_pace_mps",
    "pinpoint_reference_s",
    "marking_s",
    "missed_s",
)
ENDED = ("weights", "seconds_points")
"""Tables of the form before: the seconds of the account are scored, each as dear as any other."""
MEASURES = SCORABLE
"""What a deduction may rest on: figures of a search, by group and name as in the result file."""


def read_rules_toml(path: Path) -> Rules:
    """Return the rules of a rule sheet; see `parse_rules_toml`."""
    return parse_rules_toml(read_bytes(path), name=path.name)


def own_rules(folder: Path) -> Rules | None:
    """Return the rules in force for the drill in a folder, None where it has no sheet of its own.

    Raises
    ------
    FileError, InputError
        Where its sheet cannot be used.
    """
    path = folder / SHEET_FILE
    return read_rules_toml(path) if path.exists() else None


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
        With every key, phase or measure that is not known, and every number that is out of its range: all at once.
    InputError
        Where the file is no TOML, or a sheet of the form before.
    """
    refuse_ended(data, name=name)
    return read_toml(lambda outer: rules_of(outer, sha256_hex(data)), data, name=name)


def refuse_ended(data: bytes, *, name: str) -> None:
    """Raise `InputError` where a sheet is of the form before, with the line that says so and what to write."""
    text = decode_text(data, name=name)
    found = re.search(rf"^[ \t]*\[?[ \t]*({'|'.join(ENDED)})\b", text, re.MULTILINE)
    if found is None or not set(ENDED) & set(parse_toml(data, name=name).values):
        return
    line = text.count("\n", 0, found.start(1)) + 1
    raise InputError(
        where=f"{name}, line {line}, {found.group(1)}",
        what="this rule sheet is of the form before: weights and points per second have ended, the seconds lost are "
        "scored as they are",
        do="take [weights] and [seconds_points] out and write marking_s = 30 and missed_s = 300 into [reference]; or "
        f"let `searchwake rules --renew {name}` do it",
    )


def rules_of(outer: TomlTable, sha256: str) -> Rules:
    """Return the rules in the outermost table of a sheet."""
    outer.allow("rules", "reference", "deduction")
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
        marking_s=reference.number("marking_s", low=0.0, high=3600.0),
        missed_s=reference.number("missed_s", low=0.0, high=86400.0),
        deductions=tuple(_deduction(table) for table in outer.tables("deduction")),
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
        table.report(key, f"the {key} {quoted(word)} is not known", nearest(word, known))
    return word
