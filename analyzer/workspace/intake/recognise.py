"""What a file is, by its content and never by its name alone; pure.

The name only helps to word what is wrong with a table or TOML file that is nearly one that is read.
"""

import datetime as dt
import io
import itertools
import re
from dataclasses import replace
from pathlib import PurePosixPath

from analyzer.errors import InputError, quoted
from analyzer.files.cells import MAX_LINE, SEPARATOR_LINE, CellTable, content_lines, table_of_text, tables_of
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.log_table import HEADER_ROWS, has_column
from analyzer.files.log_words import MARK, READING
from analyzer.files.names import DRILL_FILE, MARKS_FILES, READINGS_FILES, RUN_FILE
from analyzer.files.rules_toml import parse_rules_toml
from analyzer.files.run_toml import KEYS as RUN_KEYS
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import MAX_BYTES, check_not_empty
from analyzer.files.table_text import decode_table, is_utf16
from analyzer.files.times import ZoneAsked, offset_text, utc_text
from analyzer.files.toml_source import toml_values
from analyzer.files.toml_table import parse_toml
from analyzer.files.tracks import formats
from analyzer.files.tracks.fixes import Fixes
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
from analyzer.files.tracks.settling import HELD_S, held_s
from analyzer.files.tracks.several import of_several
from analyzer.files.tracks.table_head import NAMES, commented_head, no_head, own_log, says, without_head
from analyzer.files.tracks.track import home_of, middle_of, timed
from analyzer.files.tracks.xml_points import root_of, scan_points
from analyzer.files.workbook import SPREADSHEET_ENDINGS, is_workbook
from analyzer.files.workbook_scan import damaged
from analyzer.workspace.intake.model import DRILL, MARKS, OTHER, READINGS, RULES, RUN, TRACK, WAYPOINTS
from analyzer.workspace.intake.not_ours import what_else
from analyzer.workspace.intake.recognise_logs import from_the_drill, mark_log, reading_log
from analyzer.workspace.intake.recognised import Reader, Recognised, counted
from analyzer.workspace.unforeseen import unforeseen_line

TOML_LINE = re.compile(r"\s*(\[|[A-Za-z_][\w-]*\s*=)")
TOML_HEADING = re.compile(r"^[ \t]*+\[{1,2}([\w-]++)[\].]", re.MULTILINE)
TOML_KEY = re.compile(r"^([\w-]++)[ \t]*+=", re.MULTILINE)
"""Neither goes back over what it has read, nor past the end of a line."""

TABLE_ENDINGS = (".csv", ".tsv")
HEAD_LINES = 2 * HEADER_ROWS
MOST_NAMED = 5
HEADER = (
    "it is kept and not used; write there how the columns are called: time, latitude, longitude for a track, "
    "time (or elapsed), reading_m for readings, time (or elapsed), mark for marks"
)


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


def _reader(data: bytes, name: str) -> tuple[str, Reader]:
    """Return the kind of a file and what reads it."""
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"<") or (data[:2] in (b"\xff\xfe", b"\xfe\xff") and b"<" in data[2:4]):
        return _xml_reader(data, name)
    form = format_in_bytes(data)
    if form is not None:
        return TRACK, _track(form)
    if is_workbook(data) or (data[:2] == b"PK" and name.lower().endswith(SPREADSHEET_ENDINGS)):
        return _workbook_reader(data, name)
    other = what_else(data)
    if other is not None:
        raise InputError(where=name, what=other[0], do=other[1])
    if is_utf16(data):
        return _text_reader(decode_table(data, name=name), name)
    if b"\x00" in data[:4096]:
        raise _unknown(name, "this is binary data of a kind that is not read")
    return _text_reader(decode_table(data, name=name), name)


def _xml_reader(data: bytes, name: str) -> tuple[str, Reader]:
    root = root_of(data, name=name)
    local = root.rpartition(":")[2]
    form = format_of_xml(local)
    if form is None:
        known = listed((f.name for f in formats.FORMATS if f.xml_root), "nor")
        raise _unknown(name, f"the XML is <{root[:40]}>, neither {known}")
    if local == "gpx" and _has_waypoints_alone(data, name):
        return WAYPOINTS, _waypoints
    return TRACK, _track(form)


def _has_waypoints_alone(data: bytes, name: str) -> bool:
    if b"trkpt" in data:  # most are tracks, and their reader takes long enough
        return False
    scan = scan_points(data, name=name, point="trkpt", group="trk")
    return not scan.points and "wpt" in scan.elements


