"""run.toml: who searched, with what."""

from pathlib import Path

from analyzer.files.source import read_bytes
from analyzer.files.toml_table import TomlTable, parse_toml
from analyzer.model.recording import RunInfo

KEYS = ("searcher", "bib", "antennas", "carry_height_m", "fine_height_m", "recorder")


def read_run_toml(path: Path) -> RunInfo:
    """Return what a run.toml says; see `parse_run_toml`."""
    return parse_run_toml(read_bytes(path), name=path.name)


def parse_run_toml(data: bytes, *, name: str = "run.toml") -> RunInfo:
    """Return the checked settings of a run; what is not given keeps its default. A table [run] may hold the keys.

    Raises
    ------
    InputError
        Where a key is unknown or a value out of range.
    """
    outer = parse_toml(data, name=name)
    outer.allow("run", *KEYS)
    table = outer.table("run") if outer.has("run") else outer
    table.allow(*KEYS)
    default = RunInfo()
    antennas = int(table.number("antennas", default.antennas))
    if antennas not in (1, 2, 3) or antennas != table.number("antennas", default.antennas):
        raise table.fault("antennas", f"{table.values['antennas']!r} antennas", "write 1, 2 or 3")
    return RunInfo(
        searcher=table.text("searcher", ""),
        bib=_bib(table),
        antennas=antennas,
        carry_height_m=table.number("carry_height_m", default.carry_height_m, low=0.0, high=3.0),
        fine_height_m=table.number("fine_height_m", default.fine_height_m, low=0.0, high=3.0),
        recorder=table.text("recorder", ""),
    )


def _bib(table: TomlTable) -> str:
    value = table.values.get("bib", "")
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else table.text("bib", "")
