"""The table for the terminal, as Markdown and as JSON."""

import json
import math
from collections.abc import Sequence
from typing import Any

from rich.console import Group
from rich.table import Table
from rich.text import Text

from analyzer.lab.evaluate.cells import Cell, Row, Section

FORMAT = "searchwake-evaluation/1"
COLOURS = {True: "green", False: "bold red", None: ""}


def verdict(cell: Cell) -> str:
    """Return "met", "not met", or "" where nothing is asked for."""
    return "" if cell.met is None else "met" if cell.met else "not met"


def counts(sections: Sequence[Section]) -> tuple[int, int]:
    """Return how many are met and how many are not; of cells side by side the worse one counts."""
    asked = [met for s in sections for r in s.rows for met in _asked(s, r)]
    return sum(asked), len(asked) - sum(asked)


def _asked(section: Section, row: Row) -> list[bool]:
    """Return what counts of a row: each cell that is asked for, or the worst of them."""
    met = [bool(c.met) for c in row.cells if c is not None and c.met is not None]
    return [all(met)] if section.together and met else met


def summary(sections: Sequence[Section]) -> str:
    """Return the last line: what is met, and what is not."""
    met, missed = counts(sections)
    return f"{met} met, {missed} not met"


def terminal(sections: Sequence[Section]) -> Group:
    """Return the sections as tables for the terminal."""
    return Group(*(_table(s) for s in sections))


def _table(section: Section) -> Table:
    table = Table(title=section.title, title_justify="left", show_lines=False)
    table.add_column("figure", overflow="fold")
    for title in section.columns:
        table.add_column(title, overflow="fold")
    noted = any(row.note for row in section.rows)
    if noted:
        table.add_column("note", overflow="fold", style="dim")
    for row in section.rows:
        table.add_row(Text(row.figure), *(_cell(c) for c in row.cells), *((Text(row.note),) if noted else ()))
    return table


def _cell(cell: Cell | None) -> Text:
    if cell is None:
        return Text("-")
    text = Text(cell.measured)
    if cell.wanted:
        text.append(f"\nwanted {cell.wanted}: ")
        text.append(verdict(cell), style=COLOURS[cell.met])
    return text


def markdown(sections: Sequence[Section], facts: dict[str, Any]) -> str:
    """Return the sections as a Markdown page."""
    head = ", ".join(f"{name} {value}" for name, value in facts.items())
    parts = ["# Accuracy", "", f"Measured with `searchwake evaluate`: {head}. {summary(sections)}.", ""]
    for section in sections:
        parts += [f"## {section.title}", "", *_markdown_table(section), ""]
    return "\n".join(parts)


def _markdown_table(section: Section) -> list[str]:
    lines = ["| figure | " + " | ".join(section.columns) + " | note |", "|" + " --- |" * (len(section.columns) + 2)]
    for row in section.rows:
        cells = " | ".join(_markdown_cell(c) for c in row.cells)
        lines.append(f"| {_escaped(row.figure)} | {cells} | {_escaped(row.note)} |")
    return lines


def _markdown_cell(cell: Cell | None) -> str:
    if cell is None:
        return "-"
    if not cell.wanted:
        return _escaped(cell.measured)
    word = verdict(cell)
    return _escaped(f"{cell.measured} (wanted {cell.wanted}): ") + (f"**{word}**" if cell.met is False else word)


def _escaped(text: str) -> str:
    inner = text.lstrip()
    return "&nbsp;" * (len(text) - len(inner)) + inner.replace("|", "\\|")


def as_json(sections: Sequence[Section], facts: dict[str, Any], failures: Sequence[str]) -> str:
    """Return everything measured as JSON; what is not finite is null."""
    met, missed = counts(sections)
    values = {
        "format": FORMAT,
        **facts,
        "met": met,
        "not_met": missed,
        "failures": list(failures),
        "sections": [
            {"title": s.title, "columns": list(s.columns), "rows": [_row(r) for r in s.rows]} for s in sections
        ],
    }
    return json.dumps(values, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _row(row: Row) -> dict[str, Any]:
    return {"figure": row.figure.strip(), "note": row.note, "cells": [_json_cell(c) for c in row.cells]}


def _json_cell(cell: Cell | None) -> dict[str, Any] | None:
    if cell is None:
        return None
    numbers = {name: value if math.isfinite(value) else None for name, value in cell.numbers}
    return {"measured": cell.measured, "wanted": cell.wanted, "met": cell.met, "numbers": numbers}