def _text_reader(text: str, name: str) -> tuple[str, Reader]:
    number, first = next(content_lines(text), (0, ""))
    first = first[:MAX_LINE]
    by_name: dict[str, tuple[str, Reader]] = {
        **dict.fromkeys(READINGS_FILES, (READINGS, reading_log)),
        **dict.fromkeys(MARKS_FILES, (MARKS, mark_log)),
        RUN_FILE: (RUN, _run),
        DRILL_FILE: (DRILL, _drill),
    }
    table = format_of_table()
    by_name |= {f"track{ending}": (TRACK, _track(table)) for ending in table.endings}
    if TOML_LINE.match(first) and not SEPARATOR_LINE.fullmatch(first):
        kind = _toml_kind(text)
        found = {DRILL: _drill, RUN: _run, RULES: _rules}.get(kind)
        if found is not None:
            return kind, found
    else:
        found_table = _table_reader(_beginning(commented_head(text), name), name)
        if found_table is not None:
            return found_table
    nearly = by_name.get(PurePosixPath(name).name.lower())
    if nearly is not None:
        return nearly
    if without_head(text):
        raise no_head(f"{name}, line {number}")
    if name.lower().endswith(TABLE_ENDINGS):
        raise InputError(where=name, what=f"the first line, {quoted(first)}, names no columns that are read", do=HEADER)
    raise _unknown(name, f"the text, which begins with {quoted(first)}, is of no kind that is read")


def _beginning(text: str, name: str) -> tuple[CellTable, ...]:
    """Return the first rows of a text as a table, in which its header is; nothing where there is no row."""
    lines = itertools.islice(io.StringIO(text), HEAD_LINES)
    try:
        return (table_of_text("".join(line[:MAX_LINE] for line in lines), name=name),)
    except InputError:
        return ()


def _table_reader(tables: tuple[CellTable, ...], name: str) -> tuple[str, Reader] | None:
    """Return which log or track is in tables, by their columns; None where none is."""
    readings, marks = has_column(tables, READING), has_column(tables, MARK)
    track = next((found for found in map(says, tables) if found), "")
    if track == NAMES and own_log(tables):
        raise InputError(
            where=name,
            what="one table holds positions and a log",
            do="copy it into the run's folder twice, as track.csv and as readings.csv or marks.csv",
        )
    if track != NAMES and readings:  # the length walked is a distance too
        return READINGS, reading_log
    if track != NAMES and marks:
        return MARKS, mark_log
    return (TRACK, _track(format_of_table())) if track else None


def _workbook_reader(data: bytes, name: str) -> tuple[str, Reader]:
    if not is_workbook(data):
        raise damaged(name)
    tables = tables_of(data, name=name)
    found = _table_reader(tables, name)
    if found is None:
        sheets = ", ".join(quoted(table.sheet) for table in tables[:MOST_NAMED])
        raise InputError(where=name, what=f"no sheet ({sheets}) has columns that are read", do=HEADER)
    return found


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
        zone = ZoneAsked()
        fixes = form.read(data, name=name, zone=zone)
        kept, counts = timed(fixes)
        several = of_several(kept, chosen=False)
        if several is not None:
            return Recognised(TRACK, ending=form.endings[0], problem=str(several))
        latitude, longitude = middle_of(kept) or (None, None)
        known = fixes.dated and not zone.asked
        told = (*fixes.told, *held_words(kept), *filter(None, [from_the_drill(False, zone.asked)]))
        return Recognised(
            TRACK,
            ending=form.endings[0],
            begin_s=float(kept.time_s[0]) if known else None,
            end_s=float(kept.time_s[-1]) if known else None,
            day=utc_text(float(kept.time_s[0]))[:10] if zone.asked else "",
            zone_asked=zone.asked,
            rows=fixes.rows,
            aside=counted((*fixes.dropped, *counts)),
            title=form.title(data) if form.title is not None else "",
            elapsed=fixes.elapsed,
            told="; ".join(told),
            latitude=latitude,
            longitude=longitude,
        )

    return read


def held_words(fixes: Fixes) -> tuple[str, ...]:
    """Return a line where the place stays the same for long."""
    seconds = held_s(fixes)
    return (f"its place stays the same to the last digit for {seconds:.0f} s on end",) if seconds >= HELD_S else ()


def _waypoints(data: bytes, name: str) -> Recognised:
    return Recognised(WAYPOINTS, rows=len(parse_waypoints(data, name=name)))


def _run(data: bytes, name: str) -> Recognised:
    info = parse_run_toml(data, name=name)
    return Recognised(RUN, rows=1, title=info.searcher, zone=info.zone)


def _drill(data: bytes, name: str) -> Recognised:
    """Return a drill. One that takes positions from a waypoint file is checked when both are there."""
    needs = waypoint_file(data, name=name)
    if needs is not None:
        table = parse_toml(data, name=name).table("drill", needed=True)
        start = table.values.get("start")
        zone = offset_text(start) if isinstance(start, dt.datetime) else ""
        return Recognised(DRILL, rows=1, title=table.text("name"), needs=needs, zone=zone)
    drill = parse_drill_toml(data, name=name)
    latitude, longitude = home_of(drill).tolist()
    day = drill.date.isoformat() if drill.date is not None else ""
    title, rows = drill.name, len(drill.transmitters)
    zone = offset_text(drill.start)
    return Recognised(DRILL, rows=rows, title=title, latitude=latitude, longitude=longitude, day=day, zone=zone)


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
