"""Phones that were let in, on the disk: `incoming/devices.json`. A token itself is nowhere but on its phone."""

import dataclasses
import hashlib
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.json_codec import codec, structured
from analyzer.files.source import regular_bytes, write_atomic
from analyzer.workspace.intake.originals import storage_error
from analyzer.workspace.layout import DEVICES_FILE, INCOMING
from analyzer.workspace.lock import locked

CODEC = codec()
DEVICE_LIFE_S = 16 * 3600.0
"""Our choice: a day of practice and the evening after it; then a phone is let in anew."""
MOST_DEVICES = 200
"""Our choice: more people than one drill day has."""
DO = "let the phones in again: remove the file; what was handed in is kept"


@dataclass(frozen=True, slots=True)
class HandedIn:
    """A file that a phone sent. `size`: bytes, of a zip of what came out of it where that is more. `batch`: where it
    waits, a load of the workspace; `sha256`: of the files that came out of it, for others may be added to
    the load later. `line`: why it, or a part of it, was refused."""

    name: str
    at_s: float
    size: int
    batch: str = ""
    sha256: tuple[str, ...] = ()
    line: str = ""


@dataclass(frozen=True, slots=True)
class Device:
    """A phone that was let in. `token_sha256`: of the secret that it alone holds. `since_s`: seconds since 1970 UTC.

    `named`: its owner agrees to be named in lists that others see. `guardian`: a guardian agreed to all of it. `ended`:
    it is let in no more, and stands here while the coach has not looked over what it handed in.
    """

    id: str
    token_sha256: str
    name: str
    since_s: float
    named: bool = False
    guardian: bool = False
    ended: bool = False
    handed: tuple[HandedIn, ...] = ()


@dataclass(frozen=True, slots=True)
class Devices:
    """All phones of a workspace."""

    devices: tuple[Device, ...] = ()


def new_device(name: str, now_s: float, *, named: bool, guardian: bool) -> tuple[Device, str]:
    """Return a phone and the token that it holds from now on."""
    token = secrets.token_urlsafe(32)
    device = Device(secrets.token_hex(4), token_hash(token), name, now_s, named=named, guardian=guardian)
    return device, token


def token_hash(token: str) -> str:
    """Return what is kept of a token: it has 256 bits of chance, so that a plain hash cannot be turned back."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def read_devices(workspace: Path) -> Devices:
    """Return the phones of a workspace.

    Raises
    ------
    InputError
        Where the file is damaged or cannot be read.
    """
    path, name = _path(workspace), f"{INCOMING}/{DEVICES_FILE}"
    try:
        if not path.exists():
            return Devices()
        values = json.loads(regular_bytes(path) or b"")
    except (OSError, ValueError, RecursionError):
        raise InputError(where=name, what="the list of phones cannot be read", do=DO) from None
    return structured(CODEC, values, Devices, name=name, noun="the list of phones", do=DO)


def change_devices(workspace: Path, change: Callable[[Devices], Devices]) -> Devices:
    """Change the list of phones; others wait meanwhile.

    Raises
    ------
    InputError
        Where the file is damaged, or the workspace is full or cannot be written to.
    """
    path = _path(workspace)
    try:
        with locked(path.with_name(f".{DEVICES_FILE}.lock")):
            after = change(read_devices(workspace))
            write_atomic(path, json.dumps(dataclasses.asdict(after), ensure_ascii=True, indent=1).encode())
    except OSError as error:
        raise storage_error("the list of phones", error) from None
    return after


def living(devices: Devices, now_s: float) -> tuple[Device, ...]:
    """Return the phones that are still let in."""
    return tuple(d for d in devices.devices if not d.ended and 0.0 <= now_s - d.since_s <= DEVICE_LIFE_S)


def _path(workspace: Path) -> Path:
    return workspace / INCOMING / DEVICES_FILE
