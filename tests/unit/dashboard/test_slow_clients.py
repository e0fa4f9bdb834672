"""Clients that never finish what they ask: they wait, and everybody else is answered."""

import contextlib
import socket
import threading
import urllib.request

import pytest

from dashboard.server.listen import free_socket, server_of

HALF_OPEN = 160
"""More than the hundred at which the server took nobody any more before 2026-11-27."""
HALF_A_HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
HALF_A_BODY = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5000\r\n\r\nx"


def application(environ, start):
    start("200 OK", [("Content-Type", "text/plain")])
    return [b"here"]


@pytest.fixture
def port():
    listening = free_socket(18750)
    server = server_of(application, listening)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield listening.getsockname()[1]
    server.close()
    thread.join(timeout=10)


@pytest.mark.parametrize("half", [HALF_A_HEAD, HALF_A_BODY], ids=["head", "body"])
def test_clients_that_never_finish_take_nobodys_place(port, half):
    with contextlib.ExitStack() as held:
        for _ in range(HALF_OPEN):
            one = held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
            one.sendall(half)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10) as answer:
            assert answer.read() == b"here"
