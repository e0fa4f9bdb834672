"""Many clients that never finish what they ask, against a served dashboard: is a page still answered?

`python -m tests.attacks.slow_clients --clients 100` starts one, holds the clients open and tells how long pages take.
"""

import argparse
import contextlib
import json
import socket
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

from tests.attacks.asked import PAGES, page_body
from tests.attacks.served import served
from tests.attacks.stored import make_workspace

HALF_A_HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
HEAD_OF_A_BODY = (
    b"POST /take-in?batch=AAAABBBBCCCC&name=a.csv HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5000\r\n\r\n"
)
BODY = json.dumps(page_body("/season", "")).encode()
BYTE_EVERY_S = 1.0
GIVEN_UP_S = 60.0


@contextlib.contextmanager
def slow_clients(address: str, count: int) -> Iterator[None]:
    """Hold `count` connections open: half of them never end their headers, half send a body of a byte a second."""
    place = urlsplit(address)
    held = [socket.create_connection((place.hostname or "", place.port or 0), timeout=30.0) for _ in range(count)]
    for number, one in enumerate(held):
        one.sendall(HEAD_OF_A_BODY if number % 2 else HALF_A_HEAD)
    done = threading.Event()
    thread = threading.Thread(target=_drip, args=(held, done), daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()
        for one in held:
            one.close()


def _drip(held: list[socket.socket], done: threading.Event) -> None:
    while not done.wait(BYTE_EVERY_S):
        for one in held:
            with contextlib.suppress(OSError):
                one.sendall(b"x")


def main() -> int:
    """Measure; return 1 where a page took a second or more."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=100)
    parser.add_argument("--seconds", type=float, default=25.0)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="searchwake-slow-") as folder:
        workspace = make_workspace(Path(folder) / "week")
        with served(workspace) as (address, _), slow_clients(address, arguments.clients):
            until = time.monotonic() + arguments.seconds
            took = list(asked_until(address, lambda: time.monotonic() >= until))
    say = sys.stdout.write
    say(f"{arguments.clients} clients held open, {len(took)} pages: ")
    say(f"median {statistics.median(took):.3f} s, slowest {max(took):.3f} s\n")
    return 1 if max(took) >= 1.0 else 0


def asked_until(address: str, done: Callable[[], bool]) -> Iterator[float]:
    """Ask for a page again and again until something is done, and yield how long each took, seconds."""
    while not done():
        began = time.perf_counter()
        request = urllib.request.Request(f"{address}{PAGES}", BODY, {"Content-Type": "application/json"})
        with contextlib.suppress(TimeoutError), urllib.request.urlopen(request, timeout=GIVEN_UP_S) as page:
            page.read()
        yield time.perf_counter() - began
        time.sleep(0.2)


if __name__ == "__main__":
    sys.exit(main())
