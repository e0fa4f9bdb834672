"""The replay in a browser: it runs without the server, by keyboard and by pointer, and its frames are counted."""

import sys

import pytest

pytestmark = pytest.mark.browser

AT = "return document.getElementById('replay').player.now"
TEXT = "return document.querySelector('.replay-{}').textContent"
PIXELS = """
const c = document.querySelector('.replay-plan'), d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
let dark = 0; for (let i = 0; i < d.length; i += 4) { if (d[i] < 60 && d[i + 1] < 80) { dark += 1; } } return dark;
"""
COUNT = """
const done = arguments[arguments.length - 1], stamps = [], begin = performance.now();
const player = document.getElementById('replay').player;
player.frames = {count: 0, work: 0};
(function tick(t) {
  stamps.push(t);
  if (performance.now() - begin < 5000) { requestAnimationFrame(tick); } else {
    const gaps = stamps.slice(2).map((t, i) => t - stamps[i + 1]).sort((a, b) => a - b);
    done({frames: gaps.length, mean: gaps.reduce((a, b) => a + b) / gaps.length,
          late: gaps[Math.floor(0.95 * gaps.length)], drawn: player.frames.count,
          work: player.frames.work / player.frames.count});
  }
})(begin);
"""


def ready(page, address, query=""):
    page.open(f"{address}/replay/lower_bowl/mara-1{query}")
    page.until("return document.getElementById('replay').player !== undefined")
    page.until("return document.querySelector('dd.replay-time').textContent.includes('of 10:00')")


def press(page, key):
    from selenium.webdriver.common.action_chains import ActionChains

    ActionChains(page.driver).send_keys(key).perform()


def test_it_runs_without_asking_the_server_and_its_frames_are_counted(page, address, capsys):
    ready(page, address, "?at=60.0&speed=8")
    page.driver.set_script_timeout(30)
    page.run("document.querySelector('.replay-play').click()")
    page.requests()
    seen = page.driver.execute_async_script(COUNT)
    assert page.requests() == []
    assert page.run(AT) > 60.0 + 20.0
    assert seen["drawn"] > 30
    with capsys.disabled():
        sys.stdout.write(
            f"\nreplay of 10 min at {page.width} px: {1000 / seen['mean']:.1f} frames/s, 95 % of gaps under "
            f"{seen['late']:.1f} ms, {seen['work']:.2f} ms of drawing a frame ({seen['drawn']} frames)\n"
        )
    page.run("document.querySelector('.replay-play').click()")
    page.screenshot("replay")
    assert page.complaints() == []


def test_it_is_driven_by_the_keyboard(page, address):
    from selenium.webdriver.common.keys import Keys

    ready(page, address, "?at=100.0")
    press(page, Keys.ARROW_RIGHT)
    assert page.run(AT) == pytest.approx(101.0)
    press(page, Keys.ARROW_LEFT)
    press(page, Keys.ARROW_LEFT)
    assert page.run(AT) == pytest.approx(99.0)
    press(page, Keys.SPACE)
    page.until("return document.getElementById('replay').player.running")
    page.until("return document.getElementById('replay').player.now > 100.5")
    press(page, Keys.SPACE)
    page.until("return !document.getElementById('replay').player.running")
    press(page, Keys.END)
    assert page.run(AT) == pytest.approx(600.0)
    press(page, Keys.HOME)
    assert page.run(AT) == 0.0


def test_what_is_shown_changes_with_the_moment(page, address):
    ready(page, address, "?at=0")
    page.until("return document.querySelector('dd.replay-phase').textContent === 'Signal search, A'")
    first = page.run(PIXELS)
    assert first > 50
    ready(page, address, "?at=232.0&view=12&start=phase")
    page.until("return document.querySelector('dd.replay-phase').textContent === 'Fine search, A'")
    reading = float(page.run(TEXT.format("reading")).split(",")[0])
    assert 0.5 < reading < 6.0
    assert page.run(TEXT.format("known")).endswith(" m")
    assert page.run(TEXT.format("reference")).startswith("Fine search")
    assert page.run(PIXELS) != first
    page.screenshot("replay-close")


def test_the_address_keeps_the_moment(page, address):
    ready(page, address, "?at=232.0&view=40")
    page.run("document.querySelector('.replay-step').click()")
    assert page.run("return location.search") == "?at=233.0&speed=4&view=40&start=run"
    page.driver.refresh()
    page.until("return document.getElementById('replay')?.player?.now === 233")
    assert page.run("return document.querySelector('select.replay-view').value") == "40"


