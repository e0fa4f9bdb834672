"""In which events a person took part, and what is exported of it for them."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from analyzer.errors import AnalyzerError
from analyzer.events.decisions_log import read_log
from analyzer.events.files.event_toml import EventDraft, parse_event_toml
from analyzer.events.files.folder import read_event_folder
from analyzer.events.files.forgotten_json import read_forgotten
from analyzer.events.files.scored_json import SCORED_FILE
from analyzer.events.lone_names import LoneName, lone_names, others_of, words_of
from analyzer.files.json_source import own_values
from analyzer.files.names import RUNS
from analyzer.files.source import read_bytes
from analyzer.model.people import name_key, plain
from analyzer.workspace.layout import DRILLS, EVENT_FILE, EVENTS, EVERY_EVENT, RESULTS
from analyzer.workspace.people.personal_data import PersonalData

ANONYMISED = "anonymised"
"""What the log says was done."""
UNFINISHED = (
    "somebody was to be taken out of this event, and the call was stopped before it was scored without their name"
)


@dataclass(frozen=True, slots=True)
class TakenPart:
    """An event that a person took part in.

    `bibs`: theirs. `names`: as they stand in the event, and what else they are called. `runs`: (drill, run, bib) of
    their runs there. `problem`: why the event cannot be read, "" where it can. `others`: folded word of a name -> who
    else of the event is called so. `lone`: words of their names, folded, that are replaced where they stand alone.
    """

    folder: Path
    name: str
    bibs: tuple[str, ...]
    names: tuple[str, ...]
    runs: tuple[tuple[str, str, str], ...]
    problem: str = ""
    others: dict[str, str] = field(default_factory=dict)
    lone: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """What stands for the person in the event once they are forgotten: "Bib 7"."""
        return f"Bib {'/'.join(self.bibs)}"

    @property
    def sure_names(self) -> tuple[str, ...]:
        """Their names that are replaced wherever they stand: not a single word that is in another's name as well."""
        return tuple(n for n in self.names if len(n.split()) > 1 or plain(n.strip()) not in self.others)

    def lone_names(self) -> tuple[LoneName, ...]:
        """Return where a first or last name of theirs stands by itself in the event, and is not all of a sure name."""
        sure = {plain(name.strip()) for name in self.sure_names}
        found = lone_names(self.folder, self.names, self.others)
        return tuple(one for one in found if plain(one.name) not in sure)

    def with_lone_names(self) -> "TakenPart":
        """Return the part with those words of the names to be replaced that can be nobody else's."""
        return replace(self, lone=tuple(sorted(words_of(self.names) - self.others.keys())))


def events_of(workspace: Path, found: PersonalData) -> tuple[TakenPart, ...]:
    """Return the events in which a person has an entry, by its name or by a run of theirs, as written or as scored."""
    folders = (path.parent for path in sorted((workspace / EVENTS).glob(EVERY_EVENT)))
    parts = (_taken_part(folder, found) for folder in folders)
    return tuple(part for part in parts if part.bibs)


def unfinished_events(workspace: Path) -> tuple[TakenPart, ...]:
    """Return the events out of which a call that was stopped took somebody without scoring them afterwards."""
    folders = (path.parent for path in sorted((workspace / EVENTS).glob(EVERY_EVENT)))
    return tuple(part for folder in folders for part in unfinished_parts(folder))


def unfinished_parts(folder: Path) -> tuple[TakenPart, ...]:
    """Return whom a call that was stopped took out of an event without scoring it afterwards, () where nobody.

    Theirs are the bibs of forgotten.json that the log does not tell of; whose recordings are still there is left out.
    """
    bibs = {one.bib for one in read_forgotten(folder)} - anonymised_bibs(folder)
    if not bibs:
        return ()
    part = _part(folder, frozenset(), frozenset(), frozenset(bibs))
    runs = folder.parents[1] / DRILLS
    return () if any((runs / drill / RUNS / run).is_dir() for drill, run, _ in part.runs) else (part,)


