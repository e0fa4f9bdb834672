"""Names that may be two spellings of one person: told, never joined by themselves."""

import difflib
import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from analyzer.model.people import People, name_key, plain

ALIKE_FROM = 0.9
"""Share of letters in common (difflib). Our choice: one letter in ten, so that short names have to be the same."""


@dataclass(frozen=True, slots=True)
class NearNames:
    """Two names that may be one person's. `listed`: `name` stands in people.toml, so that `other` can be merged."""

    name: str
    other: str
    listed: bool

    def words(self, workspace: str) -> str:
        """Return what to do if they are one person."""
        own, other = shlex.quote(self.name), shlex.quote(self.other)
        place = shlex.quote(workspace)
        do = f"merge {own} {other}" if self.listed else f"add {own} --spelling {other}"
        return f"{self.name} and {self.other} may be one person; if they are: searchwake people {place} {do}"


def near_names(names: Iterable[str], people: People) -> tuple[NearNames, ...]:
    """Return the pairs of names, in runs or in people.toml, that may be one person's and are not known to be."""
    own: dict[str, str] = {}
    for name in (*(p.name for p in people.persons), *names):
        person = people.find(name)
        if name_key(name):
            own.setdefault(name_key(person.name if person is not None else name), name)
    found = []
    for first, second in combinations(own.values(), 2):
        if _alike(folded(first), folded(second)):
            listed = people.find(first) is not None
            found.append(NearNames(first, second, listed))
    return tuple(found)


def folded(name: str) -> str:
    """Return a name without accents, capitals and punctuation, its words in order of the alphabet."""
    letters = "".join(c if c.isalnum() else " " for c in plain(name))
    return " ".join(sorted(letters.split()))


def _alike(first: str, second: str) -> bool:
    if first == second:
        return True
    matcher = difflib.SequenceMatcher(None, first, second, autojunk=False)
    return matcher.real_quick_ratio() >= ALIKE_FROM and matcher.ratio() >= ALIKE_FROM
