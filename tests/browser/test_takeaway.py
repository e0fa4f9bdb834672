"""The debrief as a file, opened from the disk: no request leaves it, and its views are linked."""

import urllib.request

import pytest

pytestmark = pytest.mark.browser

RANGE = "const p = document.querySelectorAll('[data-chart]')[{}]; return p.layout.xaxis.range.map(Number)"
# What can be read lies in the window, save what scrolls in a box of its own.
OUTSIDE = """
return [...document.querySelectorAll('main p, main li, main td, main th, main h1, main h2, main button, footer p')]
  .filter(e => e.checkVisibility() && !e.closest('.scroll'))
  .filter(e => {
    const box = e.getBoundingClientRect();
    return box.width && (box.left < -0.5 || box.right > document.documentElement.clientWidth + 0.5);
  }).map(e => e.tagName + ': ' + e.textContent.slice(0, 60));
"""


@pytest.fixture
def saved(page, address, tmp_path):
    with urllib.request.urlopen(f"{address}/take/lower_bowl/mara-1/debrief.html") as answer:
        (tmp_path / "debrief.html").write_bytes(answer.read())
    page.requests()
    page.open((tmp_path / "debrief.html").as_uri())
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 5")
    return page


def test_it_opens_from_the_disk_and_loads_nothing(saved):
    assert [url for url in saved.requests() if not url.startswith(("file://", "data:", "blob:", "about:"))] == []
    assert saved.complaints() == []
    assert saved.run("return document.documentElement.scrollWidth") <= saved.width
    assert "Never for a real rescue" in saved.run("return document.querySelector('footer').innerText")
    assert "Never for a real rescue" in saved.run("return document.querySelector('header').innerText")
    assert saved.run(OUTSIDE) == []
    saved.screenshot("saved-page")


def test_a_finding_moves_all_views(saved):
    before = saved.run(RANGE.format(0))
    saved.run("document.querySelectorAll('.finding')[1].click()")
    assert saved.run("return document.getElementById('window-caption').textContent") == "All views show 2:48 to 3:22."
    after = saved.run(RANGE.format(0))
    assert after[1] - after[0] < 0.6 * (before[1] - before[0])
    saved.until(
        "return document.querySelectorAll('[data-chart]')[0]._fullData"
        ".some(t => t.name === 'shown window' && t.x.length > 20)"
    )
    assert saved.run("return document.querySelectorAll('button[data-window][aria-pressed=true]').length") == 2
    saved.run("[...document.querySelectorAll('button')].find(b => b.textContent === 'Whole run').click()")
    assert saved.run(RANGE.format(0)) == pytest.approx(
        before, rel=0.05
    )  # the axes fit the place that the legend leaves
    assert saved.complaints() == []


def test_a_piece_of_the_timeline_is_chosen_with_the_pointer(saved):
    from selenium.webdriver.common.action_chains import ActionChains

    bar = "document.querySelectorAll('[data-chart=\"1\"] .trace.bars')[3].querySelector('.point path')"
    saved.run(f"{bar}.scrollIntoView({{block: 'center', behavior: 'instant'}})")
    ActionChains(saved.driver).move_to_element(saved.run(f"return {bar}")).pause(0.3).click().perform()
    saved.until("return document.getElementById('window-caption').textContent !== 'All views show the whole run.'")
    assert saved.run("return document.getElementById('window-caption').textContent") == "All views show 2:48 to 3:03."


def test_the_debrief_leads_to_the_replay_and_offers_its_files(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", 5)
    files = page.run("return [...document.querySelectorAll('.run-files a')].map(a => a.href.split('/').pop())")
    assert files == ["sheet.pdf", "debrief.html", "account.csv", "timeline.csv", "measures.csv", "measures.json"]
    page.run("[...document.querySelectorAll('a')].find(a => a.textContent === 'Replay').click()")
    page.until("return document.getElementById('replay')?.player !== undefined")
