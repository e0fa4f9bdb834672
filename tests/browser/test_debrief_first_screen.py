"""The first screen of the debrief: what stands on it, and what a press on a loss does."""

import pytest

pytestmark = pytest.mark.browser

CHARTS = 5
SCREENS = {1280: 800, 390: 2 * 844}
"""Width -> height in which the answer stands: one screen of a laptop, two of a phone."""
BOTTOM = "const e = document.querySelector('{}'); return e && e.getBoundingClientRect().bottom + scrollY;"
TOP = "return document.querySelector('.plan-panel').getBoundingClientRect().top"


def test_splits_the_dearest_loss_and_the_plan_stand_on_the_first_screen(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    page.driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": page.width, "height": min(SCREENS[page.width], 844), "deviceScaleFactor": 1, "mobile": False},
    )
    page.until(f"return document.querySelector('#plan').getBoundingClientRect().width < {page.width}")
    screen = SCREENS[page.width]
    for part in (".split-strip", ".findings li:first-child .finding"):
        assert 0 < page.run(BOTTOM.format(part)) <= screen
    page.until(
        f"const e = document.querySelector('#plan'); return e.getBoundingClientRect().bottom + scrollY <= {screen}"
    )
    assert page.run("return document.querySelectorAll('.split').length") == 4


def test_numbers_on_the_plan_are_those_of_the_losses(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    said = page.run("return [...document.querySelectorAll('.loss-number')].map(e => e.textContent)")
    drawn = page.run("return [...document.querySelectorAll('#plan .annotation-text')].map(e => e.textContent)")
    assert said == ["1", "2", "3"]
    assert [text for text in drawn if text.isdigit()] == said


def test_a_press_on_a_loss_brings_the_plan_into_view(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    page.run("document.documentElement.style.scrollBehavior = 'auto'")
    page.run("document.querySelectorAll('.finding')[2].scrollIntoView({block: 'end'})")
    before = page.run(TOP)
    page.run("document.querySelectorAll('.finding')[2].click()")
    page.until("return location.search !== ''")
    page.until("return document.querySelectorAll('.finding')[2].getAttribute('aria-pressed') === 'true'")
    assert page.run(TOP) <= max(before, 1.0)
    place = "const top = document.querySelector('#plan').getBoundingClientRect().top;"
    seen = f"{place} return top >= 0 && top < innerHeight / 2"
    if page.width < 600:
        assert before > 844 / 2
    page.until(seen)


def test_details_are_folded_and_a_link_opens_them(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    assert page.run("return [...document.querySelectorAll('.debrief details')].some(d => d.open)") is False
    page.driver.get("about:blank")
    page.open(f"{address}/run/lower_bowl/mara-1#measures", CHARTS)
    page.until("return document.getElementById('measures').open")
    assert page.run("return document.getElementById('evidence').open") is False


def test_all_details_open_for_print_and_fold_again(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    page.run("dispatchEvent(new Event('beforeprint'))")
    assert page.run("return [...document.querySelectorAll('.debrief details')].every(d => d.open)")
    page.run("dispatchEvent(new Event('afterprint'))")
    assert page.run("return [...document.querySelectorAll('.debrief details')].some(d => d.open)") is False


def test_the_bars_of_the_account_lie_on_their_side_of_the_line(page, address):
    page.open(f"{address}/run/lower_bowl/mara-1", CHARTS)
    rows = page.run("""return [...document.querySelectorAll('.account-bars .step-room')].map(room => {
      const box = e => room.querySelector(e).getBoundingClientRect();
      const lost = room.parentElement.querySelector('.step-time').textContent.startsWith('+');
      return [lost, box('.step-bar').left - box('.step-zero').left, box('.step-bar').right - box('.step-zero').left];
    })""")
    assert len(rows) > 3
    assert all((left >= -1.5) if lost else (right <= 3.5) for lost, left, right in rows)
