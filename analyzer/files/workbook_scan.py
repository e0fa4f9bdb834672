"""The XML parts of spreadsheets looked at once: how far the cells reach, and what is claimed that no log has."""

import re
from collections.abc import Callable
from xml.parsers import expat

from analyzer.errors import InputError
from analyzer.files.cells import MAX_CELLS, MAX_COLUMNS, MAX_ROWS, column_letters

MIMETYPE, CONTENT = "mimetype", "content.xml"
"""Parts of OpenDocument: what it is, and all of its sheets."""
MAX_ELEMENTS = 3_000_000
"""Of all parts together; our own choice: a full sheet of ten columns has two million, and is looked at in seconds."""
MAX_STRINGS = 1_000_000
COUNTS = frozenset({"count", "uniqueCount"})
"""Attributes by which a part says how many texts or styles follow."""
MAX_SPACES = 1000
MAX_CHARACTERS = 50_000_000
"""Of all cells together; our own choice: five hundred in each row of a full sheet. A text that is written once may
stand in many cells, and each has its own copy of it."""
MAX_DEPTH = 64
NUMBER = re.compile(r"[0-9]{1,12}", re.ASCII)
REFERENCE = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
FAR_BELOW_ZERO = re.compile(r"-\d{10}|-[\d.]*[eE]\+?\d|-[^\d.]")
"""A number below minus a thousand million: nothing of these files is, and no calendar goes so far."""
NO_RESULT = "(a formula without its result)"
WRONG = "(an error of the spreadsheet)"
SAVE_AGAIN = "open it in the spreadsheet program, save it again, or save the table in it as CSV"


def damaged(name: str) -> InputError:
    """Return the line of a spreadsheet that cannot be read."""
    return InputError(where=name, what="the spreadsheet is damaged or cut off", do=SAVE_AGAIN)


def locked(name: str) -> InputError:
    """Return the line of a spreadsheet that is encrypted."""
    return InputError(where=name, what="the spreadsheet is protected by a password", do="save it without one")


def too_large(name: str, what: str) -> InputError:
    """Return the line of a spreadsheet that is larger, or claims to be, than is read."""
    return InputError(where=name, what=f"the spreadsheet {what}", do="keep the log alone in it, and save it again")


