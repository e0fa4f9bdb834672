"""run.toml: who searched, with what."""

import math
from pathlib import Path

from analyzer.errors import quoted
from analyzer.files.names import RUN_FILE, RUN_WORDS
from analyzer.files.run_window import window_in
from analyzer.files.source import read_bytes
from analyzer.files.times import zone_of
from analyzer.files.toml_table import TomlTable, nearest, read_toml
from analyzer.files.tracks.formats import listed
from analyzer.model.recording import CLOCKS, FARTHEST_ZONE_H, WEEKS, ZONE_STEP_H, Decision, RunInfo

HOURS = ("track_hours", "readings_hours", "marks_hours")
SHEETS = ("readings_sheet", "marks_sheet")
KEYS = (
    "searcher",
    "bib",
    "antennas",
    "carry_height_m",
    "fine_height_m",
    "recorder",
    "zone",
    "window",
    "clock",
    "receiver",
    "weeks",
    *HOURS,
    *SHEETS,
    *RUN_WORDS,
)


def read_run_toml(path: Path) -> RunInfo:
    """Return what a run.toml says; see `parse_run_toml`."""
    return parse_run_toml(read_bytes(path), name=path.name)


def parse_run_toml(data: bytes, *, name: str = RUN_FILE) -> RunInfo:
    """Return the checked settings of a run; what is not given keeps its default. A table [run] may hold the keys.

    Raises
    ------
    FileError
        With every key that is unknown and every value out of range.
    InputError
        Where the file is no TOML.
    """
    return read_toml(_run, data, name=name)


def _run(outer: TomlTable) -> RunInfo:
    outer.allow("run", *KEYS)
    table = outer.table("run") if outer.has("run") else outer
    if table is not outer:
        table.allow(*KEYS)
    default = RunInfo()
    zone = _zone(table)
    return RunInfo(
        searcher=table.text("searcher", ""),
        bib=table.label("bib", ""),
        antennas=_antennas(table, default.antennas),
        carry_height_m=table.number("carry_height_m", default.carry_height_m, low=0.0, high=3.0),
        fine_height_m=table.number("fine_height_m", default.fine_height_m, low=0.0, high=3.0),
        recorder=table.text("recorder", ""),
        zone=zone,
        window=window_in(table, zone_of(zone)),
        clock=_clock(table, default.clock),
        receiver=table.text("receiver", ""),
        weeks=_weeks(table),
        track_hours=_hours(table, "track_hours"),
        readings_hours=_hours(table, "readings_hours"),
        marks_hours=_hours(table, "marks_hours"),
        readings_sheet=table.text("readings_sheet", ""),
        marks_sheet=table.text("marks_sheet", ""),
        title=table.text("title", ""),
        note=table.text("note", ""),
        praised=_decision(table, "praised"),
        set_aside=_decision(table, "set_aside"),
    )


def _zone(table: TomlTable) -> str:
    zone = table.text("zone", "")
    if table.has("zone") and not table.wrong("zone") and zone_of(zone) is None:
        do = "write a name like Europe/Vienna, or a fixed offset like +01:00"
        table.report("zone", f"the zone {quoted(zone)} is not known", do)
        return ""
    return zone


def _weeks(table: TomlTable) -> int:
    """Return the weeks that the track's dates lack: the whole rounds of a counter of ten bits."""
    weeks = table.number("weeks", 0.0)
    if table.wrong("weeks"):
        return 0
    if weeks not in WEEKS:
        table.report("weeks", f"{weeks:g} weeks", f"write {listed(map(str, WEEKS[1:]), 'or')}, or take the key away")
        return 0
    return int(weeks)


def _hours(table: TomlTable, key: str) -> float:
    """Return hours to be added to times of day, as zones differ by."""
    hours = table.number(key, 0.0, low=-FARTHEST_ZONE_H, high=FARTHEST_ZONE_H)
    if table.wrong(key) or math.isnan(hours):
        return 0.0
    if hours % ZONE_STEP_H:
        table.report(key, f"{hours:g} hours", "write whole hours, or halves or quarters, as zones differ by")
        return 0.0
    return hours


def _clock(table: TomlTable, default: str) -> str:
    clock = table.text("clock", default)
    if clock not in CLOCKS and not table.wrong("clock"):
        table.report("clock", f"the clock {quoted(clock)} is not known", nearest(clock, CLOCKS))
        return default
    return clock


def _decision(table: TomlTable, key: str) -> Decision:
    """Return what a coach decided: yes or no, a text, or a list of texts."""
    value = table.values.get(key, False)
    if isinstance(value, bool | str):
        return value
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        return tuple(value)
    table.report(key, f"{quoted(value)} is no decision", "write true, false, a text, or a list of texts")
    return False


def _antennas(table: TomlTable, default: int) -> int:
    antennas = table.number("antennas", default)
    if antennas not in (1.0, 2.0, 3.0) and not table.wrong("antennas"):
        table.report("antennas", f"{quoted(table.values['antennas'])} antennas", "write 1, 2 or 3")
    return default if math.isnan(antennas) else int(antennas)
