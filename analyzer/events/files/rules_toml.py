"""Rule sheets of events: a table [event_rules] in the event file, in a file of its own, or one that is built in."""

import math
from importlib import resources
from typing import TypeVar

from analyzer.errors import quoted
from analyzer.events.model import FASTEST, KINDS, EventRules, FaultPenalty
from analyzer.files.rules_toml import MEASURES
from analyzer.files.source import sha256_hex
from analyzer.files.toml_table import TomlTable, nearest, read_toml
from analyzer.model.account import FINDINGS

BUILT_IN = ("fastest", "targets_3_in_7_min", "targets_4_in_8_min")
MARK_SIGMA_S = 0.5
"""Standard deviation of a mark set by hand. Our choice, because: marks noted to whole seconds scatter by 0.29 s from
that alone (1/sqrt(12)), and whoever sets them sees or hears a strike some tenths after it, now more, now less; 0.5 s
holds both. Two people who mark the same moments tell your own: the deviation of their differences over sqrt(2)."""
RENAMED = {"off_minimum_probing": "off_lowest", "extra_bracketing": "extra_lines", "slow_pace": "pace"}
"""Name of a finding in rule sheets of the first version -> its name now."""
FINEST_S = 0.1
"""Times are counted in tenths: no finer step and no other seconds than whole tenths can be compared."""
KEYS = (
    "name",
    "version",
    "kind",
    "resolution_s",
    "mark_sigma_s",
    "missed_transmitter_s",
    "penalty",
    "targets",
    "time_limit_s",
    "without_result_s",
    "source",
)


def built_in_rules_bytes(name: str) -> bytes:
    """Return the file of a built-in sheet, with its comments; `name`: one of BUILT_IN."""
    return resources.files("analyzer.events.files").joinpath("rules", f"{name}.toml").read_bytes()


def built_in_rules(name: str) -> EventRules:
    """Return a built-in sheet."""
    return parse_event_rules(built_in_rules_bytes(name), name=f"{name}.toml")


def parse_event_rules(data: bytes, *, name: str) -> EventRules:
    """Return the checked rules of a file that holds a table [event_rules] and nothing else.

    Raises
    ------
    FileError
        With every key, finding or measure that is not known and every number out of its range.
    InputError
        Where the file is no TOML.
    """

    def read(outer: TomlTable) -> EventRules:
        outer.allow("event_rules")
        return rules_of_table(outer.table("event_rules", needed=True), sha256=sha256_hex(data))

    return read_toml(read, data, name=name)


def rules_of_table(table: TomlTable, *, sha256: str) -> EventRules:
    """Return the rules of a table; `sha256` of the bytes it was read from."""
    table.allow(*KEYS)
    kind = table.text("kind")
    if kind not in KINDS and not table.wrong("kind"):
        table.report("kind", f"the kind {quoted(kind)} is not known", nearest(kind, KINDS))
    wrong = ("targets",) if kind == FASTEST else ("missed_transmitter_s", "penalty", "without_result_s")
    for key in wrong if kind in KINDS else ():
        if table.has(key):
            table.report(key, f"a sheet of the kind {kind} has no {key}", "remove it, or use the other kind")
    targets = table.optional_number("targets", low=1.0, high=50.0)
    if targets is not None and not table.wrong("targets") and targets != int(targets):
        table.report("targets", f"{targets:g} is no whole number", "write how many transmitters are wanted")
    return EventRules(
        name=table.text("name"),
        version=table.text("version"),
        sha256=sha256,
        kind=kind,
        resolution_s=table.number("resolution_s", 1.0, low=FINEST_S, high=60.0),
        mark_sigma_s=table.number("mark_sigma_s", MARK_SIGMA_S, low=0.0, high=60.0),
        missed_transmitter_s=0.0
        if kind != FASTEST
        else _tenths(table, "missed_transmitter_s", table.number("missed_transmitter_s", low=0.0, high=86400.0)),
        penalties=_penalties(table),
        targets=None if targets is None or math.isnan(targets) else int(targets),
        time_limit_s=_tenths(table, "time_limit_s", table.optional_number("time_limit_s", above=0.0, high=86400.0)),
        without_result_s=_tenths(
            table, "without_result_s", table.optional_number("without_result_s", above=0.0, high=86400.0)
        ),
        source=table.text("source", ""),
    )


Seconds = TypeVar("Seconds", float, float | None)


def in_tenths(seconds: float | None) -> bool:
    """Return whether seconds have no more than one decimal; so has a number that is reported already (NaN, None)."""
    return seconds is None or not math.isfinite(seconds) or abs(seconds * 10.0 - round(seconds * 10.0)) < 1e-6


def _tenths(table: TomlTable, key: str, seconds: Seconds) -> Seconds:
    """Return seconds as they are, and report those with more than one decimal: what is shown would not add up."""
    if not in_tenths(seconds):
        table.report(key, f"{seconds:g} has more than one decimal", "times are counted in tenths: write one decimal")
    return seconds


def report_unless_known(table: TomlTable, key: str, word: str, known: tuple[str, ...]) -> None:
    """Report the name of a finding or measure that is not known; of one that has another name now, the new one."""
    if word in RENAMED:
        do = f'write {key} = "{RENAMED[word]}", or let `searchwake rules --renew {table.where.split(",")[0]}` do it'
        table.report(key, f"the finding {quoted(word)} has another name now, {quoted(RENAMED[word])}", do)
    elif word not in known:
        kind = key if key in ("finding", "measure") else "finding or measure"
        table.report(key, f"the {kind} {quoted(word)} is not known", nearest(word, known))


def _penalties(table: TomlTable) -> tuple[FaultPenalty, ...]:
    """Return the penalties of a sheet; one finding or measure has one, or a judge could not say which is meant."""
    found: dict[str, FaultPenalty] = {}
    for item in table.tables("penalty"):
        penalty = _penalty(item)
        word = penalty.finding or penalty.measure
        if word and penalty.key in found:
            item.report("", f"there is a penalty for {quoted(word)} already", "keep one of the two")
        found[penalty.key] = penalty
    return tuple(found.values())


def _penalty(table: TomlTable) -> FaultPenalty:
    by_finding = table.has("finding")
    if by_finding == table.has("measure"):
        do = 'write finding = "off_lowest", or measure = "pinpoint.probe_offset_m"'
        table.report("", "a penalty is for a finding or for a measure", do)
        return FaultPenalty("", "", 0.0)
    known: tuple[str, ...]
    if by_finding:
        table.allow("finding", "seconds")
        word, known, key = table.text("finding"), FINDINGS, "finding"
    else:
        table.allow("measure", "free", "seconds_per_unit", "at_most_s")
        word, known, key = table.text("measure"), MEASURES, "measure"
    if not table.wrong(key):
        report_unless_known(table, key, word, known)
    if by_finding:
        return FaultPenalty(word, "", _tenths(table, "seconds", table.number("seconds", above=0.0, high=86400.0)))
    return FaultPenalty(
        "",
        word,
        table.number("seconds_per_unit", above=0.0, high=86400.0),
        free=table.number("free", 0.0, low=0.0),
        at_most=table.number("at_most_s", 3600.0, above=0.0, high=86400.0),
    )
