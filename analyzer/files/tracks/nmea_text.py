"""NMEA 0183 as loggers keep it: as UTF-16 text, or without checksums."""

import re

from analyzer.files.tracks.text_lines import is_utf16

SENTENCE_BODY = rb"[ -#%-)+-~]{0,250}+"
"""What stands between name and checksum of an NMEA sentence: no $ and no *, which begin and end one. The standard has
82 characters at most; 250 is our own choice, because some receivers write more digits."""
CHECKED = re.compile(rb"\$([A-Z]{2})(GGA|RMC|ZDA|GST),(" + SENTENCE_BODY + rb")\*([0-9A-Fa-f]{2})")
UNCHECKED = re.compile(rb"\$([A-Z]{2})(GGA|RMC|ZDA|GST),(" + SENTENCE_BODY + rb")()(?=[\r\n]|$)")
_ANY_CHECKED = re.compile(rb"\$[A-Z]{2}[A-Z]{3}," + SENTENCE_BODY + rb"\*[0-9A-Fa-f]{2}")
_PLACED = re.compile(rb"^\$[A-Z]{2}(GGA|RMC),\d{6}" + SENTENCE_BODY + rb"$", re.MULTILINE)


def plain(data: bytes) -> bytes:
    """Return 8-bit text of UTF-16 text with its mark, other bytes as they are."""
    return data.decode("utf-16", "replace").encode("ascii", "replace") if is_utf16(data) else data


def is_nmea(head: bytes) -> bool:
    """Return whether a file that begins so has a sentence with a checksum, or positions in sentences without one."""
    text = plain(head)
    return bool(_ANY_CHECKED.search(text) or _PLACED.search(text.replace(b"\r\n", b"\n")))


def sentences_of(data: bytes) -> re.Pattern[bytes]:
    """Return what a sentence is in a log: one without a checksum counts only where none has one."""
    return CHECKED if _ANY_CHECKED.search(data) else UNCHECKED
