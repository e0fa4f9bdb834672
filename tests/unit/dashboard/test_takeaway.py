"""What is taken away: the sheet, the page as a file, the tables."""

import csv
import io
import json
import re
from dataclasses import replace

import pytest

from analyzer.model.figure import Figure
from analyzer.model.recording import RunWords
from dashboard.export.answers import file_name
from dashboard.export.measures import measures_csv, measures_json
from dashboard.export.paper import width_of, wrapped
from dashboard.export.standalone import standalone_page
from dashboard.wording import SAFETY


def rows_of(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def test_every_measure_is_a_row_with_numbers_or_a_reason(result):
    rows = rows_of(measures_csv(result))
    wanted = sum(len(getattr(s, g)) for s in result.searches for g in ("signal", "coarse", "fine", "pinpoint"))
    assert len(rows) == wanted + len(result.scores.by_phase)
    walked = next(r for r in rows if r["key"] == "coarse.walked_m" and r["transmitter"] == "A")
    assert (walked["value"], walked["low"], walked["high"], walked["unit"], walked["why"]) == (
        "62.4",
        "60.6",
        "64.2",
        "m",
        "",
    )
    unknown = next(r for r in rows if r["key"] == "fine.overshoot_m")
    assert (unknown["value"], unknown["why"]) == ("", "the path is uncertain by more than the length of a leg")


# What begins a formula in spreadsheets, as the OWASP page on CSV injection lists it.
@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "\n=cmd|' /C calc'!A0"])
def test_no_cell_of_text_is_a_formula(result, text):
    rows = rows_of(measures_csv(replace(result, searcher=text, drill=text, run_id=text)))
    assert all(
        row["searcher"].startswith("'") and row["searcher"].replace("'", "") == text.replace("'", "") for row in rows
    )


def test_a_negative_number_stays_a_number(result):
    first = replace(result.searches[0], coarse=(("wrong_way_m", Figure(-1.5, -2.0, -1.0, "m")),))
    row = next(r for r in rows_of(measures_csv(replace(result, searches=(first,)))) if r["key"] == "coarse.wrong_way_m")
    assert float(row["value"]) == -1.5


def test_json_holds_the_figures_as_the_result_file_does(result):
    values = json.loads(measures_json(result))
    assert values["searches"][0]["coarse"]["walked_m"] == {"value": 62.4, "low": 60.6, "high": 64.2, "unit": "m"}
    assert values["searches"][0]["fine"]["overshoot_m"]["status"] == "not_assessable"
    assert len(values["findings"]) == 4
    assert values["safety"] == list(SAFETY)


def test_wrapping_keeps_every_word_and_the_width():
    text = "one two three four five six seven eight nine ten " * 3
    lines = wrapped(text, width_mm=40.0, size=9.0)
    assert " ".join(lines).split() == text.split()
    assert max(width_of(line, size=9.0) for line in lines) <= 40.0
    short = wrapped(text, width_mm=40.0, size=9.0, most=2)
    assert len(short) == 2
    assert short[-1].endswith("…")


def test_the_file_holds_everything_and_may_load_nothing(result):
    text = standalone_page(result).decode()
    assert "default-src 'none'" in text
    head, rest = text.split("<script>", 1)
    assert re.findall(r'(?:src|href)="(?!data:|#)[^"]*"', head) == []
    assert "Plotly" in rest
    for sentence in SAFETY:
        assert sentence in head
    values = json.loads(re.search(r'id="debrief">(.*?)</script>', text, re.DOTALL).group(1))
    assert len(values["charts"]) == head.count('data-chart="') == 5
    named = set(re.findall(r'<button[^>]* data-window="([^"]*)"', head))
    assert len(named) > 10
    assert named <= set(values["windows"])
    assert all(len(w["changes"]) == 5 for w in values["windows"].values())


def test_what_the_coach_said_goes_with_the_file(result):
    words = RunWords(note="Calm <b>hands</b>.", praised="the line", set_aside=("wrong_way:A: called back",))
    head = standalone_page(replace(result, words=words)).decode().split("<script>", 1)[0]
    assert "Calm &lt;b&gt;hands&lt;/b&gt;." in head
    assert "Set aside: called back." in head
    assert "coach" not in standalone_page(result).decode().split("<body>", 1)[1].split("<script>", 1)[0]


