"""What a stranger on the network cannot do before any page is asked: send large forms, hold all connections.

The web server stores a form before a page sees it, so that a phone that is let in has to be told from others by then.
"""

from collections.abc import Callable
from typing import Any

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.utilities import Error
from werkzeug.http import parse_cookie

from dashboard.config import PHONE_COOKIE

STRANGER_BYTES = 1_000_000
"""Of a form sent without being let in: whose day is over gets a page that says so, and not a broken connection."""
CONNECTIONS_OF_ONE = 24
"""Of one address; our choice: four times the 6 that a browser opens to one host, so that it takes several addresses to
hold all connections."""
LetsIn = Callable[[str], bool]


def keep_door(server: Any, lets_in: LetsIn) -> None:
    """Let a server of waitress receive large forms only of phones that are let in, and share out its connections.

    `lets_in`: says whether a token is that of a phone.
    """

    def parser(adjustments: Any) -> _Parser:
        return _Parser(adjustments, lets_in)

    channel = type("Channel", (HTTPChannel,), {"parser_class": staticmethod(parser)})

    def accept(server: Any, connection: Any, address: Any, adjustments: Any, map: dict[Any, Any]) -> None:
        held = sum(isinstance(one, HTTPChannel) and one.addr[0] == address[0] for one in list(map.values()))
        if held >= CONNECTIONS_OF_ONE:
            connection.close()
        else:
            channel(server, connection, address, adjustments, map=map)

    server.channel_class = accept


class _ComeInFirstError(Error):  # type: ignore[misc]  # waitress has no types
    code, reason = 401, "Unauthorized"


class _Parser(HTTPRequestParser):  # type: ignore[misc]
    """Reads a request as its library does, but no large form of who is not let in."""

    path = ""
    """Of a request that could not be read: the library names it in its log, and has none."""

    def __init__(self, adjustments: Any, lets_in: LetsIn) -> None:
        super().__init__(adjustments)
        self._lets_in = lets_in

    def received(self, data: bytes) -> int:
        """Take bytes that came; return how many were used."""
        began = self.headers_finished
        used: int = super().received(data)
        refused = getattr(self, "error", None)
        if self.headers_finished and not began and refused is None and self._is_too_much():
            line = "Come in with the code that the coach's screen shows; then hand your files in once more."
            self.error, self.completed, self.expect_continue = _ComeInFirstError(line), True, False
        return used

    def _is_too_much(self) -> bool:
        if not self.chunked and self.content_length <= STRANGER_BYTES:
            return False
        return not self._lets_in(parse_cookie(self.headers.get("COOKIE", "")).get(PHONE_COOKIE, ""))
