"""scored.json: what an event was scored from, and its standings; and back as values. Seconds are kept to 1e-6."""

import json
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import InputError, quoted
from analyzer.events.model import OVERALL, EventRules, FieldScore, Place, Proposal, ScoreLine, Standings, Unclear
from analyzer.files.json_codec import Codec, Json, codec, structured
from analyzer.files.json_layout import layout
from analyzer.files.json_source import check_format, format_in, json_values
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.model.figure import Figure
from analyzer.model.rules import SheetId

FORMAT = "searchwake-event/3"
EARLIER = ("searchwake-event/1", "searchwake-event/2")
"""Formats of earlier versions: told as such, and kept beside the new file when the event is scored anew."""
SCORED_FILE = "scored.json"
ANEW = "searchwake standings EVENT --again scores it anew and keeps this file under another name"
DO = "searchwake verify EVENT says what differs; searchwake standings EVENT --again scores anew"
MOST_OF_ANYTHING = 1e9
"""Seconds, targets or units of a measure; our choice: thirty years."""


@dataclass(frozen=True, slots=True)
class Sampling:
    """How the runs were measured: the number of paths drawn and the seed of those draws."""

    draws: int
    seed: int


@dataclass(frozen=True, slots=True)
class Scored:
    """A scored event as stored.

    `classes`, `fields`: (id, name). `measuring`: which sheet the runs were measured with. `inputs`: path from the
    workspace -> SHA-256. `results`: path in the event's results -> SHA-256. `notes`: runs set aside and runs that could
    not be measured. `integrity`: as it stands in the file; `intact`: whether it is that of what the file holds.
    `log_head`: the hash of the line of log.jsonl that tells of this scoring, and holds its integrity.
    """

    name: str
    date: str
    engine: str
    rules: EventRules
    measuring: SheetId
    settings: Sampling
    inputs: dict[str, str]
    results: dict[str, str]
    notes: tuple[str, ...]
    classes: tuple[tuple[str, str], ...]
    fields: tuple[tuple[str, str], ...]
    standings: tuple[Standings, ...]
    integrity: str = ""
    intact: bool = True
    log_head: str = ""

    def table(self, scope: str, class_id: str) -> Standings | None:
        """Return the table of a field or overall and a class, None where there is none."""
        return next((t for t in self.standings if (t.scope, t.class_id) == (scope, class_id)), None)


@dataclass(frozen=True, slots=True)
class EventPart:
    """Which event."""

    name: str
    date: str


@dataclass(frozen=True, slots=True)
class EntryPart:
    """Someone who takes part."""

    bib: str
    name: str
    class_id: str


@dataclass(frozen=True, slots=True)
class RowPart:
    """One row of a table; its score stands under the table's scope and this bib. `low`, `high`: range of places."""

    rank: int | None
    low: int | None
    high: int | None
    bib: str
    unclear: tuple[Unclear, ...]


@dataclass(frozen=True, slots=True)
class TablePart:
    """One table. `waiting`: of how many entries a result is still to come, in which case it is an intermediate
    ranking; `open`: how many proposals wait for a judge."""

    scope: str
    class_id: str
    waiting: int
    open: int
    places: tuple[RowPart, ...]


@dataclass(frozen=True, slots=True)
class ScoredFile:
    """The file: every score stands once, tables name them by scope and bib."""

    format: str
    engine: str
    event: EventPart
    rules: EventRules
    measuring_rules: SheetId
    settings: Sampling
    inputs: dict[str, str]
    results: dict[str, str]
    notes: tuple[str, ...]
    classes: tuple[tuple[str, str], ...]
    fields: tuple[tuple[str, str], ...]
    entries: tuple[EntryPart, ...]
    scores: dict[str, FieldScore]
    tables: tuple[TablePart, ...]
    integrity: str
    log_head: str


def _codec() -> Codec:
    made = codec(digits=6, figure_digits=6)
    layout(made, ScoreLine, "what rule rule_value seconds points source evidence timeline_row figure")
    layout(
        made,
        Proposal,
        "drill about transmitter text probability state said rule rule_value source evidence timeline_row seconds "
        "figure",
    )
    layout(
        made,
        FieldScore,
        "bib drill run status pending done targets targets_low targets_high why passed known seconds lines proposals",
    )
    layout(made, EntryPart, "bib name class_id=class")
    layout(made, TablePart, "scope class_id=class waiting open places")
    return made


CODEC = _codec()


