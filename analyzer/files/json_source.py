"""The one call of the JSON library for files that somebody may have written or damaged."""

import json
import re
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.files.source import decode_text, read_bytes

MAX_JSON_BYTES = 20_000_000
"""Our own choice, because the result of a day at 1 Hz has 8 MB; a number takes ten times its size in memory."""
HALF_A_SIGN = re.compile(r"\\u[dD][89a-fA-F]")
"""How half of a sign beyond U+FFFF is escaped (RFC 8259, section 7); the other half may follow or be missing."""
MAX_PARTS = 1_000_000
"""Lists and objects of a file; our own choice, because the result of an hour at 10 Hz has a tenth of them."""


def json_values(data: bytes, *, name: str, do: str) -> Any:
    """Return the values of a JSON file.

    Raises
    ------
    InputError
        Where it is not JSON, or larger or deeper than any file that is read here.
    """
    if len(data) > MAX_JSON_BYTES:
        what = f"the file has {len(data) / 1e6:.0f} MB; at most {MAX_JSON_BYTES / 1e6:.0f} MB are read of a JSON file"
        raise InputError(where=name, what=what, do=do)
    text = decode_text(data, name=name)
    if text.count("[") + text.count("{") > MAX_PARTS:
        what = f"the JSON has more than {MAX_PARTS} lists and objects"
        raise InputError(where=name, what=what, do=do)
    try:
        values = json.loads(text, parse_constant=_refuse)
        if HALF_A_SIGN.search(text):
            json.dumps(values, ensure_ascii=False).encode()
    except json.JSONDecodeError as error:
        raise InputError(where=f"{name}, line {error.lineno}", what=f"this is not JSON ({error.msg})", do=do) from None
    except UnicodeEncodeError:
        raise InputError(where=name, what="a text in it holds half of a sign (a lone surrogate)", do=do) from None
    except ValueError as error:  # NaN and Infinity; whole numbers of thousands of digits
        raise InputError(where=name, what=f"this is not JSON ({str(error)[:80]})", do=do) from None
    except RecursionError:
        raise InputError(where=name, what="this JSON has a nesting that is not read", do=do) from None
    return values


def _refuse(word: str) -> None:
    raise ValueError(f"{word} is no number")


def format_in(values: Any) -> str:
    """Return what the values of a file say under `format`, "" where they say nothing."""
    found = values.get("format") if isinstance(values, dict) else None
    return found if isinstance(found, str) else ""


def own_values(path: Path) -> dict[str, Any]:
    """Return the values of a JSON file of ours whose damage is told elsewhere, {} where they cannot be read."""
    try:
        values = json_values(read_bytes(path), name=path.name, do="")
    except InputError:
        return {}
    return values if isinstance(values, dict) else {}


def parse_json(data: bytes, *, name: str, wanted: str, format_line: str, do: str) -> dict[str, Any]:
    """Return the values of a JSON file whose key `format` is `format_line`.

    Raises
    ------
    InputError
        Where it is not JSON or not `wanted`.
    """
    values: dict[str, Any] = json_values(data, name=name, do=do)
    check_format(values, name=name, wanted=wanted, format_line=format_line, do=do)
    return values


def check_format(values: Any, *, name: str, wanted: str, format_line: str, do: str) -> None:
    """Raise `InputError` where the values of a file do not hold `format_line` under `format`."""
    if format_in(values) != format_line:
        raise InputError(where=name, what=f"this is not {wanted} {format_line}", do=do)
