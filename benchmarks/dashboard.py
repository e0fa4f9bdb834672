"""Speed of the dashboard on a run of ten minutes: `python -m benchmarks.dashboard [part ...]`.

Parts: `answers` (what the server needs for each page and interaction, in process), `sheets` (previews of other rule
sheets), `runs` (the list of the 175 runs of a simulated season: server, bytes, and height of the page), `page`
(bytes and seconds until the first debrief is drawn in headless Chromium with an empty cache), `files` (what is taken
away). Medians are printed.
"""

import contextlib
import json
import shutil
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

from analyzer.files.rules_toml import default_rules
from analyzer.lab.simulate import DrillSettings, RunSettings, simulate_drill, simulate_run
from analyzer.lab.simulate.write import write_drill, write_run
from analyzer.workspace.batch import Batch, analyze_drills

ROUNDS = 9
RUNS = 3
TAKE = ("sheet.pdf", "debrief.html", "measures.csv", "measures.json")


def measured(root):
    """Write and measure a drill whose runs last about ten minutes, and return the drills and the results folder."""
    seed = next(seed for seed in range(400) if 570 <= _lasts(seed) <= 640)
    drill = simulate_drill(_settings(), seed=seed)
    place = root / "drills" / "slope"
    write_drill(place, drill)
    for number in range(RUNS):
        name = f"run-{number}"
        write_run(place, drill, simulate_run(drill, RunSettings(), seed=seed + number, run_id=name))
    analyze_drills([place], Batch(out=root / "results", rules=default_rules(), draws=64, seed=0))
    return root / "results"


def _settings():
    return DrillSettings(area_width_m=220.0, area_length_m=240.0)


def _lasts(seed):
    return simulate_run(simulate_drill(_settings(), seed=seed), RunSettings(), seed=seed).recording.track.time_s[-1]


def dashboard(results):
    """Return a dashboard over the results."""
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    _pages.PAGE_REGISTRY.clear()
    return create_app(Config(results, drills=(results.parent / "drills" / "slope",), rules=results.parent / "rules"))


def timed(ask):
    """Return the median milliseconds of an answer, the first ones left out, and its size in bytes, packed."""
    spent, size = [], 0
    for number in range(ROUNDS + 2):
        begin = time.perf_counter()
        answer = ask()
        spent.append(1e3 * (time.perf_counter() - begin))
        assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
        size = int(answer.headers.get("Content-Length", len(answer.data)))
        if number < 2:
            spent.clear()
    return statistics.median(spent), size


def asked(client, output, inputs, states, changed):
    """Return a function that asks for a callback as the browser does."""
    body = {
        "output": output,
        "outputs": _outputs(output),
        "inputs": inputs,
        "state": states,
        "changedPropIds": [changed],
    }
    head = {"Accept-Encoding": "gzip"}
    return lambda: client.post("/_dash-update-component", json=body, headers=head)


def _outputs(output):
    pairs = (
        [name.rsplit(".", 1) for name in output.strip(".").split("...")]
        if output.startswith("..")
        else [output.rsplit(".", 1)]
    )
    return [{"id": name, "property": prop} for name, prop in pairs]


def page_of(client, path, search=""):
    """Return a function that asks for a page by its address."""
    inputs = [
        {"id": "_pages_location", "property": "pathname", "value": path},
        {"id": "_pages_location", "property": "search", "value": search},
    ]
    return asked(client, ".._pages_content.children..._pages_store.data..", inputs, [], "_pages_location.pathname")


def answers(results):
    """Print what the server needs for each page and for the choice of a window."""
    app = dashboard(results)
    client = app.server.test_client()
    pages = {
        "list of runs": ("/", ""),
        "debrief": ("/run/slope/run-0", ""),
        "debrief in a window": ("/run/slope/run-0", "?from=60.0&to=90.0"),
        "replay": ("/replay/slope/run-0", ""),
        "three runs side by side": ("/side-by-side/slope", "?run=run-0&run=run-1&run=run-2&align=fine_search"),
        "rule sheet": ("/rules/slope", ""),
        "drill to lay out": ("/lay-out/slope", ""),
    }
    for name, (path, search) in pages.items():
        spent, size = timed(page_of(client, path, search))
        print(f"{name}: {spent:.0f} ms, {size / 1e3:.1f} kB packed (wanted under 150 ms)")
    spent, size = timed(window_of(client))
    print(f"choice of a window, all views: {spent:.0f} ms, {size / 1e3:.1f} kB packed (wanted under 150 ms)")
    for count in (1, 3, 6):
        spent, size = timed(lay_out_with(client, count))
        print(
            f"a field of a drill typed, {count} transmitters: {spent:.0f} ms, {size / 1e3:.1f} kB packed "
            "(wanted under 150 ms)"
        )


