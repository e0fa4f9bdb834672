"""Damaged requests, byte by byte, against the pages for phones as they are served.

`python -m tests.attacks.phone_bytes --requests 3000 --seed 1`; what was answered with an error of the server is shown
with the number of its request, and what the server told on the terminal.
"""

import argparse
import contextlib
import logging
import random
import socket
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from dashboard.config import PHONE_COOKIE
from dashboard.server.listen import free_socket, phones_server_of

FORM = b'--zz\r\nContent-Disposition: form-data; name="files"; filename="a.gpx"\r\n\r\n<gpx></gpx>\r\n--zz--\r\n'
JOIN = b"code=AAAAAAAA&name=A&agreed=1"
JUNK = (
    b"\x00", b"\xff", b"\r\n", b"\n", b"\r", b" ", b";", b"%00", b"=", b"a" * 3000, b"\xe2\x80\xae",
    b"Content-Length: -1\r\n", b"Content-Length: 99999999999999999999\r\n", b"Transfer-Encoding: chunked\r\n",
    b"Transfer-Encoding: gzip, chunked\r\n", b"Host: evil.example\r\n", b"Expect: 100-continue\r\n",
    b"Cookie: " + b"a=b; " * 2000 + b"\r\n", b"Range: bytes=0-\r\n", b"Accept-Encoding: gzip;q=nan\r\n",
)  # fmt: skip
ANSWER_S = 0.2
"""Seconds for which an answer is waited for: a request that was cut short waits for its rest."""
SHOWN = 20


def main() -> int:
    """Attack as the arguments say; return 1 where a request made the server itself fail."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    told = _Told()
    for name in ("waitress", "searchwake.dashboard"):
        logging.getLogger(name).addHandler(told)
    with (
        tempfile.TemporaryDirectory(prefix="searchwake-phones-") as folder,
        served_phones(Path(folder)) as (port, token),
    ):
        answers, failures = attacked(port, token, arguments.requests, random.Random(arguments.seed))
        last = answer_to(port, requests_of(port, token)[0])
    failures += [f"the server told: {line}" for line in told.lines]
    failures += [] if last == "200" else [f"in the end a whole request is answered {last}"]
    say = sys.stdout.write
    say("".join(f"{line}\n" for line in failures[:SHOWN]))
    counts = ", ".join(f"{count} {status}" for status, count in answers.most_common())
    say(f"{arguments.requests} requests, {len(failures)} failures, seed {arguments.seed}: {counts}\n")
    return 1 if failures else 0


class _Told(logging.Handler):
    """Keeps the errors that the server tells."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep its line."""
        self.lines.append(f"{record.getMessage()} {record.exc_info[1] if record.exc_info else ''}")


@contextlib.contextmanager
def served_phones(workspace: Path) -> Iterator[tuple[int, str]]:
    """Serve the pages for phones over an empty workspace; give their port and the token of a phone that is in."""
    from dashboard.server.phones.app import phones_app
    from dashboard.services.intake import Intake
    from dashboard.services.phones.phones import Phones
    from dashboard.services.results import Service

    listening, results = free_socket(18800), workspace / "results"
    address = f"http://127.0.0.1:{listening.getsockname()[1]}/"
    phones = Phones(workspace, Intake(workspace, results), Service(results), address)
    server = phones_server_of(phones_app(phones), listening, lets_in=phones.lets_in)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield listening.getsockname()[1], phones.join(phones.code(), "Ana", agreed=True)
    finally:
        server.close()
        thread.join(timeout=10)


def requests_of(port: int, token: str) -> list[bytes]:
    """Return whole requests, as a browser sends them: a page, a way in, a form with a file."""
    host = f"Host: 127.0.0.1:{port}\r\n".encode()
    own = host + f"Cookie: {PHONE_COOKIE}={token}\r\n".encode()
    plain, many = b"application/x-www-form-urlencoded", b"multipart/form-data; boundary=zz"
    return [
        b"GET /mine HTTP/1.1\r\n" + own + b"\r\n",
        b"GET /debrief/lower_bowl/own HTTP/1.1\r\n" + own + b"\r\n",
        _form(b"/join", host, plain, JOIN),
        _form(b"/hand-in", own, many, FORM),
    ]


def _form(path: bytes, head: bytes, kind: bytes, body: bytes) -> bytes:
    size = str(len(body)).encode()
    lines = b"Content-Type: " + kind + b"\r\nContent-Length: " + size + b"\r\n\r\n"
    return b"POST " + path + b" HTTP/1.1\r\n" + head + lines + body


def attacked(port: int, token: str, count: int, chance: random.Random) -> tuple[Counter[str], list[str]]:
    """Send damaged requests; return how many had which answer, and a line for each that made the server fail."""
    answers, failures, whole = Counter[str](), [], requests_of(port, token)
    for number in range(count):
        data = bytearray(chance.choice(whole))
        for _ in range(chance.choice((1, 1, 2, 4))):
            _damage(data, chance)
        status = answer_to(port, bytes(data) or b"\r\n")
        answers[status] += 1
        if status.startswith("5") and status != "501":  # a transfer coding that nobody knows, RFC 9112 section 6.1
            failures.append(f"request {number}: answered {status}: {bytes(data[:120])!r}")
    return answers, failures


def _damage(data: bytearray, chance: random.Random) -> None:
    values = [i + 2 for i in range(len(data)) if data[i : i + 2] == b": "]  # what stands in a header reaches the pages
    at, how = chance.randrange(len(data) or 1), chance.random()
    if values and chance.random() < 0.5:
        at = min(chance.choice(values) + chance.randrange(12), len(data) - 1)
    if how < 0.3 and data:
        data[at] = chance.randrange(256)
    elif how < 0.7:
        data[at:at] = chance.choice(JUNK)
    elif how < 0.85:
        del data[at : at + chance.randrange(1, 20)]
    else:
        del data[at:]


def answer_to(port: int, data: bytes) -> str:
    """Send bytes and return the status of the answer, "none" where there is none."""
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=10) as one:
            one.sendall(data)
            one.settimeout(ANSWER_S if data.count(b"\r\n\r\n") == 0 else 1.0)
            return one.recv(200)[9:12].decode("latin-1") or "none"
    except OSError:
        return "none"


if __name__ == "__main__":
    sys.exit(main())
