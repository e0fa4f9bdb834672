"""The fields in which people say what is known of a run, and what they mean for its run.toml. No Dash, no files."""

import math
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, fields

from analyzer.errors import quoted
from analyzer.model.people import name_key
from analyzer.model.recording import RunInfo

LONGEST = {"title": 80, "searcher": 80, "new_searcher": 80, "bib": 20, "recorder": 80, "receiver": 80}
LONGEST_NOTE, LONGEST_REASON = 4000, 300
"""Characters; our own choice: a note that is longer is a letter."""
HEIGHTS = ("carry_height_m", "fine_height_m")
MOST_HEIGHT_M = 3.0
YES, NO, AS_IT_IS = "yes", "no", ""
NAMES = {
    "title": "title",
    "searcher": "searcher",
    "new_searcher": "name of the new searcher",
    "bib": "bib",
    "recorder": "recorder",
    "receiver": "receiver",
    "carry_height_m": "height in the coarse search",
    "fine_height_m": "height in the fine search",
}
Changes = dict[str, str | int | float]


@dataclass(frozen=True, slots=True)
class RunForm:
    """What the fields hold, as text. `new_searcher`: goes before `searcher`. `consent`: YES, NO or AS_IT_IS."""

    title: str = ""
    searcher: str = ""
    new_searcher: str = ""
    consent: str = AS_IT_IS
    bib: str = ""
    antennas: str = "3"
    carry_height_m: str = "1"
    fine_height_m: str = "0.1"
    recorder: str = ""
    receiver: str = ""

    @property
    def who(self) -> str:
        """The searcher that is meant, "" where nobody is named."""
        return self.new_searcher or self.searcher


KEYS = tuple(field.name for field in fields(RunForm))


def form_of(info: RunInfo) -> RunForm:
    """Return the fields of a run as it is."""
    return RunForm(
        title=info.title,
        searcher=info.searcher,
        bib=info.bib,
        antennas=str(info.antennas),
        carry_height_m=f"{info.carry_height_m:g}",
        fine_height_m=f"{info.fine_height_m:g}",
        recorder=info.recorder,
        receiver=info.receiver,
    )


def filled(values: Mapping[str, str], before: RunForm, suffix: str = "") -> RunForm:
    """Return the fields as they were sent under their names with a suffix; those that were not sent are as before."""
    return RunForm(**{key: one_line(values.get(key + suffix, getattr(before, key))) for key in KEYS})


def one_line(text: str) -> str:
    """Return a text on one line: white space and control characters become one space."""
    plain = "".join(" " if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") else c for c in text)
    return " ".join(unicodedata.normalize("NFC", plain).split())


def several_lines(text: str) -> str:
    """Return a text with its lines, without control characters and white space at its end."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    kept = ("".join(c for c in line if unicodedata.category(c) not in ("Cc", "Cs") or c == "\t") for line in lines)
    return unicodedata.normalize("NFC", "\n".join(kept)).strip()


def changes_of(form: RunForm, before: RunInfo) -> tuple[Changes, tuple[str, ...]]:
    """Return the keys of run.toml that the fields mean, and a line for each field that cannot be taken.

    `before`: the run as it is; a height that is not changed stays as exact as it was.
    """
    faults = [line for key, most in LONGEST.items() for line in _too_long(NAMES[key], getattr(form, key), most)]
    found: Changes = {"title": form.title, "searcher": form.who, "bib": form.bib}
    found |= {"recorder": form.recorder, "receiver": form.receiver}
    if form.who and not name_key(form.who):
        faults.append(f"The searcher {quoted(form.who)} is no name: write at least one letter.")
    if form.antennas in ("1", "2", "3"):
        found["antennas"] = int(form.antennas)
    else:
        faults.append(f"{quoted(form.antennas[:40])} antennas: choose 1, 2 or 3.")
    shown = form_of(before)
    for key in HEIGHTS:
        text = getattr(form, key)
        value = getattr(before, key) if text == getattr(shown, key) else _height(text, getattr(RunInfo(), key))
        if value is None:
            faults.append(f"The {NAMES[key]} {quoted(text[:40])} is no height: write metres from 0 to 3, such as 1.1.")
        else:
            found[key] = value
    return found, tuple(faults)


def _height(text: str, default: float) -> float | None:
    if not text:
        return default
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) and 0.0 <= value <= MOST_HEIGHT_M else None


def _too_long(name: str, text: str, most: int) -> list[str]:
    return [f"The {name} has {len(text)} characters: at most {most} are taken."] if len(text) > most else []


def note_faults(note: str, reasons: Mapping[str, str]) -> tuple[str, ...]:
    """Return a line for each of the coach's words that is too long."""
    faults = _too_long("note", note, LONGEST_NOTE)
    for reason in reasons.values():
        faults += _too_long("reason", reason, LONGEST_REASON)
    return tuple(faults)
