"""The standings of an event in a browser."""

import pytest
from event_builder import make_event

pytestmark = pytest.mark.browser

ROWS = """
return [...document.querySelectorAll('.standings tbody tr:first-child')].map(r => r.innerText.replace(/\\s+/g, ' '));
"""
CUT = """
const box = document.querySelector('.scroll').getBoundingClientRect();
return [...document.querySelectorAll('.standings td, .standings th')]
    .filter(c => c.innerText && getComputedStyle(c.closest('tr').parentNode).position !== 'absolute')
    .filter(c => c.getBoundingClientRect().right > box.right + 1 || c.scrollWidth > c.clientWidth + 1)
    .map(c => c.innerText);
"""
SUMMARY = "return [...document.querySelectorAll('.fold summary')].find(s => s.textContent.includes(' of bib {},'));"


def unfold(page, bib):
    """Unfold an entry as the keyboard does, and wait for its lines."""
    from selenium.webdriver.common.keys import Keys

    page.run(SUMMARY.format(bib)).send_keys(Keys.ENTER)
    page.until("return document.querySelector('details[open] .lines') !== null")
    return page.run("return document.querySelector('details[open]').innerText.replace(/\\s+/g, ' ')")


def test_from_the_head_to_a_field_a_class_and_an_entrys_lines(page, address):
    page.open(f"{address}/")
    page.run("[...document.querySelectorAll('.head a')].find(a => a.textContent === 'Standings').click()")
    page.until("return document.querySelector('h1').textContent === 'Standings'")
    assert "wrong cannot be shown: event.toml" in page.run("return document.querySelector('main').innerText")
    page.run("[...document.querySelectorAll('a.run')].find(a => a.textContent.includes('Invented cup')).click()")
    page.until("return document.querySelectorAll('.standings tbody').length === 5")
    assert page.run("return document.querySelectorAll('.proposals li').length") == 3
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.run(CUT) == []
    page.screenshot("standings-overall")
    page.run("[...document.querySelectorAll('.choose a')].find(a => a.textContent === 'Lower bowl').click()")
    page.until("return location.search === '?field=lower_bowl'")
    page.until("return document.querySelector('.standings caption').textContent === 'Lower bowl'")
    rows = page.run(ROWS)
    # By hand, as in docs/standings.md: 230.2; 231.4 and 190.9 + 20 + 20 rounded to the same second; 118 + 300.
    assert [row.split()[0] for row in rows] == ["1", "2", "2", "4", "–"]
    assert "3:50" in rows[0]
    assert "not clearly ahead of bibs 1, 3" in rows[0]
    assert "not clearly behind bib 2: 0.7 s apart" in rows[1]
    assert "shared place" in rows[1]
    assert "did not start" in rows[4]
    text = unfold(page, "3")
    for words in (
        "190.9 s",
        "Probing beside the lowest spot, A, at 1:30.0",
        "penalty.off_lowest: 20 s each",
        "findings[0]",
        "left the area (A judge, 2026-02-14T10:12:00+01:00)",
        "judge entry 1",
        "230.9 s",
        "timeline[",
        "confirmed: seen (A judge, 2026-02-14T10:14:00+01:00)",
    ):
        assert words in text
    page.screenshot("standings-field")
    page.run("[...document.querySelectorAll('.choose a')].find(a => a.textContent === 'First season').click()")
    page.until("return document.querySelectorAll('.standings tbody').length === 3")
    assert page.run("return location.search") == "?field=lower_bowl&class=young"
    page.driver.refresh()
    page.until("return document.querySelectorAll('.standings tbody').length === 3")
    assert page.run("return window.harmed") is None
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    assert page.complaints() == []


def test_overall_unfolds_field_by_field_with_links_to_the_debriefs(page, address):
    page.open(f"{address}/standings/cup")
    text = unfold(page, "1")
    assert "Overall" in text
    assert "Lower bowl" in text
    links = page.run("return [...document.querySelectorAll('details[open] .account a')].map(a => a.pathname)")
    assert links == ["/run/lower_bowl/mara-1", "/run/gully/mara-1"]
    page.run("document.querySelector('details[open] .account a').click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length > 0")


def test_what_has_changed_is_said_in_words(page, serve, tmp_path):
    from dashboard.config import Config

    event = make_event(tmp_path)
    (tmp_path / "drills/gully/runs/run-2/track.csv").write_text("time,east_m,north_m\n2026-02-14T09:00:00Z,9,9\n")
    (event / "results/gully/run-3.json").write_text("[] 3")
    with serve(Config(tmp_path / "results", workspace=tmp_path)) as place:
        page.open(f"{place}/standings/cup")
        said = page.run("return [...document.querySelectorAll('.notice')].map(n => n.textContent)")
        assert len(said) == 3
        assert said[2] == "2 proposals wait for a judge and are not counted."
        assert "bib 2, drills/gully/runs/run-2/track.csv was replaced after the scoring" in said[0]
        assert said[1].startswith("Not as it was written: results/gully/run-3.json")
        page.screenshot("standings-stale")
        stale = [row for row in page.run(ROWS) if "stale: a file was changed" in row]
        assert ["bib 2, Open" in row for row in stale] == [True]
        assert page.complaints() == []


def test_the_list_to_print_opens_and_downloads_are_there(page, address):
    page.driver.get(f"{address}/take-event/cup/list.html")
    page.until("return document.querySelectorAll('table').length === 11")
    assert page.run("return window.harmed") is None
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    page.screenshot("standings-print")
    page.open(f"{address}/standings/cup")
    names = page.run("return [...document.querySelectorAll('.run-files a')].map(a => a.pathname)")
    assert names == [f"/take-event/cup/{name}" for name in ("list.html", "standings.csv", "standings.json")]


def test_pages_that_have_nothing_to_show(page, address):
    for path, words in (
        ("/standings/later", "not scored yet"),
        ("/standings/gone", "not here"),
        ("/standings/cup?field=ridge", "not here"),
    ):
        page.open(address + path)
        assert words in page.run("return document.querySelector('main').innerText")


def test_a_run_of_an_event_is_warned_of_and_what_became_of_it_is_told(page, tmp_path, serve):
    from dashboard.config import Config

    root = make_event(tmp_path / "club").parents[1]
    with serve(Config(root / "results", workspace=root), port=18760) as address:
        page.open(f"{address}/particulars/lower_bowl/run-2")
        words = page.run("return document.querySelector('main').innerText")
        assert "The standing of Invented cup rests on this run (bib 2, Ilo Brandt, on Lower bowl)." in words
        page.screenshot("run-of-an-event")
        delete = "return [...document.querySelectorAll('form')].find(f => f.action.includes('/delete'))"
        page.run(f"{delete[7:]}.querySelector('button').click()")
        page.until("return document.querySelector('[role=alert]')?.innerText.includes('Not done')")
        page.run(f"const s = {delete[7:]}.querySelector('select'); s.value = 'yes'")
        page.run(f"{delete[7:]}.querySelector('button').click()")
        page.until("return location.pathname === '/bin' && document.querySelector('main h1') !== null")
        page.open(f"{address}/standings/cup")
        page.until("return document.querySelector('main').innerText.includes('its run run-2 was deleted on')")
        page.screenshot("event-with-a-run-gone")
        assert page.run("return document.documentElement.scrollWidth") <= page.width
        assert page.complaints() == []
