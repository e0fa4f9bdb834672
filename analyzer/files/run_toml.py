"""run.toml: who searched, with what."""

import math
from pathlib import Path

from analyzer.files.names import RUN_FILE
from analyzer.files.source import read_bytes
from analyzer.files.toml_table import TomlTable, read_toml
from analyzer.model.recording import RunInfo

KEYS = ("searcher", "bib", "antennas", "carry_height_m", "fine_height_m", "recorder")


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
    return RunInfo(
        searcher=table.text("searcher", ""),
        bib=_bib(table),
        antennas=_antennas(table, default.antennas),
        carry_height_m=table.number("carry_height_m", default.carry_height_m, low=0.0, high=3.0),
        fine_height_m=table.number("fine_height_m", default.fine_height_m, low=0.0, high=3.0),
        recorder=table.text("recorder", ""),
    )


def _antennas(table: TomlTable, default: int) -> int:
    antennas = table.number("antennas", default)
    if antennas not in (1.0, 2.0, 3.0) and not table.wrong("antennas"):
        table.report("antennas", f"{table.values['antennas']!r} antennas", "write 1, 2 or 3")
    return default if math.isnan(antennas) else int(antennas)


def _bib(table: TomlTable) -> str:
    value = table.values.get("bib", "")
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else table.text("bib", "")