def test_names_with_markup_are_text_in_the_file(result):
    evil = "</script><script>window.harmed=1</script><img src=x onerror=window.harmed=1>"
    findings = tuple(replace(f, text=evil) for f in result.findings)
    text = standalone_page(replace(result, searcher=evil, drill=evil, run_id=evil, findings=findings)).decode()
    assert "<img" not in text.split("<script>", 1)[0]
    assert "<script>window.harmed" not in text


@pytest.mark.parametrize(
    ("name", "kind", "start"),
    [
        ("sheet.pdf", "application/pdf", b"%PDF"),
        ("debrief.html", "text/html; charset=utf-8", b"<!DOCTYPE html>"),
        ("account.csv", "text/csv; charset=utf-8", b"\xef\xbb\xbfdrill,run"),
        ("timeline.csv", "text/csv; charset=utf-8", b"\xef\xbb\xbfdrill,run"),
        ("measures.csv", "text/csv; charset=utf-8", b"\xef\xbb\xbfdrill,run"),
        ("measures.json", "application/json", b"{"),
    ],
)
def test_the_server_gives_the_files(app, name, kind, start):
    answer = app.server.test_client().get(f"/take/lower_bowl/mara-1/{name}")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == kind
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="')
    assert answer.data.startswith(start)


def test_a_name_with_markup_is_harmless_in_the_headers(app):
    answer = app.server.test_client().get("/take/lower_bowl/%3Ci%3Eodd%20&%20run/measures.json")
    assert answer.status_code == 200
    assert (
        answer.headers["Content-Disposition"].split(";")[1] == ' filename="lower-bowl_b-bold-b_i-odd-run_measures.json"'
    )


# Characters and names that Windows refuses: "Naming Files, Paths, and Namespaces", Microsoft Learn, read 2026-11-27.
@pytest.mark.parametrize(
    ("parts", "name"),
    [
        (("lower_bowl", "Mara Fennick", "mara-1"), "lower-bowl_mara-fennick_mara-1_sheet.pdf"),
        (("lower_bowl", "", "mara-1"), "lower-bowl_mara-1_sheet.pdf"),
        (("CON", 'a<b>c:d"e/f\\g|h?i*', "..\\.."), "con_a-b-c-d-e-f-g-h-i_sheet.pdf"),
        (("雪崩", "Łukasz Żółć", "x.\0\n"), "雪崩_łukasz-żółć_x_sheet.pdf"),
        (("", "***", ""), "sheet.pdf"),
    ],
)
def test_the_name_of_a_file_tells_drill_person_and_run_on_every_system(parts, name):
    assert file_name(*parts, what="sheet.pdf") == name


def test_the_name_of_a_file_is_no_longer_than_systems_take():
    assert len(file_name(*["雪" * 300] * 3, what="measures.json").encode()) <= 3 * 150 + 20
    assert len(file_name(*["x" * 300] * 3, what="measures.json")) <= 255


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/take/lower_bowl/gone/sheet.pdf", 404, "There is no result for lower_bowl/gone"),
        ("/take/lower_bowl/mara-1/secret.txt", 404, "There are: sheet.pdf"),
        ("/take/lower_bowl/zz-damaged/sheet.pdf", 422, "the result has no 'run'"),
        ("/take/..%2F../x/sheet.pdf", 404, None),
    ],
)
def test_what_is_not_there_is_said(app, path, status, words):
    answer = app.server.test_client().get(path)
    if words is None:
        assert b"%PDF" not in answer.data
        return
    assert answer.status_code == status
    assert words in answer.get_data(as_text=True)


def test_the_debrief_links_to_its_files_and_its_replay(ask):
    _, text = ask("/run/lower_bowl/mara-1")
    plain = json.dumps(json.loads(text))
    for part in ("/replay/lower_bowl/mara-1", *(f"/take/lower_bowl/mara-1/{n}" for n in ("sheet.pdf", "debrief.html"))):
        assert part in plain


def test_what_is_only_possible_is_told_as_such_in_json(result):
    (doubtful,) = result.possible
    told = json.loads(measures_json(result))
    assert [one["text"] for one in told["possible"]] == [doubtful.text]
    assert all("probability" in one for one in told["findings"])
