"""Pages of another site in a real browser: what they can read, change and show of the dashboard, which is nothing.

Sources: DNS rebinding as described by Jackson et al., "Protecting Browsers from DNS Rebinding Attacks" (CCS 2007);
framing: RFC 7034 (X-Frame-Options) and CSP Level 3, frame-ancestors.
"""

import http.server
import json
import shutil
import threading
from urllib.parse import urlsplit

import pytest
from event_builder import make_event

from analyzer.files.results.result_json import write_result
from analyzer.files.source import sha256_hex
from dashboard import ids
from dashboard.config import Config
from dashboard.view_models.drill_form import example

FOREIGN = "elsewhere.example"
SECRET = "Mara Fennick"
"""A name that stands in the results."""
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def club(tmp_path_factory, make_result):
    workspace = make_event(tmp_path_factory.mktemp("attacked")).parents[1]
    write_result(workspace / "results" / "lower_bowl" / "mara-1.json", make_result())
    return workspace


@pytest.fixture(scope="module")
def home(club, serve):
    """Return the address of a dashboard over a workspace with a result and two drills."""
    with serve(Config(club / "results", rules=club / "rules", workspace=club), port=18760) as address:
        yield address


class Elsewhere(http.server.BaseHTTPRequestHandler):
    """Serves an attacker's page: whatever the address, the page that was put into `page`."""

    page = ""

    def do_GET(self):
        data = self.page.encode()
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def log_message(self, *_):
        """Say nothing."""


