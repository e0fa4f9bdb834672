"""The season in a browser: from the table of the group to a person, whose trend is the one that was put in."""

import datetime as dt
from dataclasses import replace
from urllib.parse import quote

import pytest
from selenium.webdriver.common.by import By

from analyzer.files.results.result_json import write_result
from analyzer.model.figure import Figure
from analyzer.model.people import People, Person
from analyzer.workspace.people.people_toml import people_bytes
from dashboard.config import Config

pytestmark = pytest.mark.browser

FIRST = dt.datetime(2026, 1, 10, 9, 0, tzinfo=dt.UTC)
NAMES = ("Mara Fennick", "Odd <i>Vold</i>", "Ilvo Silent")
CHARTS = "return document.querySelectorAll('.js-plotly-plot .subplot.xy').length"


def _turning_after(result, seconds):
    """Return an invented result in which rising readings were acted on after so many seconds."""
    first, second = result.searches
    turned = ("turnaround_s", Figure(seconds, seconds - 0.5, seconds + 0.5, "s"))
    coarse = (*(pair for pair in first.coarse if pair[0] != "turnaround_s"), turned)
    return replace(result, searches=(replace(first, coarse=coarse), second))


@pytest.fixture
def club(tmp_path, make_result):
    """Return a workspace of three people on eight days; one turns back sooner, one has not agreed to be named."""
    for day in range(8):
        for number, name in enumerate(NAMES):
            seconds = 12.0 - 0.9 * day if number == 0 else 8.0 + (-1.0) ** day
            result = _turning_after(make_result(run_id=f"run-{number}", searcher=name), seconds)
            result = replace(result, time_zero=FIRST + dt.timedelta(days=7 * day, minutes=20 * number))
            write_result(tmp_path / "results" / f"day-{day}" / f"run-{number}.json", result)
    people = People(tuple(Person(n, "North", n != NAMES[2], FIRST.date() if n != NAMES[2] else None) for n in NAMES))
    (tmp_path / "people.toml").write_bytes(people_bytes(people))
    return tmp_path


def test_from_the_group_to_a_person(page, serve, club):
    with serve(Config(club / "results", workspace=club)) as address:
        page.open(f"{address}/season")
        rows = page.run("return [...document.querySelectorAll('.season-changes tbody tr')].map(r => r.innerText)")
        assert len(rows) == 2
        assert "Turns back sooner" in rows[0]
        assert "Odd <i>Vold</i>" in rows[1], "a name is text and no markup"
        words = page.run("return document.querySelector('main').innerText")
        assert "Ilvo" not in words
        assert "1 person has not agreed to be named" in words
        page.screenshot("season")
        page.run("document.querySelector('details.more').open = true")
        assert "↘ better" in page.run("return document.querySelector('.season-table tbody tr').innerText")
        page.screenshot("season-measures")
        page.open(f"{address}/season?across=yes")
        assert "2025/26" in page.run("return document.querySelector('.season-changes tbody tr').innerText")
        page.open(f"{address}/season?from=tomorrow")
        assert "not a day" in page.run("return document.querySelector('main').innerText")
        page.open(f"{address}/season?from=2026-01-01&to=2026-06-30")
        assert "from 2026-01-01 to 2026-06-30" in page.run("return document.querySelector('main h1').innerText")
        page.driver.find_element(By.LINK_TEXT, NAMES[0]).click()
        page.until("return document.querySelector('main h1')?.innerText === 'Mara Fennick'")
        page.until(f"{CHARTS} === document.querySelectorAll('.chart-season').length")
        assert page.run(CHARTS) > 10
        first = page.run("return document.querySelector('.season-measure').innerText")
        assert "Turns back sooner: from about 12 s to 5.7 s over eight days of practice (clear)." in first
        page.screenshot("season-person")
        page.run("document.querySelector('.season-measure a').scrollIntoView({block: 'center', behavior: 'instant'})")
        page.driver.find_element(By.CSS_SELECTOR, ".season-measure a").click()
        page.until("return location.pathname.startsWith('/run/day-')")
        page.open(f"{address}/season/{quote(NAMES[1], safe='')}")
        assert page.run("return document.querySelector('main h1').innerText") == NAMES[1]
        page.open(f"{address}/season/nobody")
        assert "no run" in page.run("return document.querySelector('main').innerText")
        assert page.complaints() == []
