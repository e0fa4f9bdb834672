"""A workbook with the logs of several runs, taken in as one log for each of its sheets; its bytes stay as they are."""

from dataclasses import replace

from analyzer.errors import InputError
from analyzer.files.cells import tables_of
from analyzer.files.log_table import has_column
from analyzer.files.log_words import MARK, READING
from analyzer.workspace.intake.model import MARKS, READINGS
from analyzer.workspace.intake.recognise_logs import mark_log, reading_log
from analyzer.workspace.intake.recognised import Recognised

READERS = {READINGS: reading_log, MARKS: mark_log}


def split_sheets(data: bytes, *, name: str) -> list[tuple[str, Recognised]]:
    """Return name and content of each sheet with a log, of a workbook in which several hold logs of one kind; else
    nothing.

    Raises
    ------
    InputError
        Where the workbook cannot be read. What is wrong with one sheet stands in its `problem`.
    """
    kinds: list[tuple[str, str]] = []
    for table in tables_of(data, name=name):
        kind = READINGS if has_column((table,), READING) else MARKS if has_column((table,), MARK) else ""
        if kind and table.sheet:
            kinds.append((table.sheet, kind))
    counts = [sum(kind == one for _, kind in kinds) for one in READERS]
    return [(sheet, _log(data, name, sheet, kind)) for sheet, kind in kinds] if max(counts) > 1 else []


def _log(data: bytes, name: str, sheet: str, kind: str) -> Recognised:
    try:
        found = READERS[kind](data, name, sheet)
    except InputError as error:
        return Recognised(kind, problem=str(error))
    return replace(found, title=", ".join(filter(None, ("one sheet of a workbook", found.title))))
