"""Baskets on the disk: `incoming/<token>/basket.json`, so that a restart or a second window finds them as they were."""

import dataclasses
import json
import re
from pathlib import Path
from typing import Any

from analyzer.files.source import write_atomic
from analyzer.workspace.intake.model import Basket, IncomingFile, Outcome
from analyzer.workspace.intake.originals import storage_error
from analyzer.workspace.layout import INCOMING, UPLOAD_FILE

TOKEN = re.compile(r"[A-Za-z0-9_-]{12,40}")


def basket_folder(workspace: Path, token: str) -> Path:
    """Return the folder of a basket; the token is checked, for it comes from an address."""
    if not TOKEN.fullmatch(token):
        raise ValueError(token)
    return workspace / INCOMING / token


def load_basket(workspace: Path, token: str) -> Basket | None:
    """Return a basket, None where there is none under this token or it cannot be read."""
    if not TOKEN.fullmatch(token):
        return None
    try:
        values = json.loads((basket_folder(workspace, token) / UPLOAD_FILE).read_bytes())
        return _basket(values)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


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


def _basket(values: dict[str, Any]) -> Basket:
    outcome = values["outcome"]
    return Basket(
        **values
        | {
            "files": tuple(IncomingFile(**f) for f in values["files"]),
            "refused": tuple(values["refused"]),
            "outcome": Outcome(outcome["drill"], tuple(outcome["runs"]), tuple(outcome["failures"])),
        }
    )
