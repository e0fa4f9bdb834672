"""What is taken away: the sheet, the page as a file, the tables."""

import csv
import io
import json
import re
from dataclasses import replace

import pytest
from plotly.utils import PlotlyJSONEncoder

from analyzer.engine.result import notes_on_fixes
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.path import FixUse
from dashboard.components.debrief import debrief_page
from dashboard.export.measures import measures_csv, measures_json
from dashboard.export.paper import HEIGHT_MM, WIDTH_MM, width_of, wrapped
from dashboard.export.sheet import sheet_figure, sheet_pdf
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


def long_words(result):
    """Return the run with everything longer than it fits."""
    text = "A very long remark that goes on and on about the same thing until nobody reads it any more. " * 6
    findings = tuple(replace(f, text=text, saving_s=NotAssessable("no reference")) for f in result.findings)
    searches = tuple(replace(result.searches[0], transmitter=f"T{i} {'x' * 60}") for i in range(5))
    name = "Wilhelmina-Konstantina von und zu Unterhinterobertal-Grossglockner"
    return replace(result, searcher=name, drill=name * 3, run_id="r" * 90, findings=findings, searches=searches)


def noted(result):
    return replace(result, evidence=replace(result.evidence, notes=notes_on_fixes(FixUse(1234, (), 1200))))


def test_what_must_be_known_first_stands_on_the_sheet_and_at_the_top_of_the_debrief(result):
    (note,) = noted(result).evidence.notes
    assert note.startswith("1200 of 1234 fixes lie far")
    assert note in [t.get_text() for t in sheet_figure(noted(result)).texts]
    page = json.dumps(debrief_page(noted(result), ("drill", "run"), None).to_plotly_json(), cls=PlotlyJSONEncoder)
    assert page.index(note) < page.index("What cost most")
    assert notes_on_fixes(FixUse(100, (1.0, 2.0, 3.0), 5)) == ()


@pytest.mark.parametrize("kind", ["as it is", "long words", "bare", "noted"])
def test_the_sheet_is_one_page_with_all_text_on_it_and_no_text_over_another(result, kind):
    bare = replace(result, findings=(), searches=(), readings=None, corners_m=None, lines=(), transmitters=())
    kinds = {"as it is": result, "long words": long_words(result), "bare": bare, "noted": noted(result)}
    figure = sheet_figure(kinds[kind])
    assert [round(25.4 * edge) for edge in figure.get_size_inches()] == [WIDTH_MM, HEIGHT_MM] == [210, 297]
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in figure.texts if t.get_text()]
    page = figure.bbox
    for text, box in boxes:
        assert page.x0 <= box.x0, text
        assert box.x1 <= page.x1, text
        assert page.y0 <= box.y0, text
        assert box.y1 <= page.y1, text
    for i, (text, box) in enumerate(boxes):
        for other, second in boxes[i + 1 :]:
            wide = min(box.x1, second.x1) - max(box.x0, second.x0)
            high = min(box.y1, second.y1) - max(box.y0, second.y0)
            assert min(wide, high) < 2.0, (text, other)  # pixels of 1/100 inch; descents may touch


def test_the_sheet_carries_what_it_must(result):
    words = " ".join(t.get_text() for t in sheet_figure(result).texts)
    parts = ("Mara Fennick", "110 s", "34 s", "26 s", "10:00", "Walked / field line", "1.41", "1 more in the debrief")
    for part in parts:
        assert part in words
    for sentence in SAFETY:
        assert sentence in words


def test_the_pdf_is_one_page_of_a4_and_the_same_each_time(result):
    data = sheet_pdf(result)
    assert data.startswith(b"%PDF-1.")
    assert len(re.findall(rb"/Type /Page\b", data)) == 1
    box = [float(n) for n in re.search(rb"/MediaBox \[ ?([\d. ]+)\]", data).group(1).split()]
    assert box == pytest.approx([0, 0, 595.28, 841.89], abs=0.01)  # ISO 216 A4 in points of 1/72 inch
    assert data == sheet_pdf(result)
    assert len(data) < 500_000


@pytest.mark.parametrize("name", ["$\\frac{1}{0}$", "Łukasz Żółć", "雪崩 \U0001f3d4", "a\nb\tc"])
def test_any_name_can_be_printed(result, name):
    figure = sheet_figure(replace(result, searcher=name, transmitters=(replace(result.transmitters[0], id=name),)))
    first = figure.texts[0].get_text()
    assert first == {"雪崩 \U0001f3d4": "\ufffd\ufffd \ufffd", "a\nb\tc": "a b c"}.get(name, name)
    assert sheet_pdf(replace(result, searcher=name)).startswith(b"%PDF")


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
    assert answer.headers["Content-Disposition"].split(";")[1] == ' filename="-i-odd - run measures.json"'


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


def test_what_is_only_possible_is_not_on_the_sheet(result):
    (doubtful,) = result.possible
    words = " ".join(t.get_text() for t in sheet_figure(result).texts).replace("\n", " ")
    assert "may still have been" not in words
    told = json.loads(measures_json(result))
    assert [one["text"] for one in told["possible"]] == [doubtful.text]
    assert all("probability" in one for one in told["findings"])
