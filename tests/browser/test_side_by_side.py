"""Runs side by side in a browser."""

import pytest

pytestmark = pytest.mark.browser

CHARTS = 3
BOXES = "return [...document.querySelectorAll('#compared input')]"


def test_two_runs_are_compared_and_the_link_opens_the_same(page, address):
    page.open(f"{address}/side-by-side/lower_bowl?run=ilo-1&run=mara-1&align=first_reading", CHARTS)
    page.screenshot("side-by-side")
    assert page.complaints() == []
    assert page.run("return document.documentElement.scrollWidth") <= page.width
    page.run("[...document.querySelectorAll('#align input')][2].click()")
    page.until("return location.search.includes('align=fine_search')")
    page.until("return document.querySelector('#compared-body').textContent.includes('zero is the fine search')")
    page.driver.refresh()
    page.until("return document.querySelector('#compared-body')?.textContent.includes('zero is the fine search')")
    assert page.run("return [...document.querySelectorAll('#align input')].map(i => i.checked)") == [False, False, True]
    assert page.complaints() == []


def test_a_run_is_added_and_taken_away_with_the_keyboard(page, address):
    from selenium.webdriver.common.keys import Keys

    page.open(f"{address}/side-by-side/lower_bowl?run=ilo-1&run=mara-1", CHARTS)
    third = page.run("return document.querySelectorAll('#compared input')[2]")
    third.send_keys(Keys.SPACE)
    page.until("return new URLSearchParams(location.search).getAll('run').length === 3")
    page.until("return document.querySelectorAll('.compared thead th').length >= 8")
    assert page.run("return document.activeElement.type") == "checkbox"
    page.run("return document.querySelectorAll('#compared input')[2]").send_keys(Keys.SPACE)
    page.until("return new URLSearchParams(location.search).getAll('run').length === 2")
    page.run("return document.querySelectorAll('#compared input')[0]").send_keys(Keys.SPACE)
    page.until("return document.querySelector('#compared-body').textContent.includes('Choose at least 2')")
    page.driver.back()
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 3")
    page.until("return [...document.querySelectorAll('#compared input')].filter(i => i.checked).length === 2")


def test_the_list_leads_here(page, address):
    page.open(f"{address}/")
    page.run("[...document.querySelectorAll('a')].find(a => a.textContent === 'Side by side').click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 3")