class Scan:
    """Looks at XML parts one after another, and keeps what is known of the sheets."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.cells = self.elements = 0
        self.longest = self.references = self.characters = 0
        self.broken: dict[str, dict[tuple[int, int], str]] = {}
        self.titles: dict[str, str] = {}
        self.targets: dict[str, str] = {}

    def part(self, path: str, content: bytes) -> None:
        """Look at one part.

        Raises
        ------
        InputError
            Where it is no XML, declares a document type, or claims too much.
        """
        reader = _OpenDocumentPart(self, path) if path == CONTENT else _OfficePart(self, path)
        parser = expat.ParserCreate()
        parser.StartElementHandler, parser.EndElementHandler = reader.begin, reader.finish
        parser.StartDoctypeDeclHandler = reader.doctype
        parser.CharacterDataHandler = reader.text
        parser.buffer_text = True
        try:
            parser.Parse(content, True)
        except (expat.ExpatError, LookupError):
            raise damaged(self.name) from None

    def add(self, rows: int, columns: int) -> None:
        """Count the cells of a sheet as the library keeps them: all up to the last row and column with anything."""
        if rows > MAX_ROWS + 1:
            what = f"has something in row {rows}; at most {MAX_ROWS} rows are read"
            raise too_large(self.name, what)
        if columns > MAX_COLUMNS:
            letters = column_letters(columns - 1)
            what = f"has something in column {letters}; at most {MAX_COLUMNS} columns are read"
            raise too_large(self.name, what)
        self.cells += rows * columns
        if self.cells > MAX_CELLS:
            raise too_large(self.name, f"has more than {MAX_CELLS} cells")

    def check_texts(self) -> None:
        """Check how many characters the texts of all cells come to, at most: Office Open XML keeps each text once."""
        if self.longest * self.references + self.characters > MAX_CHARACTERS:
            raise too_large(self.name, f"has more than {MAX_CHARACTERS} characters in its cells")

    def broken_by_sheet(self) -> dict[str, dict[tuple[int, int], str]]:
        """Return the cells without a value by the name of their sheet, which Office Open XML keeps in other parts."""
        titles = {target.lstrip("/").removeprefix("xl/"): self.titles.get(i, "") for i, target in self.targets.items()}
        return {titles.get(key.removeprefix("xl/"), key): cells for key, cells in self.broken.items()}


class _Part:
    """The handlers of one part; counts that it claims are bounded."""

    def __init__(self, scan: Scan, path: str) -> None:
        self.scan, self.path = scan, path
        self.depth = self.characters = 0
        self.starts: dict[str, Callable[[dict[str, str]], None]] = {}
        self.ends: dict[str, Callable[[], None]] = {}

    def doctype(self, *_: object) -> None:
        """Refuse what could define entities."""
        raise damaged(self.scan.name)

    def begin(self, tag: str, attributes: dict[str, str]) -> None:
        """Take the start of an element."""
        self.depth += 1
        self.scan.elements += 1
        if self.depth > MAX_DEPTH:
            raise damaged(self.scan.name)
        if self.scan.elements > MAX_ELEMENTS:
            raise too_large(self.scan.name, f"has more than {MAX_ELEMENTS} elements")
        for key in COUNTS & attributes.keys() if attributes else ():
            if self.number(attributes[key]) > MAX_STRINGS:
                raise too_large(self.scan.name, "claims more strings than a log has")
        handler = self.starts.get(tag) or self.starts.get(tag.rpartition(":")[2])
        if handler is not None:
            handler(attributes)

    def finish(self, tag: str) -> None:
        """Take the end of an element."""
        self.depth -= 1
        handler = self.ends.get(tag) or self.ends.get(tag.rpartition(":")[2])
        if handler is not None:
            handler()

    def text(self, text: str) -> None:
        """Count characters; a handler of an element begins anew."""
        self.characters += len(text)

    def number(self, text: str) -> int:
        """Return a count as it is written."""
        if not NUMBER.fullmatch(text):
            raise damaged(self.scan.name)
        return int(text)

    def is_broken(self, sheet: str, row: int, column: int, why: str) -> None:
        """Keep that a cell has no value."""
        self.scan.broken.setdefault(sheet, {})[row, column] = why


class _OfficePart(_Part):
    """A part of Office Open XML: a sheet, or the list of sheets and where they are."""

    def __init__(self, scan: Scan, path: str) -> None:
        super().__init__(scan, path)
        self.row = self.column = -1
        self.rows = self.columns = 0
        self.formula = self.value = self.fault = self.numeric = False
        self.starts = {"row": self._row, "c": self._cell, "f": self._formula, "v": self._value, "is": self._value}
        self.starts |= {"sheet": self._title, "Relationship": self._target}
        self.starts["si"] = self._string
        self.ends = {
            "c": self._end_cell,
            "si": self._end_string,
            "worksheet": lambda: scan.add(self.rows, self.columns),
        }

    def _row(self, attributes: dict[str, str]) -> None:
        self.row = self.number(attributes["r"]) - 1 if "r" in attributes else self.row + 1
        self.column = -1

    def _cell(self, attributes: dict[str, str]) -> None:
        self.column += 1
        if "r" in attributes:
            found = REFERENCE.fullmatch(attributes["r"])
            if found is None:
                raise damaged(self.scan.name)
            self.row, self.column = int(found.group(2)) - 1, _column(found.group(1))
        self.formula = self.value = False
        self.fault = attributes.get("t") == "e"
        self.scan.references += attributes.get("t") == "s"
        self.numeric = attributes.get("t", "n") == "n"

    def _string(self, _: dict[str, str]) -> None:
        self.characters = 0

    def _end_string(self) -> None:
        self.scan.longest = max(self.scan.longest, self.characters)

    def text(self, text: str) -> None:
        """Count characters, and look at a number below zero: the library ends where one is too far for a date."""
        super().text(text)
        if self.numeric and self.value and text[:1] == "-" and FAR_BELOW_ZERO.match(text):
            raise damaged(self.scan.name)

    def _formula(self, _: dict[str, str]) -> None:
        self.formula = True

    def _value(self, _: dict[str, str]) -> None:
        self.value = True

    def _end_cell(self) -> None:
        if self.formula or self.value or self.fault:
            self.rows, self.columns = max(self.rows, self.row + 1), max(self.columns, self.column + 1)
        if self.fault or (self.formula and not self.value):
            self.is_broken(self.path, self.row, self.column, WRONG if self.fault else NO_RESULT)

    def _title(self, attributes: dict[str, str]) -> None:
        ids = [value for key, value in attributes.items() if key.rpartition(":")[2] == "id"]
        self.scan.titles |= dict.fromkeys(ids, attributes.get("name", ""))

    def _target(self, attributes: dict[str, str]) -> None:
        if self.path.endswith("workbook.xml.rels"):
            self.scan.targets[attributes.get("Id", "")] = attributes.get("Target", "")


class _OpenDocumentPart(_Part):
    """The content of OpenDocument: all sheets, in which rows and cells may be repeated."""

    def __init__(self, scan: Scan, path: str) -> None:
        super().__init__(scan, path)
        self.title = ""
        self.inside = False
        self.next_row = self.next_column = self.rows = self.columns = 0
        self.repeat_rows = self.repeat_columns = 1
        self.any_in_row = self.any_in_cell = self.formula = self.fault = False
        self.in_row = 0
        self.starts = {"table": self._table, "table-row": self._row, "s": self._spaces, "p": self._text}
        self.ends = {"table": self._end_table, "table-row": self._end_row}
        for cell in ("table-cell", "covered-table-cell"):
            self.starts[cell], self.ends[cell] = self._cell, self._end_cell

    def _table(self, attributes: dict[str, str]) -> None:
        if self.inside:
            raise damaged(self.scan.name)
        self.inside = True
        self.title = _local(attributes).get("name", "")
        self.next_row = self.rows = self.columns = 0

    def _end_table(self) -> None:
        self.inside = False
        self.scan.add(self.rows, self.columns)

    def _row(self, attributes: dict[str, str]) -> None:
        self.repeat_rows = self.number(_local(attributes).get("number-rows-repeated", "1"))
        self.next_column, self.any_in_row, self.in_row = 0, False, 0

    def _end_row(self) -> None:
        self.next_row += self.repeat_rows
        if self.any_in_row:
            self.rows = self.next_row
        self.scan.characters += self.in_row * self.repeat_rows
        self.scan.check_texts()

    def _cell(self, attributes: dict[str, str]) -> None:
        local = _local(attributes)
        self.characters = len(local.get("string-value", ""))
        self.repeat_columns = self.number(local.get("number-columns-repeated", "1"))
        self.formula = "formula" in local
        self.any_in_cell = "value-type" in local or self.formula
        self.fault = "error" in [value for key, value in attributes.items() if key.endswith(":value-type")]
        if self.fault or (self.formula and "value-type" not in local):
            self.is_broken(self.title, self.next_row, self.next_column, WRONG if self.fault else NO_RESULT)

    def _end_cell(self) -> None:
        self.next_column += self.repeat_columns
        self.in_row += self.characters * self.repeat_columns
        if self.any_in_cell:
            self.any_in_row = True
            self.columns = max(self.columns, self.next_column)

    def _text(self, _: dict[str, str]) -> None:
        self.any_in_cell = True

    def _spaces(self, attributes: dict[str, str]) -> None:
        if self.number(_local(attributes).get("c", "1")) > MAX_SPACES:
            raise too_large(self.scan.name, f"has more than {MAX_SPACES} spaces in a row")


def _local(attributes: dict[str, str]) -> dict[str, str]:
    return {key.rpartition(":")[2]: value for key, value in attributes.items()}


def _column(letters: str) -> int:
    """Return the number of a column from 0 by its letters."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1
