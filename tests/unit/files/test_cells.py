"""Rows of cells of text tables and spreadsheets, with the places that a person sees."""

import datetime as dt

import pytest

from analyzer.errors import InputError
from analyzer.files.cells import MAX_ROWS, column_letters, tables_of, text_of
from tests.support.sheets import (
    DATE_STYLE,
    LONG_STYLE,
    Raw,
    changed,
    clock,
    ods,
    office_parts,
    open_clock,
    open_parts,
    packed,
    xlsx,
)

LOG = {"Run 1": [["Zeit", "Anzeige"], ["0:10", 3.5], ["", ""], ["x", 12]]}


def rows(data, name="log.csv"):
    (table,) = tables_of(data if isinstance(data, bytes) else data.encode(), name=name)
    return [(row.number, *row.cells) for row in table.rows]


def refused(data, *pieces, name="log.csv"):
    with pytest.raises(InputError) as caught:
        tables_of(data, name=name)
    for piece in (name, *pieces):
        assert piece in str(caught.value)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a,b\n1,2", [(1, "a", "b"), (2, "1", "2")]),
        ("a;b\n1,5;2,5\n", [(1, "a", "b"), (2, "1,5", "2,5")]),
        ("a\tb\r\n1,5\t2\r\n", [(1, "a", "b"), (2, "1,5", "2")]),
        ('a,b\n"1,5",2', [(1, "a", "b"), (2, "1,5", "2")]),
        ("sep=;\na;b\n1;2", [(2, "a", "b"), (3, "1", "2")]),
        ("SEP=\t\na,x\tb\n1,2\t2", [(2, "a,x", "b"), (3, "1,2", "2")]),
        ("# by hand\n\na;b\n;;\n1;2\n", [(3, "a", "b"), (5, "1", "2")]),
        ("t;note\n1;a, b, c\n2;d, e, f", [(1, "t", "note"), (2, "1", "a, b, c"), (3, "2", "d, e, f")]),
        ('t;note\n1;"two\nlines"\n2;x', [(1, "t", "note"), (2, "1", "two\nlines"), (4, "2", "x")]),
        ("a,b,,\n1,2,,\n", [(1, "a", "b", "", ""), (2, "1", "2", "", "")]),
    ],
)
def test_text_dialects(text, expected):
    assert rows(text) == expected


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(encoding):
    assert rows("Länge;für Mara\n1;2 °\n".encode(encoding))[1:] == [(2, "1", "2 °")]
    assert rows("Länge;für Mara\n1;2 °\n".encode(encoding))[0] == (1, "Länge", "für Mara")


def test_accents_of_french_and_a_dash_are_certain_in_western_text_alone():
    assert rows("heure;répère à la fin\n1;–\n".encode("cp1252")) == [(1, "heure", "répère à la fin"), (2, "1", "–")]
    refused("time;note\n1;Maček\n".encode("cp1250"), "line 2", "0xe8 is not UTF-8")
    refused("Zeit;Länge\n1;2\n".encode("cp850"), "line 1", "is not UTF-8")
    refused("Zeit;Länge\n1;2\n".encode("mac-roman"), "line 1", "is not UTF-8")
    refused("heure;lue\n1;coût\n".encode("cp850"), "line 2", "is not UTF-8")


@pytest.mark.parametrize("data", [b"a,b\n1,\x00\n", b"\x00\x01\x02\x03", "a;b\n1;2".encode("utf-16")[:-1]])
def test_binary_data_and_cut_text_are_refused(data):
    refused(data)


def test_a_quotation_mark_that_never_ends_costs_its_own_line_alone():
    (table,) = tables_of(b'a;b\n1;"x\n2;3\n4;5\n', name="log.csv")
    assert [(r.number, r.cells) for r in table.rows] == [(1, ("a", "b")), (2, ()), (3, ("2", "3")), (4, ("4", "5"))]
    assert "line 2: the row cannot be split into cells" in str(table.rows[1].fault)


