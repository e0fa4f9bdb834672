"""Runs side by side in a browser."""

import pytest

pytestmark = pytest.mark.browser

CHARTS = 3
OPTION = """
return [...document.querySelectorAll('.option')].find(b => b.id.includes('"{}"') && b.id.includes('"{}"'));
"""


def option(page, kind, value):
    """Return a button of the choice."""
    return page.run(OPTION.format(kind, value))


def test_two_runs_are_compared_and_the_link_opens_the_same(page, address):
    page.open(f"{address}/side-by-side/lower_bowl?run=ilo-1&run=mara-1&align=first_reading", CHARTS)
    page.screenshot("side-by-side")
    assert page.complaints() == []
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    option(page, "align", "fine_search").click()
    page.until("return location.search.includes('align=fine_search')")
    page.until("return document.querySelector('#compared-body').textContent.includes('zero is the fine search')")
    page.driver.refresh()
    page.until("return document.querySelector('#compared-body')?.textContent.includes('zero is the fine search')")
    assert option(page, "align", "fine_search").get_attribute("aria-pressed") == "true"
    assert option(page, "align", "start").get_attribute("aria-pressed") == "false"
    assert page.complaints() == []


def test_a_run_is_added_and_taken_away_with_the_keyboard(page, address):
    from selenium.webdriver.common.keys import Keys

    page.open(f"{address}/side-by-side/lower_bowl?run=ilo-1&run=mara-1", CHARTS)
    third = option(page, "run", "odd <i>run")
    third.send_keys(Keys.SPACE)
    page.until("return new URLSearchParams(location.search).getAll('run').length === 3")
    page.until("return document.querySelector('.compared').querySelectorAll('thead th').length === 4")
    assert page.run("return document.activeElement.textContent").endswith("(odd <i>run)")
    third.send_keys(Keys.SPACE)
    page.until("return document.querySelector('.compared').querySelectorAll('thead th').length === 3")
    option(page, "run", "ilo-1").send_keys(Keys.ENTER)
    page.until("return document.querySelector('#compared-body').textContent.includes('Choose at least 2')")
    page.driver.back()
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 3")
    page.until(
        "return [...document.querySelectorAll('.option-many')].filter(b => b.ariaPressed === 'true').length === 2"
    )


def test_the_list_leads_here(page, address):
    page.open(f"{address}/")
    page.run("[...document.querySelectorAll('a')].find(a => a.textContent === 'Side by side').click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 3")
    assert page.run("return location.pathname") == "/side-by-side/lower_bowl"


def test_a_pair_of_one_searcher_and_a_run_of_another_drill_are_chosen(page, serve, make_result, tmp_path):
    import datetime as dt
    from dataclasses import replace

    from analyzer.files.results.result_json import write_result
    from dashboard.config import Config

    for number, (drill, run) in enumerate((("lower_bowl", "mara-1"), ("lower_bowl", "mara-2"), ("gully", "mara-3"))):
        made = make_result(run_id=run, drill=drill)
        made = replace(made, time_zero=made.time_zero + dt.timedelta(hours=number))
        write_result(tmp_path / drill / f"{run}.json", made)
    with serve(Config(tmp_path), port=18760) as place:
        page.open(f"{place}/side-by-side/lower_bowl?run=mara-1", None)
        page.until("return document.querySelector('#compared-body').textContent.includes('Choose at least 2')")
        page.run(
            "[...document.querySelectorAll('.offered a')].find(a => a.textContent.includes('first and last')).click()"
        )
        page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 3")
        assert "run=mara-1&run=mara-2" in page.run("return location.search")
        page.run("document.querySelector('.more > summary').click()")
        page.run(OPTION.format("run", "gully/mara-3").replace("return ", "").strip().rstrip(";") + ".click()")
        page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 2")
        page.until("return document.querySelector('#compared-body').textContent.includes('of different drills')")
        assert page.run("return document.documentElement.scrollWidth") <= page.width
        assert page.complaints() == []