@pytest.mark.parametrize("query", ["?at=nonsense&speed=99", "?at=1e9", "?at=-5&view=%3Cb%3E"])
def test_a_strange_address_is_harmless(page, address, query):
    ready(page, address, query)
    assert 0.0 <= page.run(AT) <= 600.0
    assert page.run("return document.querySelector('select.replay-speed').value") == "4"
    assert page.complaints() == []


def test_leaving_the_page_ends_the_replay(page, address):
    ready(page, address)
    page.run("window.kept = document.getElementById('replay').player; document.querySelector('.replay-play').click()")
    page.run("[...document.querySelectorAll('a')].find(a => a.textContent.includes('debrief')).click()")
    page.until("return document.querySelectorAll('.js-plotly-plot .subplot.xy').length === 5")
    count = page.run("return window.kept.frames.count")
    page.until("return document.querySelector('main h1').textContent === 'Mara Fennick'")
    assert page.run("return window.kept.frames.count") == count


FILM = "return document.querySelector('.replay-film').film"
APART = (
    FILM + ".video.currentTime - (" + AT.removeprefix("return ") + " - (" + FILM.removeprefix("return ") + ".offset))"
)


def test_a_film_of_this_machine_plays_in_step_and_is_never_sent(page, address, film):
    from selenium.webdriver.common.keys import Keys

    ready(page, address, "?at=100.0&speed=1")
    page.run("localStorage.clear()")
    page.until("return document.querySelector('.replay-film')?.film !== undefined")
    page.run("document.querySelector('.replay-film summary').click()")
    page.requests()
    page.until("return document.querySelector('.replay-film input[type=file]')").send_keys(str(film))
    page.until(FILM + ".video.readyState >= 2")
    page.run(FILM.removeprefix("return ") + ".video.currentTime = 2.5")
    page.until(FILM + ".video.currentTime > 2.4 && !" + FILM.removeprefix("return ") + ".video.seeking")
    page.run(
        "[...document.querySelectorAll('.replay-film button')].find(b => b.textContent.startsWith('This')).click()"
    )
    assert page.run("return Number(localStorage.getItem('film-offset:lower_bowl/mara-1'))") == pytest.approx(
        97.5, abs=0.01
    )
    assert page.run(FILM + ".said.textContent").startswith("In step: the film begins at 1:37.5 of the run.")
    page.run("document.activeElement.blur()")
    press(page, Keys.ARROW_RIGHT)
    page.until("return Math.abs(" + APART.removeprefix("return ") + ") < 0.06")
    assert page.run(FILM + ".video.currentTime") == pytest.approx(3.5, abs=0.06)
    press(page, Keys.SPACE)
    page.until(AT + " > 102.5")
    assert page.run(FILM + ".video.paused") is False
    assert abs(page.run(APART)) < 0.3
    press(page, Keys.SPACE)
    page.until(FILM + ".video.paused")
    assert page.run(FILM + ".corrections") < 12
    asked = page.requests()
    assert [url for url in asked if not url.startswith(("blob:", "data:image/"))] == []  # pictures of the player
    page.screenshot("replay-film")
    assert page.complaints() == []
    ready(page, address, "?at=104.0")
    page.until("return document.querySelector('.replay-film')?.film?.offset")
    assert page.run(FILM + ".offset") == pytest.approx(97.5, abs=0.01)
    page.run("localStorage.clear()")


def test_the_log_typed_from_the_film_sets_it_in_step(page, address):
    ready(page, address)
    page.until("return document.querySelector('.replay-film')?.film !== undefined")
    page.run(
        "const r = document.getElementById('replay').player.data.readings;"
        "localStorage.setItem('film-log:lower_bowl/mara-1', JSON.stringify({source: 'film', rows:"
        " r.t.map((t, i) => ({id: i, kind: 'reading', t: t - 31.4, value: String(r.value[i])}))}))"
    )
    page.run(FILM.removeprefix("return ") + ".byLog()")
    assert page.run(FILM + ".offset") == pytest.approx(31.4, abs=0.01)
    page.run('localStorage.setItem(\'film-log:lower_bowl/mara-1\', \'{"source": "film", "rows": []}\')')
    page.run(FILM.removeprefix("return ") + ".byLog()")
    assert page.run(FILM + ".said.textContent").startswith("No log typed from a film")
    page.run("localStorage.clear()")
