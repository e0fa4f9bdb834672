"""Baskets on the disk: `incoming/<token>/basket.json`, so that a restart or a second window finds them as they were."""

import dataclasses
import json
import re
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.json_codec import codec, structured
from analyzer.files.source import regular_bytes, write_atomic
from analyzer.workspace.intake.model import Basket
from analyzer.workspace.intake.originals import storage_error
from analyzer.workspace.layout import INCOMING, UPLOAD_FILE

CODEC = codec()
DROP_AGAIN = "its files are kept in originals: open Load and drop them again"
TOKEN = re.compile(r"[A-Za-z0-9_-]{12,40}")


def basket_folder(workspace: Path, token: str) -> Path:
    """Return the folder of a basket; the token is checked, for it comes from an address."""
    if not TOKEN.fullmatch(token):
        raise ValueError(token)
    return workspace / INCOMING / token


def load_basket(workspace: Path, token: str) -> Basket | None:
    """Return a basket, None where there is none under this token.

    Raises
    ------
    InputError
        Where its file is damaged or cannot be read.
    """
    if not TOKEN.fullmatch(token):
        return None
    path, name = basket_folder(workspace, token) / UPLOAD_FILE, f"{INCOMING}/{token}/{UPLOAD_FILE}"
    try:
        if not path.exists():
            return None
        values = json.loads(regular_bytes(path) or b"")
    except (OSError, ValueError, RecursionError):
        raise InputError(where=name, what="the list of this load cannot be read", do=DROP_AGAIN) from None
    basket = structured(CODEC, values, Basket, name=name, noun="the list of this load", do=DROP_AGAIN)
    if basket.token != token:
        raise InputError(where=f"{name}, token", what="it is the list of another load", do=DROP_AGAIN)
    return basket


def save_basket(workspace: Path, basket: Basket) -> None:
    """Write a basket whole or not at all.

    Raises
    ------
    InputError
        Where the workspace is full or cannot be written to.
    """
    data = json.dumps(dataclasses.asdict(basket), ensure_ascii=True, indent=1).encode()
    try:
        write_atomic(basket_folder(workspace, basket.token) / UPLOAD_FILE, data)
    except OSError as error:
        raise storage_error("the list of what was taken in", error) from None
