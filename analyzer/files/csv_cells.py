"""Texts in CSV files for spreadsheets: none can run as a formula, whatever separates the cells where it is opened."""

import re
from typing import Any

SIGNS = "=+-@\uff1d\uff0b\uff0d\uff20"
"""A spreadsheet takes a cell that begins with one of these for a formula; the last four are the full-width forms, which
some take for the plain ones."""
LED_BY = re.compile(rf"(^|[;\t\r\n])(?=[ \t\r\n\u3000]*[{re.escape(SIGNS)}])|^(?=[\t\r])")
"""Where a cell may begin: at the start, and, where the file is opened with semicolons or tabs as separators, for which
our quotation marks do not count, after each of them and after a line end. A tab or line end at the start is risky
by itself."""


def harmless(text: str) -> str:
    """Return a text with an apostrophe before everything that a spreadsheet could take for a formula."""
    return LED_BY.sub(lambda found: f"{found.group(1) or ''}'", text)


def safe_cell(value: Any) -> Any:
    """Return a value for one cell: nothing for None, a text harmless and without line ends, a number as it is."""
    if isinstance(value, str):
        return harmless("".join(" " if character in "\r\n\t\x00" else character for character in value))
    return "" if value is None else value
