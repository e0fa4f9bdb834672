"""Where the dashboard listens, and how many may ask it at once."""

import errno
import os
import socket
from typing import Any

from analyzer.errors import InputError
from dashboard.config import LOOPBACK
from dashboard.services.intake import MAX_UPLOAD

PORTS_TRIED = 20
THREADS = 12
"""Our choice: twice what one browser asks at once; a file that is taken in holds one of them until it is recognised."""
MOST_CONNECTIONS = 600
"""Our choice: twice the 256 that a browser opens at once, whatever it shows (the limit of Chromium's socket pool), and
what the usual 1024 open files of a process leave room for. Clients that never finish what they ask wait in them and
take no thread; above this number, further ones wait until some are closed."""
IDLE_S = 60
"""Seconds without a byte after which a connection is closed; our choice: no browser on this machine pauses so long."""
FORM_BYTES = 1_000_000


def server_of(application: Any, listening: socket.socket) -> Any:
    """Return the server of a WSGI application on a socket that listens; `run()` serves, `close()` ends it."""
    import waitress

    return waitress.create_server(
        application,
        sockets=[listening],
        threads=THREADS,
        ident=None,
        max_request_body_size=MAX_UPLOAD + FORM_BYTES,
        connection_limit=MOST_CONNECTIONS,
        channel_timeout=IDLE_S,
        asyncore_use_poll=True,  # select() knows no more than 1024 open files, and fewer elsewhere
    )


def free_socket(first: int) -> socket.socket:
    """Return a socket bound to the first free loopback port from `first` on.

    Raises
    ------
    InputError
        Where none of the next ports is free.
    """
    last = min(first + PORTS_TRIED - 1, 65535)
    for port in range(first, last + 1):
        candidate = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # else a port stays closed for a minute after a stop; elsewhere this would share it
            candidate.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            candidate.bind((LOOPBACK, port))
            candidate.listen(64)
        except OSError as error:
            candidate.close()
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise
        else:
            return candidate
    raise InputError(
        where=f"--port {first}",
        what=f"the ports {first} to {last} are all in use or closed to us",
        do="give another --port",
    )
