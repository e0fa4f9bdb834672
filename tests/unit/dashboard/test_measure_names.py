"""The pages, the sheet and the tables show the measures of the table, by its titles."""

from dataclasses import replace

import pytest

from analyzer.model.figure import Figure, exact
from analyzer.model.measures import GROUPS, MEASURES, PRINTED, RUN, Measure, of_phase
from analyzer.model.phases import FINE
from analyzer.seasons.measures import MEASURES as FOLLOWED
from dashboard.components.measure_table import measure_table
from dashboard.export import sheet_blocks
from dashboard.export.measures import measures_csv
from dashboard.export.sheet import sheet_papers
from dashboard.view_models.sheet import SheetRun
from dashboard.wording import as_shown, measure_name


@pytest.fixture
def full(result):
    """Return a run whose only search has a figure for every measure."""
    figures = {g: tuple((m.key, exact(0.5, m.unit)) for m in of_phase(p)) for g, p in GROUPS.items()}
    return replace(result, searches=(replace(result.searches[0], **figures),))


def test_a_page_shows_every_measure_by_its_title(full):
    page = measure_table(full.searches[0])
    rows = [part.children for part in page._traverse() if getattr(part, "scope", "") == "row"]
    assert rows == [m.title for group in GROUPS.values() for m in of_phase(group)]


def test_a_spreadsheet_has_every_measure_by_its_title(full):
    text = measures_csv(full).decode("utf-8-sig")
    missing = [m.name for m in MEASURES if m.phase != RUN and not (f"{m.title}" in text and f"{m.name}," in text)]
    assert missing == []


def test_the_sheet_prints_what_is_to_be_printed(full):
    words = {t.get_text() for paper in sheet_papers(SheetRun("bowl", "run", full)) for t in paper.figure.texts}
    assert {m.title for m in PRINTED} <= words
    assert not {m.title for m in MEASURES if not m.printed and m.phase != RUN and len(m.title) > 10} & words


@pytest.mark.parametrize("more", [0, 1, 5])
def test_the_rows_of_the_sheet_stand_above_its_foot_however_many_are_printed(full, monkeypatch, more):
    added = tuple(Measure(FINE, f"more_{i}_m", f"One more {i}", "m", "less", printed=True) for i in range(more))
    monkeypatch.setattr(sheet_blocks, "PRINTED", PRINTED + added)
    papers = sheet_papers(SheetRun("bowl", "run", full))
    (page,) = (p for p in papers if PRINTED[0].title in [t.get_text() for t in p.figure.texts])
    texts = {t.get_text(): t.get_position()[1] for t in page.figure.texts}
    foot = next(y for text, y in texts.items() if "Rule sheet" in text)
    rows = [texts[m.title] for m in PRINTED + added]
    half = next((i for i in range(1, len(rows)) if rows[i] > rows[i - 1]), len(rows))
    for column in (rows[:half], rows[half:]):  # of a single search, the rows may stand in two halves beside each other
        assert column == sorted(set(column), reverse=True)
    assert min(rows) > foot


def test_shares_of_an_area_are_shown_in_per_cent_and_no_others():
    figure = Figure(0.5, 0.4, 0.6, "1")
    assert as_shown("signal", "covered_fraction", figure) == Figure(50.0, 40.0, 60.0, "%")
    assert as_shown("fine", "oblique_share", figure) is figure
    assert as_shown("coarse", "path_ratio", figure) is figure


def test_a_measure_of_another_version_shows_its_key():
    assert measure_name("coarse", "zigzag_m") == "zigzag m"


def test_heads_of_the_season_are_of_its_measures():
    assert [m.key for m in FOLLOWED if m.narrow and not m.head] == []