def scored_values(scored: Scored) -> Json:
    """Return the file's values."""
    places = [(table.scope, place) for table in scored.standings for place in table.places]
    scores: dict[str, FieldScore] = {}
    for scope, place in places:
        scores.setdefault(f"{scope}/{place.score.bib}", place.score)
    who = {p.score.bib: EntryPart(p.score.bib, p.name, p.class_id) for _, p in places}
    tables = tuple(
        TablePart(
            t.scope,
            t.class_id,
            t.waiting,
            t.open,
            tuple(RowPart(p.rank, p.low, p.high, p.score.bib, p.unclear) for p in t.places),
        )
        for t in scored.standings
    )
    file = ScoredFile(
        format=FORMAT,
        engine=scored.engine,
        event=EventPart(scored.name, scored.date),
        rules=scored.rules,
        measuring_rules=scored.measuring,
        settings=scored.settings,
        inputs=scored.inputs,
        results=scored.results,
        notes=scored.notes,
        classes=scored.classes,
        fields=scored.fields,
        entries=tuple(who.values()),
        scores=scores,
        tables=tables,
        integrity="",
        log_head=scored.log_head,
    )
    values: Json = CODEC.unstructure(file)
    return values | {"integrity": _integrity_of(values)}


def _integrity_of(values: Json) -> str:
    """Return the SHA-256 of the values without their own integrity, in one spelling: sorted keys, no white space.

    The head of the log is left out: its line holds this hash. One of the two has to come first.
    """
    rest = {key: value for key, value in values.items() if key not in ("integrity", "log_head")}
    return sha256_hex(json.dumps(rest, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode())


def scored_bytes(scored: Scored) -> bytes:
    """Return the file; equal values give equal bytes."""
    return file_bytes(scored_values(scored))


def file_bytes(values: Json) -> bytes:
    """Return the file of its values, which may have been given their `log_head` since."""
    return (json.dumps(values, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()


def read_scored(path: Path) -> Scored:
    """Return the scored event in a file; see `parse_scored`."""
    return parse_scored(read_bytes(path), name=path.name)


def parse_scored(data: bytes, *, name: str = SCORED_FILE) -> Scored:
    """Return the scored event in the bytes of a file.

    Raises
    ------
    InputError
        Where it is not JSON, of another format, or a part is missing, not known or of another kind.
    """
    values = json_values(data, name=name, do=DO)
    if format_in(values) in EARLIER:
        what = f"the event was scored by an earlier version ({format_in(values)})"
        raise InputError(where=name, what=what, do=ANEW)
    check_format(values, name=name, wanted="of the format", format_line=FORMAT, do=DO)
    file = structured(CODEC, values, ScoredFile, name=name, noun="the file", do=DO)
    _check_bounds(file, name)
    try:
        tables = tuple(_table(file, part) for part in file.tables)
    except KeyError as error:
        raise InputError(where=f"{name}, tables", what=f"nothing stands under {quoted(error.args[0])}", do=DO) from None
    for number, part in enumerate(file.tables):
        if part.scope not in (OVERALL, *dict(file.fields)) or part.class_id not in ("", *dict(file.classes)):
            named = f"{quoted(part.scope)}, {quoted(part.class_id)}"
            what = f"it is of a field or class that the file does not have ({named})"
            raise InputError(where=f"{name}, tables[{number}]", what=what, do=DO)
    return Scored(
        name=file.event.name,
        date=file.event.date,
        engine=file.engine,
        rules=file.rules,
        measuring=file.measuring_rules,
        settings=file.settings,
        inputs=file.inputs,
        results=file.results,
        notes=file.notes,
        classes=file.classes,
        fields=file.fields,
        standings=tables,
        integrity=file.integrity,
        log_head=file.log_head,
        intact=_integrity_of(values) == file.integrity,
    )


def _check_bounds(file: ScoredFile, name: str) -> None:
    """Refuse a file with a number that no event gives, and that no clock could show."""
    for key, score in file.scores.items():
        figures = [score.seconds, *(one.figure for one in score.lines), *(one.figure for one in score.proposals)]
        numbers = [v for f in figures if isinstance(f, Figure) for v in (f.value, f.low, f.high)]
        numbers += [v for one in score.proposals for v in (one.seconds.value, one.seconds.low, one.seconds.high)]
        numbers += [v for line in score.lines for v in (line.seconds, line.points)]
        if any(not abs(v) <= MOST_OF_ANYTHING for v in (*numbers, score.targets)):
            what = "a number is beyond all bounds: the file was changed after it was written"
            raise InputError(where=f"{name}, scores.{key}", what=what, do=DO)


def _table(file: ScoredFile, part: TablePart) -> Standings:
    who = {entry.bib: entry for entry in file.entries}
    places = tuple(
        Place(
            row.rank,
            file.scores[f"{part.scope}/{row.bib}"],
            who[row.bib].name,
            who[row.bib].class_id,
            row.unclear,
            row.low,
            row.high,
        )
        for row in part.places
    )
    return Standings(part.scope, part.class_id, places)