def anonymised_bibs(event: Path) -> set[str]:
    """Return the bibs whose anonymising the log tells of."""
    return {str(bib) for line in read_log(event) if line.get("action") == ANONYMISED for bib in line.get("bibs", ())}


def _taken_part(folder: Path, found: PersonalData) -> TakenPart:
    keys = frozenset(name_key(name) for name in found.person.names)
    part = _part(folder, keys, found.places, frozenset())
    return replace(part, names=tuple(sorted({*part.names, *found.person.names})))


def _part(folder: Path, keys: frozenset[str], places: frozenset[tuple[str, str]], known: frozenset[str]) -> TakenPart:
    """Return what an event has of who has one of these names, runs or bibs."""
    written, name, problem = list[tuple[str, str]](), folder.name, ""
    runs: dict[tuple[str, str], str] = {}
    draft: EventDraft | None = None
    try:
        draft = parse_event_toml(read_bytes(folder / EVENT_FILE))
        name = draft.name
        written += [(entry.bib, entry.name) for entry in draft.entries]
        runs |= {(drill, run): entry.bib for entry in draft.entries for drill, run in entry.runs}
        matched = read_event_folder(folder).event.entries
        runs |= {(drill, run): entry.bib for entry in matched for drill, run in entry.runs}
    except AnalyzerError as error:
        problem = str(error)
    values = scored_values(folder)
    for entry in _dicts(values.get("entries")):
        written.append((str(entry.get("bib")), str(entry.get("name"))))
    for score in _dicts(list(_dict(values.get("scores")).values())):
        if score.get("run"):
            runs.setdefault((str(score.get("drill")), str(score.get("run"))), str(score.get("bib")))
    bibs = {bib for bib, text in written if name_key(text) in keys} | {bib for p, bib in runs.items() if p in places}
    bibs |= known
    names = {text for bib, text in written if bib in bibs or name_key(text) in keys} - {f"Bib {'/'.join(sorted(bibs))}"}
    own = sorted((drill, run, bib) for (drill, run), bib in runs.items() if bib in bibs)
    others = {} if draft is None else others_of(draft, bibs, names)
    return TakenPart(folder, name, tuple(sorted(bibs)), tuple(sorted(names)), tuple(own), problem, others)


def scored_values(folder: Path) -> dict[str, Any]:
    """Return what stands in scored.json, of whatever version, {} where it cannot be read."""
    return own_values(folder / SCORED_FILE)


def _dict(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _dicts(value: Any) -> list[dict[str, Any]]:
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def exported(workspace: Path, found: PersonalData) -> Iterator[tuple[str, bytes]]:
    """Yield (path in the zip, bytes) of what events hold of a person: their lines, places and results."""
    for part in events_of(workspace, found):
        place = f"{EVENTS}/{part.folder.name}"
        values = scored_values(part.folder)
        own = {
            "event": values.get("event", {"name": part.name}),
            "engine": values.get("engine", ""),
            "entries": [one for one in _dicts(values.get("entries")) if one.get("bib") in part.bibs],
            "places": [
                {"scope": table.get("scope"), "class": table.get("class"), "of": len(_dicts(table.get("places")))} | row
                for table in _dicts(values.get("tables"))
                for row in _dicts(table.get("places"))
                if row.get("bib") in part.bibs
            ],
            "scores": {
                key: score
                for key, score in _dict(values.get("scores")).items()
                if isinstance(score, dict) and score.get("bib") in part.bibs
            },
        }
        yield f"{place}/standing.json", (json.dumps(own, ensure_ascii=False, indent=1) + "\n").encode()
        for drill, run, _ in part.runs:
            path = part.folder / RESULTS / drill / f"{run}.json"
            if path.is_file():
                yield f"{place}/{RESULTS}/{drill}/{run}.json", path.read_bytes()