def test_a_sheet_keeps_its_row_numbers_and_what_a_cell_is():
    for make, time in ((xlsx, clock(6, 4)), (ods, open_clock(6, 4))):
        sheets = {"Run 1": [["", ""], ["", "Zeit", "Anzeige"], ["", time, 3.5], [], ["", "x", 12]]}
        (table,) = tables_of(make(sheets), name="log.xlsx")
        assert [(r.number, r.cells) for r in table.rows] == [
            (2, ("", "Zeit", "Anzeige")), (3, ("", dt.time(6, 4), 3.5)), (5, ("", "x", 12.0)),
        ]  # fmt: skip
        assert table.where(3) == "log.xlsx, sheet 'Run 1', row 3"
        assert table.where(3, 2) == "log.xlsx, sheet 'Run 1', cell C3"


def test_durations_and_dates_of_both_systems():
    day = Raw(f'<c r="{{at}}" s="{DATE_STYLE}"><v>46039.3958333333</v></c>')  # 2026-01-17 09:30 counted from 1900
    row = [clock(0, 6, 4.5, LONG_STYLE), clock(30, 0, 0, LONG_STYLE), day]
    (table,) = tables_of(ods({"a": [[open_clock(30, 0)]]}), name="a.ods")
    assert table.rows[0].cells == (dt.timedelta(hours=30),)
    (table,) = tables_of(xlsx({"a": [row]}), name="a.xlsx")
    minutes = dt.timedelta(minutes=6, seconds=4.5)
    assert table.rows[0].cells == (minutes, dt.timedelta(hours=30), dt.datetime(2026, 1, 17, 9, 30))  # noqa: DTZ001
    assert [text_of(cell) for cell in table.rows[0].cells] == ["0:06:04.5", "30:00:00", "2026-01-17T09:30:00"]
    (table,) = tables_of(xlsx({"a": [[day]]}, date_1904=True), name="a.xlsx")
    assert text_of(table.rows[0].cells[0]) == "2030-01-18T09:30:00"  # 1462 days later: ECMA-376 part 1, 18.17.4.1


def test_several_sheets_and_hidden_ones():
    both = {"a": [["x"]], "b": [], "c": [["y"]]}
    assert [t.sheet for t in tables_of(xlsx(both), name="a.xlsx")] == ["a", "c"]
    assert [t.sheet for t in tables_of(xlsx(both, hidden=["a"]), name="a.xlsx")] == ["c"]
    assert [t.sheet for t in tables_of(ods(both), name="a.ods")] == ["a", "c"]
    refused(xlsx({"a": [], "b": []}), "no visible sheet has anything in it", name="a.xlsx")


def test_a_formula_without_its_result_and_an_error_are_no_empty_cells():
    sheets = {
        "first": [["a"]],
        "sums": [["t", Raw('<c r="{at}"><f>B1+1</f></c>'), Raw('<c r="{at}" t="e"><v>#N/A</v></c>')]],
    }
    _, table = tables_of(xlsx(sheets), name="a.xlsx")
    assert table.rows[0].cells == ("t", "(a formula without its result)", "(an error of the spreadsheet)")


def test_a_number_that_is_no_date_of_any_calendar_does_not_end_the_process():
    """Found by the attack (seed 7755): the library panics at -1e308 days."""
    for number in ("-1e308", "-99999999999", "-inf"):
        cell = Raw(f'<c r="{{at}}" s="{DATE_STYLE}"><v>{number}</v></c>')
        refused(xlsx({"a": [[cell]]}), "damaged", name="a.xlsx")
    text = Raw('<c r="{at}" t="inlineStr"><is><t>-far away</t></is></c>')
    assert rows(xlsx({"a": [[text, -12.5, -1e-7]]})) == [(1, "-far away", -12.5, -1e-7)]


def test_a_panic_of_the_library_is_a_line(monkeypatch):
    class PanicException(BaseException):
        pass

    def panics(*_):
        raise PanicException

    monkeypatch.setattr("analyzer.files.workbook._tables", panics)
    refused(xlsx(LOG), "damaged", name="a.xlsx")


def test_a_part_whose_name_is_in_capitals_is_another_part():
    """Found by the attack (seed 6620)."""
    parts = {**open_parts(LOG)}
    parts["Mimetype"] = parts.pop("mimetype")
    refused(packed(parts), name="a.ods")