def sheets(results):
    """Print what previews of another rule sheet cost on the runs of the drill."""
    import dataclasses

    from dashboard.config import SHEETS_KEY
    from dashboard.services.rules import checked

    known = dashboard(results).server.config[SHEETS_KEY]
    rules = default_rules()
    other = checked(dataclasses.replace(rules, missed_s=200.0))
    print(
        f"other points, {RUNS} runs: {median_ms(lambda: known.by_points('slope', other)):.1f} ms (wanted under 150 ms)"
    )
    pace = checked(dataclasses.replace(rules, pinpoint_reference_s=10.0))
    print(
        f"other paces, measured again at the press of a button: "
        f"{median_ms(lambda: known.by_measuring('slope', pace)):.0f} ms"
    )
    radii = iter(range(1, 1000))
    again = median_ms(
        lambda: known.by_measuring(
            "slope", checked(dataclasses.replace(rules, fine_radius_m=3.0 + 0.001 * next(radii)))
        )
    )
    print(f"another radius, fitted and measured again at the press of a button: {again:.0f} ms")


def median_ms(do):
    """Return the median milliseconds of a call, after one to warm up."""
    do()
    spent = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        do()
        spent.append(1e3 * (time.perf_counter() - begin))
    return statistics.median(spent)


def window_of(client):
    """Return a function that moves all views of the debrief to a window."""
    from dashboard import ids

    def pattern(kind, prop):
        return [{"id": item, "property": prop} for item in kind]

    closeups = [ids.close_up(0)]
    buttons = [ids.show_window("finding", 0), ids.show_window("whole", 0)]
    places = [
        {"id": name, "property": prop}
        for name, prop in (
            (ids.SHOWN, "data"),
            (ids.CAPTION, "children"),
            (ids.TIMELINE, "figure"),
            (ids.OVER_TIME, "figure"),
            (ids.PLAN, "figure"),
        )
    ]
    every = {"type": ids.CLOSE_UP, "number": ["ALL"]}, {"type": ids.SHOW_WINDOW, "place": ["ALL"], "number": ["ALL"]}
    names = [json.dumps(item, sort_keys=True, separators=(",", ":")) for item in every]
    output = (
        f"..{ids.SHOWN}.data...{ids.CAPTION}.children...{ids.TIMELINE}.figure...{ids.OVER_TIME}.figure..."
        f"{ids.PLAN}.figure...{names[0]}.figure...{names[1]}.aria-pressed.."
    )
    body = {
        "output": output,
        "outputs": [*places, pattern(closeups, "figure"), pattern(buttons, "aria-pressed")],
        "inputs": [{"id": ids.ADDRESS, "property": "search", "value": "?from=60.0&to=90.0"}],
        "changedPropIds": [f"{ids.ADDRESS}.search"],
        "state": [
            {"id": ids.RUN_REF, "property": "data", "value": ["slope", "run-0"]},
            {"id": ids.SHOWN, "property": "data", "value": ""},
        ],
    }
    return lambda: client.post("/_dash-update-component", json=body, headers={"Accept-Encoding": "gzip"})


def lay_out_with(client, count):
    """Return a function that checks the form of a drill with some transmitters, as at every key typed."""
    from dashboard import ids
    from dashboard.view_models.drill_form import added, example

    form = example("2026-02-14")
    for number in range(1, count):
        form = added(
            form,
            east_m=str(8 * number),
            north_m=str(70 - 9 * number),
            depth_m="1",
            axis_bearing_deg="30",
            axis_tilt_deg="20",
        )
    every = json.dumps({"key": ["ALL"], "type": ids.LAY_ERROR}, separators=(",", ":"))
    places = [
        (ids.LAY_PLAN, "figure"),
        (ids.LAY_ANSWER, "children"),
        (ids.LAY_DETAILS, "children"),
        (ids.LAY_FILE, "children"),
        (ids.LAY_PICKS, "children"),
    ]
    output = ".." + "...".join([*(f"{name}.{prop}" for name, prop in places), f"{every}.children"]) + ".."
    fields = [{"id": ids.lay_field(key), "property": "value", "value": value} for key, value in form.items()]
    body = {
        "output": output,
        "outputs": [
            *({"id": name, "property": prop} for name, prop in places),
            [{"id": ids.lay_error(key), "property": "children"} for key in form],
        ],
        "inputs": [fields],
        "changedPropIds": [json.dumps(fields[0]["id"], separators=(",", ":")) + ".value"],
        "state": [{"id": ids.LAY_TARGET, "property": "data", "value": "start"}],
    }
    return lambda: client.post("/_dash-update-component", json=body, headers={"Accept-Encoding": "gzip"})


