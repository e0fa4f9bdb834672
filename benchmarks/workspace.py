"""Speed of the workspace's index: `python -m benchmarks.workspace`, with SEARCHWAKE_DB for another database.

200 simulated runs of 25 drills: indexed, indexed again unchanged, indexed into a new database from their results, and
asked for their lines. Each is done once but the last; the first takes as long as it takes the engine to measure them.
"""

import os
import statistics
import tempfile
import time
from pathlib import Path

from analyzer.workspace.database.connection import opened
from analyzer.workspace.database.index import index_workspace
from analyzer.workspace.database.queries import run_lines
from benchmarks.engine import write_drills

DRILLS, RUNS, ROUNDS = 25, 8, 7


def timed(name, wanted, workspace):
    """Index and print how long it took, and what was done."""
    begin = time.perf_counter()
    report = index_workspace(workspace, jobs=2)
    spent = time.perf_counter() - begin
    print(
        f"{report.runs} runs, {name}: {spent:.2f} s{wanted}; {report.measured} measured, {report.read} read, "
        f"{len(report.failures)} failures"
    )


def main():
    """Print all figures."""
    with tempfile.TemporaryDirectory() as folder:
        workspace = Path(folder)
        write_drills(workspace / "drills", DRILLS, RUNS)
        timed("first pass", " (wanted under 15)", workspace)
        timed("second pass, unchanged", " (wanted under 1)", workspace)
        if not os.environ.get("SEARCHWAKE_DB"):
            (workspace / "searchwake.db").unlink()
            timed("database deleted", "", workspace)
        with opened(workspace) as store:
            times = []
            for _ in range(ROUNDS):
                begin = time.perf_counter()
                lines = run_lines(store)
                times.append(time.perf_counter() - begin)
        print(f"{len(lines)} lines of all runs: {1e3 * statistics.median(times):.0f} ms")


if __name__ == "__main__":
    main()
