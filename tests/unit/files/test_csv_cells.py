"""No text of a CSV runs as a formula, however a spreadsheet separates the cells."""

import csv
import io

import pytest

from analyzer.files.csv_cells import harmless, safe_cell

RISKY = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What spreadsheets take for the beginning of a formula: the four signs, and their full-width forms."""


def cells(text, separator):
    """Return the cells of a file with the text in the middle of a row, as a spreadsheet finds them."""
    out = io.StringIO()
    csv.writer(out).writerow(["1", text, "2"])
    return [cell for row in csv.reader(io.StringIO(out.getvalue(), newline=""), delimiter=separator) for cell in row]


@pytest.mark.parametrize("sign", RISKY)
@pytest.mark.parametrize(
    "frame", ["{}1", " {}1", "\n{}1", "\t{}1", "a;{}1", "a; {}1", "a\t{}1", "a\n{}1;{}2", ";;{}1", "\u3000{}1"]
)
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_no_cell_begins_a_formula(frame, sign, separator):
    text = frame.replace("{}", sign)
    assert not any(cell.strip().startswith(RISKY) for cell in cells(harmless(text), separator))
    assert not any(cell.strip().startswith(RISKY) for cell in cells(safe_cell(text), separator))


@pytest.mark.parametrize("text", ["Mara", "a-b", "x = 1", "0.5", "a; b", "", "Gadient-Roth; open"])
def test_other_texts_stay(text):
    assert harmless(text) == text
    assert safe_cell(text) == text


def test_numbers_keep_their_sign():
    assert (safe_cell(-3.5), safe_cell(None), safe_cell(0)) == (-3.5, "", 0)
