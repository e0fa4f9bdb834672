"""Memory of a served dashboard over many views and uploads: it must come to rest.

`python -m tests.attacks.memory --views 2000 --uploads 200` tells the resident memory along the way (Linux).
"""

import argparse
import json
import re
import sys
import tempfile
import urllib.request
from itertools import cycle
from pathlib import Path

from tests.attacks.asked import PAGES, TAKEN, page_addresses, page_body
from tests.attacks.heavy_upload import send
from tests.attacks.served import served
from tests.attacks.stored import BASKET, SAMPLES, make_workspace

VIEW_MARKS, UPLOAD_MARKS = (200, 500, 1000, 2000), (50, 100, 200)
MOST_GROWTH = 1.1
"""From the middle mark to the last one; what grows further has no bound."""


def main() -> int:
    """Measure; return 1 where memory goes on growing."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--views", type=int, default=2000)
    parser.add_argument("--uploads", type=int, default=200)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="searchwake-memory-") as folder:
        workspace = make_workspace(Path(folder) / "week")
        with served(workspace) as (address, pid):
            views = _views(address, pid, arguments.views)
            uploads = _uploads(address, pid, arguments.uploads)
    return int(any(len(found) > 2 and found[-1] > MOST_GROWTH * found[-3] for found in (views, uploads)))


def _views(address: str, pid: int, count: int) -> list[float]:
    pages = [(f"{address}{PAGES}", json.dumps(page_body(*page)).encode()) for page in page_addresses(BASKET, "x" * 64)]
    files = [(f"{address}/take/lower_bowl/mara-1/{name}", None) for name in TAKEN]
    found = []
    for number, (url, body) in zip(range(1, count + 1), cycle([*pages, *files]), strict=False):
        request = urllib.request.Request(url, body, {"Content-Type": "application/json"})
        with urllib.request.urlopen(request, timeout=60.0) as answer:
            answer.read()
        if number in VIEW_MARKS or number == count:
            found.append(_tell(pid, number, "views"))
    return found


def _uploads(address: str, pid: int, count: int) -> list[float]:
    """Send files that differ from each other, twenty to a load."""
    track = (SAMPLES / "runs" / "mara-1" / "track.gpx").read_bytes()
    found = []
    for number in range(1, count + 1):
        send(address, f"a{number}.gpx", track + b"<!-- %d -->" % number, batch=f"a-load-{number // 20:08d}")
        if number in UPLOAD_MARKS or number == count:
            found.append(_tell(pid, number, "uploads"))
    return found


def _tell(pid: int, number: int, what: str) -> float:
    """Say and return the resident memory of a process in MB; beside it, that of the process that reads files."""
    own, *others = [_resident_mb(one) for one in (pid, *_children(pid))]
    sys.stdout.write(f"after {number:5d} {what}: {own:.1f} MB, its own processes {sum(others):.1f} MB\n")
    sys.stdout.flush()
    return own + sum(others)


def _children(pid: int) -> list[int]:
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for task in tasks for child in task.read_text().split()]


def _resident_mb(pid: int) -> float:
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
    return int(found.group(1)) / 1024 if found else 0.0


if __name__ == "__main__":
    sys.exit(main())
