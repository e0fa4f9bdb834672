"""Speed of the season pages with 500 runs: `python -m benchmarks.season [--keep DIR]`.

Makes 500 runs of the invented season from three seeds in one workspace, measures and indexes it, and asks the server in
process for both pages, with the database and from the result files alone. `--keep`: where the workspace stays, so that
a second call need not make it again. Printed are the first answer, nothing kept from before, and the median of nine.
"""

import argparse
import gzip
import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from analyzer.lab.simulate.season import STAYS, people_of_club, season_drills
from analyzer.lab.simulate.write import write_drill, write_run
from analyzer.workspace.database.index import index_workspace
from analyzer.workspace.people.people_toml import people_bytes

RUNS, SEEDS, ROUNDS = 500, (0, 1, 2), 9
PAGES = ("/season", f"/season/{STAYS.replace(' ', '%20')}")


def made(workspace):
    """Write and index the workspace, unless it is there."""
    if (workspace / "searchwake.db").exists():
        return
    left = RUNS
    for seed in SEEDS:
        for one in season_drills(seed):
            starters = one.starters[:left]
            if not starters:
                break
            folder = workspace / "drills" / f"{one.folder}_{seed}"
            write_drill(folder, one.drill)
            for run in replace(one, starters=starters).runs():
                write_run(folder, one.drill, run, truth_step_s=5.0)
            left -= len(starters)
    (workspace / "people.toml").write_bytes(people_bytes(people_of_club()))
    begin = time.perf_counter()
    report = index_workspace(workspace, jobs=2)
    print(f"indexed {report.runs} runs in {time.perf_counter() - begin:.0f} s")


def client_of(workspace, *, indexed):
    """Return a client of a dashboard over the results; `indexed`: with the database at hand."""
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    _pages.PAGE_REGISTRY.clear()
    return create_app(Config(workspace / "results", workspace=workspace if indexed else None)).server.test_client()


def ask(client, path):
    """Return the milliseconds and bytes of the answer with a page's content, as the browser asks for it."""
    body = {
        "output": ".._pages_content.children..._pages_store.data..",
        "outputs": [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}],
        "inputs": [
            {"id": "_pages_location", "property": "pathname", "value": path},
            {"id": "_pages_location", "property": "search", "value": ""},
        ],
        "changedPropIds": ["_pages_location.pathname"],
    }
    begin = time.perf_counter()
    answer = client.post("/_dash-update-component", json=body, headers={"Accept-Encoding": "gzip"})
    spent = 1e3 * (time.perf_counter() - begin)
    packed = answer.headers.get("Content-Encoding") == "gzip"
    content = (gzip.decompress(answer.data) if packed else answer.data).decode()
    assert answer.status_code == 200, content[:300]
    assert path == "/" or "cost" in content, content[:300]
    return spent, len(answer.data)


def forget():
    """Empty what the process keeps between answers."""
    from analyzer.files.hashes import forget_hashes
    from dashboard.services import seasons

    for kept in (seasons._kept_known, seasons._line_of, seasons._season):
        kept.cache_clear()
    forget_hashes()


def main():
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--keep", type=Path)
    workspace = parser.parse_args().keep or Path(tempfile.mkdtemp())
    workspace.mkdir(parents=True, exist_ok=True)
    made(workspace)
    number = sum(1 for _ in (workspace / "results").glob("*/*.json"))
    for indexed in (True, False):
        client = client_of(workspace, indexed=indexed)
        ask(client, "/")
        for path in PAGES:
            forget()
            first, size = ask(client, path)
            again = statistics.median(ask(client, path)[0] for _ in range(ROUNDS))
            print(
                f"{number} runs, {'indexed' if indexed else 'files alone'}, {path}: first answer {first:.0f} ms, "
                f"then {again:.0f} ms, {size / 1e3:.0f} kB"
            )


if __name__ == "__main__":
    main()
