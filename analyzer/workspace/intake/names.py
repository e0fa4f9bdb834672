"""Names: of runs and drills as folders can have them, and what of a file's name tells whose it is; pure."""

import re
import unicodedata
from collections.abc import Collection

from analyzer.files.names import RESERVED
from analyzer.workspace.intake.model import IncomingFile

ROLE_WORDS = frozenset({"track", "tracks", "reading", "readings", "mark", "marks", "run", "log", "gps", "gpx"})
LONGEST_NAME = 60


def safe_name(text: str) -> str:
    """Return a name for a folder: letters, digits, dots, dashes and underscores; "" where nothing is left."""
    plain = re.sub(r"[^\w.-]+", "-", unicodedata.normalize("NFC", text))
    plain = re.sub(r"-{2,}", "-", plain)[:LONGEST_NAME].strip("-._ ")
    return f"run-{plain}" if RESERVED.fullmatch(plain) else plain


def folded(name: str) -> str:
    """Return the same for names that one of the usual disks takes for one: other capitals, accents of their own."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def free_name(wanted: str, taken: Collection[str]) -> str:
    """Return `wanted`, or the first of wanted-2, wanted-3, ... that is not taken: in any case of letters, and however
    their accents are written."""
    there = {folded(one) for one in taken}
    number, name = 1, wanted
    while folded(name) in there:
        number += 1
        name = f"{wanted}-{number}"
    return name


def without_role(stem: str) -> str:
    """Return a file's name without the words after it that only say what it holds: "mara-1" of "mara-1-track".

    "run" stays, for it is part of names such as 2-run; a name of nothing but such words stays as it is.
    """
    roles = "|".join(sorted(ROLE_WORDS - {"run"}))
    bare = re.sub(rf"(?:[-_. ]+(?:{roles}))+$", "", stem, flags=re.IGNORECASE)
    return stem if bare.casefold() in ROLE_WORDS else bare


def words_of(file: IncomingFile) -> tuple[str, ...]:
    """Return the words of a file's name that tell whose it is: without its role, ending, and marks of a copy."""
    stem = file.name.rpartition(".")[0] or file.name
    stem = re.sub(r"\(\d+\)", " ", stem)
    parts = re.findall(r"[^\W\d_]+|\d+", unicodedata.normalize("NFC", stem).casefold())
    return tuple(p for p in parts if p not in ROLE_WORDS)
