"""The one call of the TOML library, behind checks of what a small file can make it do.

The library builds a table for each part of a dotted key, and again for each key before it: a key of ten thousand parts
takes gigabytes. What is nested deep ends in its recursion. Both are counted before it sees the text.
"""

import re
import tomllib
from typing import Any

from analyzer.errors import InputError

MAX_TOML_CHARS = 1_000_000
"""Our own choice, because the people of a large club take a tenth of it, and it is read in seconds."""
MAX_KEY_PARTS = 16
"""Our own choice, because no key of these files has more than three."""
MAX_NESTING = 32
"""Our own choice, because nothing in these files is nested more than four deep."""
_TOKENS = re.compile(
    r'"""(?:[^"\\]++|\\[\s\S]|"(?!""))*+(?:"""|\Z)'
    r"|'''(?:[^']++|'(?!''))*+(?:'''|\Z)"
    r'|"(?:[^"\\\n]++|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+"
    r"|[\[\]{}.=,\n]"
)
"""What matters for depth: texts and comments, which are passed over, and the marks between. Never goes back."""


def toml_values(text: str, *, name: str) -> dict[str, Any]:
    """Return the values of a TOML text.

    Raises
    ------
    InputError
        Where it is not TOML, or larger, deeper or with longer keys than any file that is read here.
    """
    _check_size(text, name)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: whole numbers of thousands of digits as well
        raise InputError(where=name, what=f"this is not TOML ({error})", do="mend the line") from None


def _check_size(text: str, name: str) -> None:
    if len(text) > MAX_TOML_CHARS:
        what = f"the file has {len(text)} characters; at most {MAX_TOML_CHARS} are read of a TOML file"
        raise InputError(where=name, what=what, do="check that it is the right file, or shorten it")
    depth = parts = 0
    for token in _TOKENS.finditer(text):
        mark = token.group()
        if mark == ".":
            parts += 1
        elif mark in "[{":
            depth, parts = depth + 1, 0
        elif mark in "]}":
            depth, parts = depth - 1, 0
        elif mark in "=,\n":
            parts = 0
        if parts >= MAX_KEY_PARTS or depth > MAX_NESTING:
            what = f"a key of more than {MAX_KEY_PARTS} parts" if depth <= MAX_NESTING else "too much in one another"
            line = text.count("\n", 0, token.start()) + 1
            raise InputError(where=f"{name}, line {line}", what=f"there is {what}", do="mend the line")
