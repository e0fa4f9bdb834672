"""The debrief in a browser, at laptop and phone width."""

import pytest

pytestmark = pytest.mark.browser

CHARTS = 5
BROKEN_WORDS = """
const broken = [];
for (const cell of document.querySelectorAll('.timeline-table th, .timeline-table td')) {
  const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) for (const word of walk.currentNode.data.matchAll(/[^ ]+/g)) {
    const range = document.createRange();
    range.setStart(walk.currentNode, word.index);
    range.setEnd(walk.currentNode, word.index + word[0].length);
    if (range.getClientRects().length > 1) broken.push(word[0]);
  }
}
return broken;
"""
RANGE = "return document.querySelector('#{} .js-plotly-plot').layout.{}.range.map(Number)"


def test_a_run_opens_whole_and_asks_no_other_host(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    page.screenshot("debrief")
    asked = page.requests()
    assert len(asked) > 5
    assert [url for url in asked if not url.startswith((f"{address}/", "data:", "blob:", "about:"))] == []
    assert page.complaints() == []
    assert page.run("return document.querySelectorAll('.finding').length") == 4


def test_nothing_scrolls_sideways(page, address):
    for path, charts in (("/", None), ("/run/lower_bowl/mara-1", CHARTS), ("/run/lower_bowl/gone", None)):
        page.open(address + path, charts)
        page.run("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        assert page.run("return document.documentElement.scrollWidth") <= page.width


def test_no_word_of_the_timeline_is_broken(page, address):
    """2026-11-26: on a phone the table said "Walke d, m" and "Standi ng"."""
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    page.run("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.run("return document.querySelectorAll('.timeline-table tbody tr').length") > 5
    assert page.run(BROKEN_WORDS) == []


def test_a_finding_moves_all_views_and_the_link_opens_the_same(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    before = page.run(RANGE.format("plan", "xaxis"))
    page.run("document.querySelectorAll('.finding')[1].click()")
    page.until("return document.getElementById('window-caption').textContent === 'All views show 2:48 to 3:22.'")
    page.until("return document.querySelector('#plan .js-plotly-plot')._fullData[2].x.length > 20")
    page.screenshot("debrief-finding")
    moved = {name: page.run(RANGE.format(name, "xaxis")) for name in ("plan", "over-time")}
    assert moved["plan"][1] - moved["plan"][0] < 0.6 * (before[1] - before[0])
    assert page.run("return location.search") == "?from=168.0&to=202.0"
    assert page.run("return document.querySelectorAll('.finding')[1].getAttribute('aria-pressed')") == "true"

    page.driver.refresh()
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 5")
    assert page.run("return document.getElementById('window-caption').textContent") == "All views show 2:48 to 3:22."
    assert page.run("return document.querySelector('#plan .js-plotly-plot')._fullData[2].x.length") > 20
    assert page.complaints() == []


def test_back_returns_to_the_whole_run(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    page.run("document.querySelectorAll('.finding')[0].click()")
    caption = "document.getElementById('window-caption')?.textContent"
    page.until(f"return location.search !== '' && {caption} !== 'All views show the whole run.'")  # as a person sees it
    page.driver.back()
    page.until(f"return {caption} === 'All views show the whole run.'")
    assert page.run("return location.search") == ""


def test_a_finding_is_chosen_with_the_keyboard(page, address):
    from selenium.webdriver.common.keys import Keys

    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    for _ in range(12):
        page.driver.switch_to.active_element.send_keys(Keys.TAB)
        if page.run("return document.activeElement.classList.contains('finding')"):
            break
    assert page.run("return document.activeElement.classList.contains('finding')")
    page.driver.switch_to.active_element.send_keys(Keys.ENTER)
    page.until("return location.search === '?from=486.0&to=596.0'")


def test_a_piece_of_the_timeline_is_chosen_with_the_pointer(page, address):
    from selenium.webdriver.common.action_chains import ActionChains

    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    bar = "document.querySelectorAll('#timeline-bar .trace.bars')[3].querySelector('.point path')"  # wrong way
    page.run(f"{bar}.scrollIntoView({{block: 'center', behavior: 'instant'}})")
    element = page.driver.execute_script(f"return {bar}")
    ActionChains(page.driver).move_to_element(element).pause(0.3).click().perform()
    page.until("return location.search !== ''")
    assert page.run("return location.search") == "?from=168.0&to=183.0"


def test_the_list_leads_to_a_run(page, address):
    page.open(f"{address}/")
    page.screenshot("runs")
    page.run("[...document.querySelectorAll('a.run')].find(a => a.textContent.includes('Ilo Brandt')).click()")
    page.until("return document.querySelector('main h1').textContent === 'Ilo Brandt'")
    assert page.run("return location.pathname") == "/run/lower_bowl/ilo-1"


def test_names_with_markup_are_text(page, address):
    page.open(f"{address}/")
    page.run("[...document.querySelectorAll('a.run')].find(a => a.textContent.includes('Bold')).click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 5")
    assert page.run("return document.querySelector('main h1').textContent").startswith("<img src=x onerror=")
    assert page.run("return document.querySelectorAll('main img, main h1 b, .title u, .title i').length") == 0
    assert page.run("return window.harmed === undefined")


def test_a_link_that_leads_nowhere_says_so_and_the_server_stays_up(page, address):
    for path, words in (
        ("/run/lower_bowl/gone", "This run is not here"),
        ("/nowhere", "There is no such page"),
        ("/run/lower_bowl/zz-damaged", "This result cannot be shown"),
    ):
        page.open(address + path)
        assert page.run("return document.querySelector('main h1').textContent") == words
    page.screenshot("missing")
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    assert page.run("return document.querySelector('main h1').textContent") == "Mara Fennick"


def test_safety_words_are_in_the_foot_of_every_page(page, address):
    for path in ("/", "/run/lower_bowl/mara-1", "/nowhere"):
        page.open(address + path)
        foot = page.run("return document.querySelector('footer.foot').innerText")
        assert "Never for a real rescue" in foot
        assert "50 cm when searching" in foot
