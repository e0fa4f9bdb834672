"""scored.json: what an event was scored from, and its standings; and back as values. Seconds are kept to 1e-6."""

import dataclasses
import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.events.files.run_facts import figure_of
from analyzer.events.model import EventRules, FieldScore, Place, ScoreLine, Standings, Unclear
from analyzer.files.source import decode_text, read_bytes, sha256_hex
from analyzer.model.figure import Figure, Measured
from analyzer.model.rules import Rules

FORMAT = "searchwake-event/1"
SCORED_FILE = "scored.json"
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Scored:
    """A scored event as stored.

    `classes`, `fields`: (id, name). `rules`: the sheet's keys and values. `inputs`: path from the workspace -> SHA-256.
    `results`: path in the event's results -> SHA-256. `notes`: runs set aside and runs that could not be measured.
    """

    name: str
    date: str
    engine: str
    rules: Json
    measuring: Json
    settings: Json
    inputs: dict[str, str]
    results: dict[str, str]
    notes: tuple[str, ...]
    classes: tuple[tuple[str, str], ...]
    fields: tuple[tuple[str, str], ...]
    standings: tuple[Standings, ...]
    integrity: str = ""

    def table(self, scope: str, class_id: str) -> Standings | None:
        """Return the table of a field or overall and a class, None where there is none."""
        return next((t for t in self.standings if (t.scope, t.class_id) == (scope, class_id)), None)


def rules_values(rules: EventRules) -> Json:
    """Return the sheet's keys and values, as a score's lines name them."""
    return _rounded(dataclasses.asdict(rules))


def measuring_values(rules: Rules) -> Json:
    """Return which rule sheet the runs were measured with."""
    return {"name": rules.name, "version": rules.version, "sha256": rules.sha256}


def scored_values(scored: Scored) -> Json:
    """Return the file's values; every score stands once, tables name them by field and bib."""
    who: dict[str, Json] = {}
    scores: dict[str, Json] = {}
    tables = []
    for table in scored.standings:
        for place in table.places:
            who[place.score.bib] = {"bib": place.score.bib, "name": place.name, "class": place.class_id}
            scores.setdefault(f"{table.scope}/{place.score.bib}", _score(place.score))
        rows = [
            {"rank": p.rank, "bib": p.score.bib, "unclear": [_plain(dataclasses.asdict(u)) for u in p.unclear]}
            for p in table.places
        ]
        tables.append({"scope": table.scope, "class": table.class_id, "places": rows})
    values: Json = {
        "format": FORMAT,
        "engine": scored.engine,
        "event": {"name": scored.name, "date": scored.date},
        "rules": scored.rules,
        "measuring_rules": scored.measuring,
        "settings": scored.settings,
        "inputs": scored.inputs,
        "results": scored.results,
        "notes": list(scored.notes),
        "classes": [list(pair) for pair in scored.classes],
        "fields": [list(pair) for pair in scored.fields],
        "entries": list(who.values()),
        "scores": scores,
        "tables": tables,
    }
    return values | {"integrity": integrity_of(values)}


def integrity_of(values: Json) -> str:
    """Return the SHA-256 of the values without their own integrity, in one spelling: sorted keys, no white space."""
    rest = {key: value for key, value in values.items() if key != "integrity"}
    return sha256_hex(json.dumps(rest, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode())


def scored_bytes(scored: Scored) -> bytes:
    """Return the file; equal values give equal bytes."""
    return (json.dumps(scored_values(scored), ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()


def read_scored(path: Path) -> tuple[Scored, Json]:
    """Return a scored event and the values of its file; see `parse_scored`."""
    return parse_scored(read_bytes(path), name=path.name)


def parse_scored(data: bytes, *, name: str = SCORED_FILE) -> tuple[Scored, Json]:
    """Return a scored event and the values it was read from.

    Raises
    ------
    InputError
        Where it is not JSON, of another format, or a part is missing.
    """
    do = "searchwake verify EVENT says what differs; searchwake standings EVENT --again scores anew"
    try:
        values = json.loads(decode_text(data, name=name))
    except json.JSONDecodeError as error:
        raise InputError(where=f"{name}, line {error.lineno}", what=f"this is not JSON ({error.msg})", do=do) from None
    if not isinstance(values, dict) or values.get("format") != FORMAT:
        raise InputError(where=name, what=f"this is not of the format {FORMAT}", do=do)
    try:
        return _scored(values), values
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(where=name, what=f"the file is damaged ({error!r})", do=do) from None


def _scored(values: Json) -> Scored:
    who = {item["bib"]: (str(item["name"]), str(item["class"])) for item in values["entries"]}
    scores = {key: _score_of(value) for key, value in values["scores"].items()}
    tables = tuple(
        Standings(
            table["scope"],
            table["class"],
            tuple(
                Place(
                    row["rank"],
                    scores[f"{table['scope']}/{row['bib']}"],
                    *who[row["bib"]],
                    tuple(Unclear(**item) for item in row["unclear"]),
                )
                for row in table["places"]
            ),
        )
        for table in values["tables"]
    )
    return Scored(
        name=values["event"]["name"],
        date=values["event"]["date"],
        engine=values["engine"],
        rules=values["rules"],
        measuring=values["measuring_rules"],
        settings=values["settings"],
        inputs=dict(values["inputs"]),
        results=dict(values["results"]),
        notes=tuple(values["notes"]),
        classes=tuple((a, b) for a, b in values["classes"]),
        fields=tuple((a, b) for a, b in values["fields"]),
        standings=tables,
        integrity=values["integrity"],
    )


def _rounded(values: Json) -> Json:
    return {key: _plain(value) for key, value in values.items()}


def _plain(value: Any) -> Any:
    """Return plain JSON values, numbers rounded to 1e-6, what is not finite as null."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return round(value, 6) + 0.0 if math.isfinite(value) else None
    return value


def _figure(figure: Measured | None) -> Json | None:
    return None if figure is None else _rounded(figure.as_json())


def _score(score: FieldScore) -> Json:
    values: Json = {
        key: _plain(getattr(score, key))
        for key in ("bib", "drill", "run", "status", "targets", "targets_low", "targets_high", "why", "passed")
    }
    values["seconds"] = _figure(score.seconds)
    values["lines"] = [
        {key: _plain(getattr(line, key)) for key in LINE_KEYS} | {"figure": _figure(line.figure)}
        for line in score.lines
    ]
    return values


LINE_KEYS = ("what", "rule", "rule_value", "seconds", "points", "source", "evidence", "ledger_row")


def _score_of(values: Json) -> FieldScore:
    lines = tuple(
        ScoreLine(
            **{key: line[key] for key in LINE_KEYS},
            figure=None if line["figure"] is None else figure_of(line["figure"]),
        )
        for line in values["lines"]
    )
    seconds = None if values["seconds"] is None else figure_of(values["seconds"])
    if seconds is not None and not isinstance(seconds, Figure):
        raise ValueError("seconds")
    rest = {key: value for key, value in values.items() if key not in ("lines", "seconds")}
    return FieldScore(**rest, seconds=seconds, lines=lines)
