"""The list of runs in a browser: looked for with the keyboard, folded, and each row on the page."""

import pytest

pytestmark = pytest.mark.browser

NAMES = "return [...document.querySelectorAll('a.run .run-name strong')].map(e => e.textContent)"
OUTSIDE = """
const wide = document.documentElement.clientWidth;
return [...document.querySelectorAll('a.run, a.run > span')].filter(e => {
  const box = e.getBoundingClientRect();
  return box.left < 0 || box.right > wide + 0.5;
}).map(e => e.textContent);
"""


def test_a_name_is_looked_for_with_the_keyboard_and_the_link_opens_the_same(page, address):
    from selenium.webdriver.common.keys import Keys

    page.open(f"{address}/")
    page.until(NAMES + ".length === 3")
    field = page.run("return document.querySelector('.finder input')")
    field.send_keys("ilo")
    field.send_keys(Keys.ENTER)
    page.until("return location.search === '?find=ilo' && document.querySelectorAll('a.run').length === 1")
    assert page.run(NAMES) == ["Ilo Brandt"]
    assert page.run("return document.querySelector('.finder input').value") == "ilo"
    page.run("[...document.querySelectorAll('a')].find(a => a.textContent === 'Show all').click()")
    page.until("return location.search === '' && document.querySelectorAll('a.run').length === 3")
    assert page.complaints() == []


def test_a_day_is_folded_with_the_keyboard_and_nothing_lies_outside(page, address):
    from selenium.webdriver.common.keys import Keys

    page.open(f"{address}/")
    page.until(NAMES + ".length === 3")
    page.screenshot("runs")
    assert page.run(OUTSIDE) == []
    page.run("return document.querySelector('.day > summary')").send_keys(Keys.ENTER)
    page.until("return !document.querySelector('a.run').checkVisibility()")
