"""Questions for everything that the pages for phones have registered, asked by a phone that is let in."""

import io
from collections.abc import Iterator
from typing import Any

from dashboard.config import PHONE_COOKIE
from tests.attacks.asked import Question
from tests.attacks.stored import SAMPLES

TRACK = (SAMPLES / "runs" / "mara-1" / "track.gpx").read_bytes()
RUN = ("lower_bowl", "mara-1")
PARTS = {"code": ("ABCDEFGH", "%00"), "drill": ("lower_bowl", "gully"), "run": ("mara-1", "ilo-1")}
SENT: dict[str, dict[str, Any]] = {
    "/join": {"code": "ABCDEFGH", "name": "Ilo Brandt", "agreed": "1"},
    "/hand-in": {"files": "more.csv"},
    "/leave": {},
}


def let_in(phones: Any) -> str:
    """Let a phone in whose track is that of a run, and return its token."""
    from dashboard.services.phones.phones import Sent

    token: str = phones.join(phones.code(), "Mara Fennick", agreed=True, named=True)
    device = phones.device(token)
    (handed,) = phones.hand_in(device, [Sent("track.gpx", len(TRACK), [TRACK])])
    phones.intake.close(handed.batch, "/".join(RUN))
    phones.hand_in(device, [Sent("waits.gpx", len(TRACK) + 1, [TRACK + b"\n"])])
    return token


def phone_questions(phones: Any, token: str) -> Iterator[Question]:
    """Yield a question for every address of the pages for phones.

    Raises
    ------
    SystemExit
        Where nobody says what is sent to one of them.
    """
    from dashboard.server.phones.app import phones_app

    app = phones_app(phones)
    for rule in app.url_map.iter_rules():
        if "GET" in rule.methods:
            for number in range(2 if rule.arguments else 1):
                parts = {part: PARTS[part][number] for part in rule.arguments}
                yield _asked(phones, app, token, "GET", rule.build(parts)[1], None)
        elif rule.rule not in SENT:
            raise SystemExit(f"nothing is sent to {rule.rule} of the pages for phones; add it to SENT")
        else:
            yield _asked(phones, app, token, "POST", rule.rule, SENT[rule.rule])


def _asked(phones: Any, app: Any, token: str, method: str, path: str, body: dict[str, Any] | None) -> Question:
    def ask(_: Any) -> Any:
        client = app.test_client()
        client.set_cookie(PHONE_COOKIE, token, domain="192.0.2.7")
        sent = None
        if body is not None:
            sent = {k: (io.BytesIO(TRACK), v) if k == "files" else v for k, v in body.items()}
        return client.open(
            path,
            method=method,
            base_url=phones.address,
            data=sent,
            content_type="multipart/form-data" if sent is not None else None,
        )

    return Question(f"phone {method} {path}", ask, changes=method == "POST")
