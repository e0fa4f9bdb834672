"""What a file is, by its content and never by its name alone; pure.

The name only helps to word what is wrong with a table or TOML file that is nearly one that is read.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import PurePosixPath

from analyzer.errors import InputError, quoted
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.marks_csv import parse_marks_csv
from analyzer.files.names import DRILL_FILE, MARKS_FILE, READINGS_FILE, RUN_FILE
from analyzer.files.readings_csv import parse_readings_csv
from analyzer.files.rules_toml import parse_rules_toml
from analyzer.files.run_toml import KEYS as RUN_KEYS
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import MAX_BYTES, check_not_empty, decode_text
from analyzer.files.table import MAX_LINE, content_lines
from analyzer.files.toml_source import toml_values
from analyzer.files.toml_table import parse_toml
from analyzer.files.tracks import formats
from analyzer.files.tracks.formats import (
    PACKED_ENDING,
    TrackFormat,
    format_in_bytes,
    format_of_table,
    format_of_xml,
    listed,
)
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.files.tracks.packed import gunzip, is_gzip
from analyzer.files.tracks.several import of_several
from analyzer.files.tracks.track import timed
from analyzer.files.tracks.xml_points import scan_points
from analyzer.workspace.intake.model import DRILL, MARKS, OTHER, READINGS, RULES, RUN, TRACK, WAYPOINTS
from analyzer.workspace.intake.not_ours import what_else
from analyzer.workspace.unforeseen import unforeseen_line

TOML_LINE = re.compile(r"\s*(\[|[A-Za-z_][\w-]*\s*=)")
TOML_HEADING = re.compile(r"^[ \t]*+\[{1,2}([\w-]++)[\].]", re.MULTILINE)
TOML_KEY = re.compile(r"^([\w-]++)[ \t]*+=", re.MULTILINE)
"""Neither goes back over what it has read, nor past the end of a line."""

TABLE_ENDINGS = (".csv", ".tsv")
HEADER = (
    "it is kept and not used; write there how the columns are called: time, latitude, longitude for a track, "
    "time (or elapsed), reading_m for readings, time (or elapsed), mark for marks"
)


@dataclass(frozen=True, slots=True)
class Recognised:
    """What a file is; the fields are those of `IncomingFile`."""

    kind: str
    ending: str = ""
    begin_s: float | None = None
    end_s: float | None = None
    elapsed: bool = False
    rows: int = 0
    title: str = ""
    needs: str = ""
    aside: str = ""
    problem: str = ""


def recognise(data: bytes, *, name: str) -> Recognised:
    """Return what a file is. A file that cannot be used has the reader's one line in `problem`; nothing is raised.

    An error that nobody thought of is that file's too: what is loaded with it goes on.
    """
    kind = OTHER
    try:
        if len(data) > MAX_BYTES:
            raise InputError(
                where=name,
                what=f"the file has {len(data) / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB are read",
                do="cut the recording to this run and export it again",
            )
        check_not_empty(data, name=name)
        packed = is_gzip(data)
        content = gunzip(data, name=name) if packed else data
        kind, reader = _reader(content, name)
        if packed and kind != TRACK:
            raise _packed(name)
        found = reader(content, name)
        return replace(found, ending=found.ending + PACKED_ENDING) if packed else found
    except InputError as error:
        return Recognised(kind, problem=str(error))
    except Exception as error:
        return Recognised(kind, problem=unforeseen_line(name, "reading", error))


Reader = Callable[[bytes, str], Recognised]


def _reader(data: bytes, name: str) -> tuple[str, Reader]:
    """Return the kind of a file and what reads it."""
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"<") or (data[:2] in (b"\xff\xfe", b"\xfe\xff") and b"<" in data[2:4]):
        return _xml_reader(data, name)
    form = format_in_bytes(data)
    if form is not None:
        return TRACK, _track(form)
    other = what_else(data)
    if other is not None:
        raise InputError(where=name, what=other[0], do=other[1])
    if b"\x00" in data[:4096]:
        raise _unknown(name, "this is binary data of a kind that is not read")
    return _text_reader(decode_text(data, name=name), name)


def _xml_reader(data: bytes, name: str) -> tuple[str, Reader]:
    scan = scan_points(data, name=name, point="trkpt", group="trk")
    root = scan.root.rpartition(":")[2]
    form = format_of_xml(root)
    if form is None:
        known = listed((f.name for f in formats.FORMATS if f.xml_root), "nor")
        raise _unknown(name, f"the XML is <{scan.root[:40]}>, neither {known}")
    if root == "gpx" and not scan.points and "wpt" in scan.elements:
        return WAYPOINTS, _waypoints
    return TRACK, _track(form)


def _text_reader(text: str, name: str) -> tuple[str, Reader]:
    _, first = next(content_lines(text), (0, ""))
    first = first[:MAX_LINE]
    by_name: dict[str, tuple[str, Reader]] = {
        READINGS_FILE: (READINGS, _readings),
        MARKS_FILE: (MARKS, _marks),
        RUN_FILE: (RUN, _run),
        DRILL_FILE: (DRILL, _drill),
    }
    by_name |= {f"track{ending}": (TRACK, _track(f)) for f in formats.FORMATS if f.columns for ending in f.endings}
    if TOML_LINE.match(first):
        kind = _toml_kind(text)
        found = {DRILL: _drill, RUN: _run, RULES: _rules}.get(kind)
        if found is not None:
            return kind, found
    else:
        columns = {cell.strip().lower() for cell in re.split(r"[,;\t]", first)}
        if "reading_m" in columns:
            return READINGS, _readings
        if "mark" in columns:
            return MARKS, _marks
        form = format_of_table(columns)
        if form is not None:
            return TRACK, _track(form)
    nearly = by_name.get(PurePosixPath(name).name.lower())
    if nearly is not None:
        return nearly
    if name.lower().endswith(TABLE_ENDINGS):
        raise InputError(where=name, what=f"the first line, {quoted(first)}, names no columns that are read", do=HEADER)
    raise _unknown(name, f"the text, which begins with {quoted(first)}, is of no kind that is read")


def _toml_kind(text: str) -> str:
    """Return which TOML file a text is by its tables and keys; broken TOML by the headings that can be seen."""
    try:
        keys = set(toml_values(text, name=""))
    except InputError:
        keys = set(TOML_HEADING.findall(text)) | set(TOML_KEY.findall(text))
    if keys & {"drill", "transmitter"}:
        return DRILL
    if keys & {"rules", "weights", "seconds_points", "deduction"}:
        return RULES
    return RUN if keys & {"run", *RUN_KEYS} else OTHER


def _track(form: TrackFormat) -> Reader:
    def read(data: bytes, name: str) -> Recognised:
        fixes = form.read(data, name=name)
        kept, counts = timed(fixes)
        several = of_several(kept, chosen=False)
        if several is not None:
            return Recognised(TRACK, ending=form.endings[0], problem=str(several))
        return Recognised(
            TRACK,
            ending=form.endings[0],
            begin_s=float(kept.time_s[0]) if fixes.dated else None,
            end_s=float(kept.time_s[-1]) if fixes.dated else None,
            rows=fixes.rows,
            aside=", ".join(f"{count} {reason}" for reason, count in (*fixes.dropped, *counts)),
            title=form.title(data) if form.title is not None else "",
        )

    return read


def _waypoints(data: bytes, name: str) -> Recognised:
    return Recognised(WAYPOINTS, rows=len(parse_waypoints(data, name=name)))


def _readings(data: bytes, name: str) -> Recognised:
    log = parse_readings_csv(data, name=name)
    found = Recognised(READINGS, elapsed=log.elapsed, rows=log.rows)
    if log.elapsed:
        return found
    return replace(found, begin_s=log.readings[0].time_s, end_s=log.readings[-1].time_s)


def _marks(data: bytes, name: str) -> Recognised:
    marks = parse_marks_csv(data, name=name)
    times = [m.time_s for m in marks if not m.elapsed]
    found = Recognised(MARKS, elapsed=not times, rows=len(marks))
    return replace(found, begin_s=min(times), end_s=max(times)) if times else found


def _run(data: bytes, name: str) -> Recognised:
    return Recognised(RUN, rows=1, title=parse_run_toml(data, name=name).searcher)


def _drill(data: bytes, name: str) -> Recognised:
    """Return a drill. One that takes positions from a waypoint file is checked when both are there."""
    needs = waypoint_file(data, name=name)
    if needs is not None:
        table = parse_toml(data, name=name).table("drill", needed=True)
        return Recognised(DRILL, rows=1, title=table.text("name"), needs=needs)
    drill = parse_drill_toml(data, name=name)
    return Recognised(DRILL, rows=len(drill.transmitters), title=drill.name)


def _rules(data: bytes, name: str) -> Recognised:
    rules = parse_rules_toml(data, name=name)
    return Recognised(RULES, rows=1, title=f"{rules.name}, version {rules.version}")


def _packed(name: str) -> InputError:
    return InputError(
        where=name, what="only a track is read packed with gzip", do="unpack the file and load it as it is"
    )


def _unknown(name: str, what: str) -> InputError:
    tracks = ", ".join(form.name for form in formats.FORMATS)
    known = f"read are tracks ({tracks}), reading logs, marks, drill.toml, run.toml, rule sheets and zips"
    return InputError(where=name, what=what, do=f"it is kept and not used ({known})")
