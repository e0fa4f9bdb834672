"""Where the dashboard listens, and how many may ask it at once."""

import errno
import ipaddress
import os
import socket
from collections.abc import Callable
from typing import Any

import ifaddr

from analyzer.errors import InputError, quoted
from dashboard.config import LOOPBACK
from dashboard.services.intake import MAX_UPLOAD
from dashboard.services.phones.phones import HAND_IN_BYTES

PORTS_TRIED = 20
THREADS = 12
"""Our choice: twice what one browser asks at once; a file that is taken in holds one of them until it is recognised."""
MOST_CONNECTIONS = 600
"""Our choice: twice the 256 that a browser opens at once, whatever it shows (the limit of Chromium's socket pool), and
what the usual 1024 open files of a process leave room for. Clients that never finish what they ask wait in them and
take no thread; above this number, further ones wait until some are closed."""
PHONE_THREADS, PHONE_CONNECTIONS = 4, 100
"""Our choice: a group of thirty with two connections each, of which some wait."""
IDLE_S = 60
"""Seconds without a byte after which a connection is closed; our choice: no browser on this machine pauses so long."""
FORM_BYTES = 1_000_000


def server_of(application: Any, listening: socket.socket) -> Any:
    """Return the server of a WSGI application on a socket that listens; `run()` serves, `close()` ends it."""
    return _server(application, listening, threads=THREADS, most_bytes=MAX_UPLOAD + FORM_BYTES, most=MOST_CONNECTIONS)


def phones_server_of(application: Any, listening: socket.socket, *, lets_in: Callable[[str], bool]) -> Any:
    """Return the server of the pages for phones: smaller in everything than the dashboard's.

    `lets_in`: says whether a token is that of a phone that is let in.
    """
    from dashboard.server.phones.door import keep_door

    server = _server(
        application, listening, threads=PHONE_THREADS, most_bytes=HAND_IN_BYTES + FORM_BYTES, most=PHONE_CONNECTIONS
    )
    keep_door(server, lets_in)
    return server


def _server(application: Any, listening: socket.socket, *, threads: int, most_bytes: int, most: int) -> Any:
    import waitress

    return waitress.create_server(
        application,
        sockets=[listening],
        threads=threads,
        ident=None,
        max_request_body_size=most_bytes,
        connection_limit=most,
        channel_timeout=IDLE_S,
        asyncore_use_poll=True,  # select() knows no more than 1024 open files, and fewer elsewhere
    )


def own_address(wanted: str) -> str:
    """Return the address of this computer on its network: `wanted`, or the only one that it has.

    Raises
    ------
    InputError
        Where it has none or several, or `wanted` is none of them.
    """
    found = {str(ip.ip): adapter.nice_name for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4}
    usable = [ip for ip in found if not ipaddress.ip_address(ip).is_loopback]
    if wanted in found:
        return wanted
    if not wanted and len(usable) == 1:
        return usable[0]
    if not usable:
        what, do = ("this computer is in no network", "join the one that the phones are in, then start again")
    else:
        have = ", ".join(f"{ip} ({found[ip]})" for ip in usable)
        what = f"{quoted(wanted)} is no address of this computer" if wanted else "this computer is in several networks"
        do = f"give one of {have}"
    raise InputError(where="--network", what=what, do=do)


def free_socket(first: int, host: str = LOOPBACK) -> socket.socket:
    """Return a socket bound to the first free port from `first` on, on this machine alone or at another address of it.

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
            candidate.bind((host, port))
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