@pytest.fixture(scope="module")
def attacker():
    """Return a function that puts a page up under a foreign name and returns its address."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere)
    threading.Thread(target=server.serve_forever, daemon=True).start()

    def put(page):
        Elsewhere.page = page
        return f"http://{FOREIGN}:{server.server_port}/"

    yield put
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def browser(driver, tmp_path_factory):
    """Return a browser of its own, to which the foreign name is this machine: the end of a rebinding."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    flags = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
    for flag in (*flags, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(flag)
    options.add_argument(f"--host-resolver-rules=MAP {FOREIGN} 127.0.0.1")
    made = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
    made.set_script_timeout(20)
    yield made
    made.quit()


FETCH = """
const [address, settings, done] = [arguments[0], arguments[1], arguments[2]];
fetch(address, settings).then(async a => done([a.status, a.type, await a.text()]), e => done([0, "error", String(e)]));
"""


def fetched(browser, address, **settings):
    """Return status, type and text of what a script of the present page can read of an address."""
    return browser.execute_async_script(FETCH, address, settings)


def save_body(club, *, origin):
    """Return the body by which the Lay out page saves the drill `gully`, with another name in it."""
    data = (club / "drills" / "gully" / "drill.toml").read_bytes()
    button, new = ids.lay_save("own"), ids.lay_save("new")
    key, new_key = (json.dumps(b, sort_keys=True, separators=(",", ":")) for b in (button, new))
    form = example("2026-02-14") | {"name": f"Saved by {origin}"}
    fields = [{"id": ids.lay_field(k), "property": "value", "value": v} for k, v in form.items()]
    outputs = [(ids.LAY_SAVED, "children"), (ids.LAY_REF, "data"), (new, "hidden")]
    reference = {"id": ids.LAY_REF, "property": "data", "value": ["gully", sha256_hex(data)]}
    return json.dumps(
        {
            "output": f"..{ids.LAY_SAVED}.children...{ids.LAY_REF}.data...{new_key}.hidden..",
            "outputs": [{"id": i, "property": p} for i, p in outputs],
            "inputs": [[{"id": button, "property": "n_clicks", "value": 1}]],
            "changedPropIds": [f"{key}.n_clicks"],
            "state": [reference, fields],
        }
    )


def stored(club):
    return {p: p.read_bytes() for p in club.rglob("*") if p.is_file()}


def test_our_own_page_reads_and_saves(browser, home, club):
    """What the attacks below ask for is there, and is given to the dashboard's own pages."""
    browser.get(home)
    status, _, text = fetched(browser, f"{home}/take/lower_bowl/mara-1/debrief.html")
    assert (status, SECRET in text) == (200, True)
    body, headers = save_body(club, origin="home"), {"Content-Type": "application/json"}
    drill = club / "drills" / "gully" / "drill.toml"
    shutil.rmtree(drill.parent / "runs")  # a drill with runs asks first
    status, _, text = fetched(browser, f"{home}/_dash-update-component", method="POST", body=body, headers=headers)
    assert (status, "Saved: drills" in text) == (200, True), text
    assert "Saved by home" in drill.read_text()


@pytest.mark.parametrize("path", ["/", "/take/lower_bowl/mara-1/debrief.html", "/_dash-layout", "/assets/look.css"])
def test_a_rebound_name_reads_nothing(browser, home, path):
    """To the browser it is one site, so that no rule of its own stands in the way."""
    from selenium.webdriver.support.ui import WebDriverWait

    port = urlsplit(home).port
    browser.get(f"http://{FOREIGN}:{port}/")
    refused = "not asked by a page of this dashboard"
    WebDriverWait(browser, 20.0).until(lambda found: refused in found.page_source)  # a plain text is shown bit by bit
    status, kind, text = fetched(browser, path)
    assert (status, kind) == (403, "basic")
    assert text == "This was not asked by a page of this dashboard.\n"


def test_a_rebound_name_saves_nothing(browser, home, club):
    before = stored(club)
    browser.get(f"http://{FOREIGN}:{urlsplit(home).port}/")
    body, headers = save_body(club, origin="elsewhere"), {"Content-Type": "application/json"}
    answer = fetched(browser, "/_dash-update-component", method="POST", body=body, headers=headers)
    assert answer[0] == 403
    assert fetched(browser, "/take-in?batch=AAAABBBBCCCC&name=a.csv", method="POST", body="x")[0] == 403
    assert stored(club) == before


@pytest.mark.parametrize("mode", ["cors", "no-cors"])
def test_another_site_reads_and_saves_nothing(browser, home, club, attacker, mode):
    before = stored(club)
    browser.get(attacker("<!DOCTYPE html><title>x</title><p>another site"))
    status, _, text = fetched(browser, f"{home}/take/lower_bowl/mara-1/debrief.html", mode=mode)
    assert status == 0
    assert SECRET not in text
    body = save_body(club, origin="elsewhere")
    for address in ("/_dash-update-component", "/take-in?batch=AAAABBBBCCCC&name=a.csv"):
        kind = {"Content-Type": "text/plain"}  # what a browser sends across sites without asking first
        assert fetched(browser, home + address, method="POST", mode=mode, body=body, headers=kind)[0] == 0
    assert stored(club) == before


def test_another_site_runs_and_shows_no_file_of_ours(browser, home, attacker):
    page = "<!DOCTYPE html><title>x</title><script>window.told = [];</script>"
    for number, tag in enumerate(("script", "img")):
        path = "assets/load.js" if tag == "script" else "take/lower_bowl/mara-1/sheet.pdf"
        told = f"onload=\"told[{number}]='loaded'\" onerror=\"told[{number}]='refused'\""
        page += f'<{tag} src="{home}/{path}" {told}></{tag}>'
    browser.get(attacker(page))
    from selenium.webdriver.support.ui import WebDriverWait

    WebDriverWait(browser, 20).until(lambda b: b.execute_script("return told.filter(x => x).length === 2"))
    assert browser.execute_script("return told") == ["refused", "refused"]


def test_a_page_that_frames_the_dashboard_shows_nothing_of_it(browser, home, attacker):
    frame = f'<iframe id="f" src="{home}/" onload="window.done = true"></iframe>'
    browser.get(attacker(f"<!DOCTYPE html><title>x</title>{frame}"))
    from selenium.webdriver.common.by import By
    from selenium.webdriver.support.ui import WebDriverWait

    WebDriverWait(browser, 20).until(lambda b: b.execute_script("return window.done"))
    browser.switch_to.frame(browser.find_element(By.ID, "f"))
    shown = browser.page_source
    browser.switch_to.default_content()
    assert "Searchwake" not in shown
    assert "_dash" not in shown


def test_not_even_a_page_of_its_own_frames_it(browser, home):
    """A page with a hole in it must not become one that frames the others."""
    browser.get(home)
    script = """
    const frame = document.createElement("iframe");
    frame.src = "/season"; frame.onload = () => arguments[0](frame.contentDocument === null);
    document.body.append(frame);
    """
    assert browser.execute_async_script(script) is True