def test_damaged_and_locked_spreadsheets_have_one_line():
    good = xlsx(LOG)
    refused(good[: len(good) // 2], name="a.xlsx")
    refused(changed(good, "xl/worksheets/sheet1.xml", "</row>", "</raw>"), "damaged", name="a.xlsx")
    refused(changed(ods(LOG), "content.xml", "<table:table ", "<table:tables "), "damaged", name="a.ods")
    compound = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)
    refused(compound + "EncryptedPackage".encode("utf-16-le"), "protected by a password", "without", name="a.xlsx")
    refused(compound, "older office program", "save it as .xlsx, .ods or CSV", name="a.xls")
    locked = changed(ods(LOG), "META-INF/manifest.xml", "<manifest:manifest", "<manifest:encryption-data/><manifest:m")
    refused(locked, "protected by a password", name="a.ods")


HUGE_ROW = (
    '<table:table-row table:number-rows-repeated="{}"><table:table-cell table:number-columns-repeated="{}" {}/>'
    "</table:table-row>"
)
FULL = 'office:value-type="float" office:value="1"'


@pytest.mark.parametrize(
    ("data", "piece"),
    [
        (changed(xlsx(LOG), "xl/worksheets/sheet1.xml", 'r="B4"', 'r="XFD1048576"'), "row 1048576"),
        (changed(xlsx(LOG), "xl/worksheets/sheet1.xml", 'r="B4"', 'r="XFD4"'), "column XFD"),
        (ods(LOG, tail=HUGE_ROW.format(1_048_000, 1, FULL)), "at most 100000 rows"),
        (ods(LOG, tail=HUGE_ROW.format(1, 16_384, FULL)), "at most 200 columns"),
        (ods(LOG, tail=HUGE_ROW.format(90_000, 190, FULL)), "more than 3000000 cells"),
        (
            ods({"a": [["x" * 9000]]}, tail=HUGE_ROW.format(9000, 1, f'{FULL} office:string-value="{"x" * 9000}"')),
            "characters",
        ),
        (
            ods({"a": [[Raw('<table:table-cell><text:p><text:s text:c="2000000000"/></text:p></table:table-cell>')]]}),
            "spaces",
        ),
        (
            packed({**office_parts(LOG), "xl/sharedStrings.xml": '<sst uniqueCount="4000000000"/>'}),
            "claims more strings",
        ),
        (
            packed({**office_parts(LOG), "xl/big.xml": b"<a>" + b" " * 61_000_000 + b"</a>"}),
            "unpacks to more than 60 MB",
        ),
        (
            packed(
                {
                    **office_parts(LOG),
                    "xl/sharedStrings.xml": '<!DOCTYPE a [<!ENTITY b "bb">]><sst><si><t>&b;</t></si></sst>',
                }
            ),
            "damaged",
        ),
        (packed({**office_parts(LOG), "xl/sharedStrings.xml": "<!DOCTYPE sst><sst/>"}), "damaged"),
    ],
)
def test_what_a_file_only_claims_costs_nothing(data, piece):
    refused(data, piece, name="a.xlsx")


def test_very_many_elements_are_refused(monkeypatch):
    monkeypatch.setattr("analyzer.files.workbook_scan.MAX_ELEMENTS", 99)
    empty = changed(xlsx(LOG), "xl/worksheets/sheet1.xml", "</sheetData>", f"<row>{'<c/>' * 99}</row></sheetData>")
    refused(empty, "more than 99 elements", name="a.xlsx")


def test_what_a_spreadsheet_program_leaves_behind_the_table_does_no_harm():
    tail = HUGE_ROW.format(1_048_570, 16_384, "")
    assert rows(ods(LOG, tail=tail)) == rows(ods(LOG)) == rows(xlsx(LOG))
    far = changed(
        xlsx(LOG),
        "xl/worksheets/sheet1.xml",
        "</sheetData>",
        '<row r="1048576"><c r="A1048576" s="1"/></row></sheetData>',
    )
    assert rows(far) == rows(xlsx(LOG))
    wide = changed(xlsx(LOG), "xl/worksheets/sheet1.xml", "<sheetData>", '<dimension ref="A1:XFD1048576"/><sheetData>')
    assert rows(wide) == rows(xlsx(LOG))


def test_text_with_very_many_rows_is_refused():
    refused(b"a,b\n" + b"1,2\n" * (MAX_ROWS + 1), "more than 100000")


def test_letters_over_columns():
    assert [column_letters(i) for i in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]
