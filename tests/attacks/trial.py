"""One input of an attack: what reads it, and what comes of it."""

import datetime as dt
import traceback
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

from analyzer.engine.pipeline import analyze_drill
from analyzer.errors import AnalyzerError, FileError, InputError
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.events.files.rules_toml import parse_event_rules
from analyzer.events.files.scored_json import parse_scored, scored_bytes
from analyzer.files.cells import tables_of, text_of
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.folder import parse_run
from analyzer.files.json_source import json_values
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.renew_rules import renewed_rules
from analyzer.files.results.result_json import parse_result, result_bytes
from analyzer.files.results.run_line_json import from_json
from analyzer.files.rules_toml import default_rules, parse_rules_toml
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import decode_text
from analyzer.files.tracks.formats import FORMATS, TrackFormat, read_track
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.files.tracks.track import timed
from analyzer.lab.simulate.series import series_from_csv
from analyzer.model.result import RunResult
from analyzer.workspace.intake.recognise import recognise
from analyzer.workspace.intake.split import split_tracks
from analyzer.workspace.intake.split_sheets import split_sheets
from analyzer.workspace.people.people_toml import parse_people
from tests.attacks.mutate import ACCEPTED, mutated
from tests.attacks.samples import samples, whole_runs

LONGEST_MESSAGE = 1000
WHOLE_EVERY = 100
"""Of so many inputs one is a whole run."""
READ, REFUSED, RAW, MESSAGE = "read", "refused", "raw exception", "bad message"


@dataclass(frozen=True)
class Outcome:
    """What came of one input: one of READ, REFUSED, RAW, MESSAGE; `kind` of input; `detail`: the error."""

    kind: str
    what: str
    detail: str = ""


def _track(form: TrackFormat) -> Callable[[bytes], object]:
    return lambda data: timed(form.read(data, name=f"track{form.endings[0]}", zone=None))


def _drill(data: bytes) -> None:
    waypoint_file(data)
    parse_drill_toml(data)


def _log(parse: Callable[..., Any]) -> Callable[[bytes], object]:
    """Return what reads a log, with the day and the zone of a drill, which logs without their own take on."""
    return lambda data: parse(data, zone=dt.UTC, day=dt.date(2026, 1, 17))


def _sheets(data: bytes) -> None:
    """Read every cell of a spreadsheet as a text, and the log that may be in it."""
    tables = tables_of(data, name="log.xlsx")
    for table in tables:
        for row in table.rows:
            "".join(map(text_of, row.cells))
    _log(parse_readings_csv)(data)


def _sheets_of_runs(data: bytes) -> None:
    """Open a workbook into the logs of its sheets; what is wrong with one of them is refused as a file is."""
    for sheet, found in split_sheets(data, name="logs.xlsx"):
        if found.problem:
            raise InputError(where=sheet, what=found.problem, do="mend it")


def _several_tracks(data: bytes) -> None:
    """Open a recording into the tables of its tracks, and read these, in the zone of a place where they have none."""
    for path, _, table in split_tracks(data, name="day", ending=".gpx")[0]:
        timed(read_track(table, name=path, zone=dt.timezone(dt.timedelta(hours=1))))


READERS: dict[str, Callable[[bytes], Any]] = {
    **{form.name.lower(): _track(form) for form in FORMATS},
    "gzip": lambda data: timed(read_track(data, name="track.gpx.gz")),
    "waypoints": parse_waypoints,
    "readings": _log(parse_readings_csv),
    "marks": _log(parse_marks_csv),
    "sheets": _sheets,
    "runs in sheets": _sheets_of_runs,
    "several tracks": _several_tracks,
    "drill": _drill,
    "run": parse_run_toml,
    "rules": parse_rules_toml,
    "event": parse_event_toml,
    "event_rules": lambda data: parse_event_rules(data, name="rules.toml"),
    "people": parse_people,
    "series": lambda data: series_from_csv(decode_text(data, name="noise.csv")),
    "renewed": renewed_rules,
    "scored": lambda data: scored_bytes(parse_scored(data)),
    "result": lambda data: result_bytes(parse_result(data)),
    "line": lambda data: from_json(json_values(data, name="line", do="make it again")),
}


def made(seed: int) -> tuple[str, bytes | tuple[bytes, dict[str, bytes]]]:
    """Return the input of a seed: its kind and its file, or for a whole run its drill and its files."""
    rng = Random(seed)
    if seed % WHOLE_EVERY == 0:
        drill, files = rng.choice(whole_runs())
        every = {"drill.toml": drill, **files}
        name = rng.choice(list(every))
        every[name] = mutated(every[name], "", rng, ACCEPTED, most=1)
        return "whole run", (every.pop("drill.toml"), every)
    kind = rng.choice(list(READERS))
    return kind, mutated(rng.choice(samples()[kind]), kind, rng)


def tried(seed: int) -> Outcome:
    """Return what comes of the input of a seed; warnings of libraries count as exceptions, for they reach terminals."""
    kind, data = made(seed)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        if isinstance(data, tuple):
            return outcome(kind, lambda: _whole(*data))
        own = outcome(kind, lambda: READERS[kind](data))
        if own.what in (RAW, MESSAGE):
            return own
        seen = outcome(f"{kind}, recognised", lambda: _recognised(data, kind))
        return seen if seen.what in (RAW, MESSAGE) else own


def outcome(kind: str, call: Callable[[], object]) -> Outcome:
    """Return what comes of a call."""
    try:
        call()
    except AnalyzerError as error:
        for line in _lines(error):
            if len(line) > LONGEST_MESSAGE or not line.isprintable():
                return Outcome(kind, MESSAGE, ascii(line[:300]))
        return Outcome(kind, REFUSED, str(error))
    except MemoryError:
        raise
    except Exception:
        return Outcome(kind, RAW, traceback.format_exc(limit=-4))
    return Outcome(kind, READ)


def _lines(error: AnalyzerError) -> Iterator[str]:
    """Yield the lines that are shown: of a file with several problems one for each."""
    if isinstance(error, FileError):
        yield from (f"{p.where}: {p.what}; {p.do}" for p in error.problems)
        yield from str(error).split("\n")
    else:
        yield str(error)


def _recognised(data: bytes, kind: str) -> None:
    problem = recognise(data, name=f"{kind}.toml").problem
    for line in problem.split("\n"):
        if len(line) > LONGEST_MESSAGE or not line.isprintable():
            raise ValueError(f"a bad message: {line[:300]!a}")


def _whole(drill: bytes, files: dict[str, bytes]) -> None:
    """Measure a run, and write and read its result."""
    placed = parse_drill_toml(drill)
    recording = parse_run("run-1", files, placed)
    for found in analyze_drill(placed, [recording], default_rules(), draws=2):
        if not isinstance(found, RunResult):
            raise found
        parse_result(result_bytes(found))
