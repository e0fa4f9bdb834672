"""Text of tables: UTF-8, UTF-16 with its mark or without, and western 8-bit text where it is certain."""

import re

from analyzer.errors import InputError
from analyzer.files.source import check_not_empty, decode_text

UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
HEAD = 4096
CLEAR_SHARE = 0.8
"""Of every second byte of western text in UTF-16 nearly all are zero, of the others none; our own choice, between."""
CONTROLS = re.compile(rb"[\x01-\x08\x0b\x0c\x0e-\x1f]")
SAME_EVERYWHERE = frozenset("ÄÖÜäöüßéçâëîô°\u00a0".encode("cp1252"))
"""Bytes that mean one sign in the code pages 1250, 1252 and 1254 alike, by the tables of their vendor. None of them is
a small letter of German, French or Italian in the older code page 850 or on older Macintosh computers."""
OF_ROMANCE = frozenset("àèìòùêûï".encode("cp1252"))
"""Bytes that are other letters in code page 1250: certain only in a table whose words are French or Italian."""
ROMANCE = re.compile(rb"\b(?:heure|temps|ora|lettura|distanza)\b", re.IGNORECASE)
DASHES = frozenset("\u2013\u2014".encode("cp1252"))
DASH_IN_WORD = re.compile(rb"[A-Za-z][\x96\x97]|[\x96\x97][A-Za-z]")
"""The older encodings have letters where code page 1252 has its dashes."""


def decode_table(data: bytes, *, name: str) -> str:
    """Return the text of a table without the mark of its encoding.

    Raises
    ------
    InputError
        Where the bytes are empty, binary, or in an encoding that cannot be told for certain; the line is named.
    """
    check_not_empty(data, name=name)
    if data[:2] in UTF16_MARKS:
        return _utf16(data, "utf-16", name)
    if b"\x00" in data:
        order = _order(data)
        return _utf16(data, order, name) if order else decode_text(data, name=name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    high = {byte for byte in data if byte >= 0x80}
    certain = SAME_EVERYWHERE | (OF_ROMANCE if ROMANCE.search(data[:HEAD]) else frozenset())
    certain |= frozenset() if DASH_IN_WORD.search(data) else DASHES
    return data.decode("cp1252") if high <= certain else decode_text(data, name=name)


def is_utf16(data: bytes) -> bool:
    """Return whether bytes are text in UTF-16, by its mark or, without one, by where its zeros are."""
    return data[:2] in UTF16_MARKS or (b"\x00" in data[:HEAD] and _order(data) != "")


def _order(data: bytes) -> str:
    """Return which UTF-16 without a mark some bytes are, "" for none: every second byte is zero, the others never."""
    head = data[: HEAD & ~1]
    if len(data) % 2 or CONTROLS.search(head):
        return ""
    even, odd = head[0::2].count(0) * 2 / len(head), head[1::2].count(0) * 2 / len(head)
    if even == 0.0 and odd > CLEAR_SHARE:
        return "utf-16-le"
    return "utf-16-be" if odd == 0.0 and even > CLEAR_SHARE else ""


def _utf16(data: bytes, encoding: str, name: str) -> str:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = "\x00"
    if "\x00" in text:
        raise InputError(
            where=name, what="the text is UTF-16 and damaged or cut off", do="save it again as text, best as UTF-8"
        )
    return text.removeprefix("\ufeff")
