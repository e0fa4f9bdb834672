"""A first or last name by itself, in the free words of an event, of somebody who is forgotten: "Runa left the area".

It is found whatever its capitals and accents, as a word of its own, in judges' reasons, in comments of event.toml and
in earlier standings. What may be another person's, of the same event, is told and never replaced.
"""

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import AnalyzerError
from analyzer.events.files.event_toml import EventDraft
from analyzer.files.source import decode_text, read_bytes
from analyzer.model.people import name_key, plain
from analyzer.workspace.layout import EARLIER_STANDINGS, EVENT_FILE

SHORTEST = 2
"""Letters of a word that is looked for."""
SAID_IN = re.compile(
    r"""(?P<comment>\#[^\n]*)
    | (?:(?P<key>[\w-]+)[ \t]*=[ \t]*)?
      (?P<text>\"\"\".*?\"\"\" | '''.*?''' | "(?:\\.|[^"\\\n])*" | '[^'\n]*')""",
    re.VERBOSE | re.DOTALL,
)
"""Comments and strings of a TOML file; a string with the key that it is the value of."""
REASON, BY = "reason", "by"


@dataclass(frozen=True, slots=True)
class LoneName:
    """A name by itself. `place`: file, and line where it has any. `name`: the word as it stands; `text`: the words that
    it stands in. `others`: who else of the event it may be, "" where nobody."""

    place: str
    name: str
    text: str
    others: str


def words_of(names: Iterable[str]) -> frozenset[str]:
    """Return the words of names, folded; particles ("de", "von") are left out where the rest has capitals."""
    found = set()
    for name in names:
        tokens = [token.strip(".,;()\"'") for token in name.split()]
        words = [word for token in tokens for word in (token, *token.split("-")) if word]
        capital = [word for word in words if word[0].isupper()]
        found |= {plain(word) for word in capital or words if len(word) >= SHORTEST}
    return frozenset(found)


def others_of(draft: EventDraft, bibs: Iterable[str], names: Iterable[str]) -> dict[str, str]:
    """Return folded word -> who else of an event has it in their name: other entries, and judges.

    Parameters
    ----------
    draft : EventDraft
    bibs, names : iterable of str
        Those of who is forgotten.
    """
    own, keys = frozenset(bibs), {name_key(name) for name in names}
    people = [(f"bib {entry.bib}, {entry.name}", entry.name) for entry in draft.entries if entry.bib not in own]
    people += [(f"the judge {one.by}", one.by) for one in draft.judge if name_key(one.by) not in keys]
    found: dict[str, dict[str, None]] = {}
    for who, name in people:
        for word in words_of([name]):
            found.setdefault(word, {})[who] = None
    return {word: "; ".join(who) for word, who in found.items()}


def lone_names(folder: Path, names: Iterable[str], others: dict[str, str]) -> tuple[LoneName, ...]:
    """Return where words of somebody's names stand by themselves in an event.

    Parameters
    ----------
    folder : Path
        The event's.
    names : iterable of str
        What the person is called.
    others : dict
        See `others_of`.
    """
    words = words_of(names)
    found: dict[LoneName, None] = {}
    for place, text in _said(folder):
        for begin, end in _spans(text, words):
            name = text[begin:end]
            found[LoneName(place, name, " ".join(text.split()), others.get(plain(name), ""))] = None
    return tuple(found)


def without_lone_names(text: str, words: Iterable[str], label: str) -> str:
    """Return a text with `label` for each of some folded words that stands by itself."""
    return _with(text, _spans(text, frozenset(words)), label)


def toml_without_lone_names(text: str, words: Iterable[str], label: str) -> str:
    """Return an event.toml with `label` for words in reasons and comments; all else of it stays as it is."""

    def changed(match: re.Match[str]) -> str:
        free = match["comment"] is not None or match["key"] == REASON
        return without_lone_names(match[0], words, label) if free else match[0]

    return SAID_IN.sub(changed, text)


def without_names(text: str, names: Iterable[str], label: str) -> str:
    """Return a text with `label` for whole names, whatever their capitals, accents and white space."""
    spelt = sorted({plain(name) for name in names if name.split()}, key=len, reverse=True)
    if not spelt:
        return text
    pattern = "|".join(r"\s+".join(map(re.escape, name.split())) for name in spelt)
    return _with(text, _matches(text, rf"(?<![\w-])(?:{pattern})(?![\w-])"), label)


def _spans(text: str, words: frozenset[str]) -> list[tuple[int, int]]:
    """Return where any of some folded words stands by itself; a part of a path or of a longer word is none."""
    if not words:
        return []
    any_of = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    return _matches(text, rf"(?<![\w/-])(?:{any_of})(?![\w/-]|\.\w)")


def _matches(text: str, pattern: str) -> list[tuple[int, int]]:
    """Return the spans in a text that a pattern has in it folded."""
    letters = [plain(letter) for letter in text]
    at = [i for i, letter in enumerate(letters) for _ in letter]
    found = [(at[m.start()], at[m.end() - 1] + 1) for m in re.finditer(pattern, "".join(letters))]
    # An accent of its own after the last letter belongs to it.
    return [(begin, next((i for i in range(end, len(text)) if letters[i]), len(text))) for begin, end in found]


def _with(text: str, spans: Sequence[tuple[int, int]], label: str) -> str:
    for begin, end in reversed(spans):
        text = text[:begin] + label + text[end:]
    return text


def _said(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield (place, text) of what people wrote into an event in words of their own."""
    try:
        text = decode_text(read_bytes(folder / EVENT_FILE), name=EVENT_FILE)
    except AnalyzerError:
        text = ""
    for match in SAID_IN.finditer(text):
        if match["comment"] is not None or match["key"] in (REASON, BY):
            line = text.count("\n", 0, match.start()) + 1
            yield f"{EVENT_FILE}, line {line}", match["comment"] or match["text"]
    for path in sorted((folder / EARLIER_STANDINGS).glob("*.json")):
        try:
            values = json.loads(path.read_bytes())
        except (OSError, ValueError, RecursionError):
            continue
        for said in sentences(values):
            yield f"{EARLIER_STANDINGS}/{path.name}", said


def sentences(value: Any) -> Iterator[str]:
    """Yield the texts of a standing that are more than one word; names of entries are none of them."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key != "name":
                yield from sentences(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from sentences(inner)
    elif isinstance(value, str) and is_sentence(value):
        yield value


def is_sentence(text: str) -> bool:
    """Return whether a text is more than one word: a reason, say, and no key or name of a file."""
    return len(text.split()) > 1
