"""People of a workspace: searchers under names of their choice, their group, and whether others may see them named."""

import datetime as dt
import unicodedata
from dataclasses import dataclass

PLAIN = str.maketrans({"ø": "o", "œ": "oe", "æ": "ae", "ß": "ss", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"})
"""Letters whose stroke or tie is no accent that Unicode takes apart."""


@dataclass(frozen=True, slots=True)
class Person:
    """A searcher. `name`: of their choice. `spellings`: other names that stand in run files for the same person.

    `consent`: they agreed, on `consent_date`, to be named in lists that others see.
    """

    name: str
    group: str = ""
    consent: bool = False
    consent_date: dt.date | None = None
    spellings: tuple[str, ...] = ()
    note: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """The name and all other spellings."""
        return (self.name, *self.spellings)


@dataclass(frozen=True, slots=True)
class People:
    """All people of a workspace; no two of them share a spelling."""

    persons: tuple[Person, ...] = ()

    def find(self, searcher: str) -> Person | None:
        """Return the person behind a name as it stands in a run, None where it is nobody's."""
        wanted = name_key(searcher)
        return next((p for p in self.persons if any(name_key(n) == wanted for n in p.names)), None)


def name_key(name: str) -> str:
    """Return what two spellings share that differ in capitals, white space or the form of accents alone."""
    folded = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(unicodedata.normalize("NFKC", folded).split())


def plain(text: str) -> str:
    """Return a text without capitals, accents and strokes, each letter taken by itself."""
    return "".join(map(_plain_letter, text))


def _plain_letter(letter: str) -> str:
    apart = unicodedata.normalize("NFKD", letter.casefold().translate(PLAIN))
    return "".join(c for c in apart if not unicodedata.combining(c))