def files(results):
    """Print what the server needs for the files that are taken away."""
    client = dashboard(results).server.test_client()
    for name in TAKE:
        spent, size = timed(
            lambda name=name: client.get(f"/take/slope/run-0/{name}", headers={"Accept-Encoding": "gzip"})
        )
        print(f"{name}: {spent:.0f} ms, {size / 1e3:.0f} kB packed")


def runs(results):
    """Print what the list of a season's runs costs the server, and how high its page stands in Chromium."""
    from analyzer.lab.simulate.season import season_drills
    from analyzer.workspace.batch import Batch, analyze_drills

    root, drills = results.parent / "season", []
    for one in season_drills(5):
        drills.append(root / "drills" / one.folder)
        write_drill(drills[-1], one.drill)
        for run in one.runs():
            write_run(drills[-1], one.drill, run)
    analyze_drills(drills, Batch(out=root / "results", rules=default_rules(), draws=64, seed=0))
    app = dashboard(root / "results")
    for search in ("", "?page=3", "?find=ylva"):
        spent, size = timed(page_of(app.server.test_client(), "/", search))
        print(f"list of runs {search}: {spent:.0f} ms, {size / 1e3:.1f} kB packed (wanted under 150 ms)")
    with served(app) as address:
        for width in (1280, 390):
            print(f"its height at {width} px: {height_of(address, width)} px")


def height_of(address, width):
    """Return the height of a page in pixels once its rows are there."""
    browser = _browser()
    try:
        size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.get(address)
        while not browser.execute_script("return document.querySelectorAll('a.run').length > 0"):
            time.sleep(0.02)
        return browser.execute_script("return document.documentElement.scrollHeight")
    finally:
        browser.quit()


@contextlib.contextmanager
def served(app):
    """Serve a dashboard on loopback and give its address."""
    import waitress

    from dashboard.server.listen import free_socket

    listening = free_socket(18900)
    server = waitress.create_server(app.server, sockets=[listening], threads=6)
    threading.Thread(target=server.run, daemon=True).start()
    yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    server.close()


def page(results):
    """Print bytes and seconds of a first debrief in a browser that has nothing in its cache."""
    if not (shutil.which("chromium") and shutil.which("chromedriver")):
        print("chromium and chromedriver are not installed")
        return
    with served(dashboard(results)) as place:
        loads = [first_load(f"{place}/run/slope/run-0") for _ in range(4)]
    for name, (spent, size, count) in (
        ("very first, the server packs its files", loads[0]),
        ("median of the next three", sorted(loads[1:])[1]),
    ):
        print(
            f"first debrief, {name}: {spent:.2f} s, {size / 1e6:.2f} MB in {count} requests (wanted under 3 s and 2 MB)"
        )


DRAWN = "return document.querySelectorAll('.js-plotly-plot .subplot.xy').length >= 4"


def first_load(address):
    """Return seconds until all charts are drawn, bytes on the way, and requests, in a new browser."""
    browser = _browser()
    try:
        browser.get("about:blank")
        browser.get_log("performance")
        begin = time.perf_counter()
        browser.get(address)
        while not browser.execute_script(DRAWN):
            time.sleep(0.02)
        spent = time.perf_counter() - begin
        time.sleep(0.5)
        log = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
        sizes = [m["params"]["encodedDataLength"] for m in log if m["method"] == "Network.loadingFinished"]
        return spent, sum(sizes), len(sizes)
    finally:
        browser.quit()


def _browser():
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"performance": "ALL"})
    return webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))


def main():
    """Run the parts named on the command line, all by default."""
    parts = {"answers": answers, "sheets": sheets, "runs": runs, "page": page, "files": files}
    with tempfile.TemporaryDirectory() as folder:
        results = measured(Path(folder))
        for name in sys.argv[1:] or parts:
            print(f"-- {name}")
            parts[name](results)


if __name__ == "__main__":
    main()
