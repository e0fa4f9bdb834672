"""The files of one run: each by its reader, and then all of them together, as a measuring would read them."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.files.clock_repairs import repaired_track
from analyzer.files.folder import not_read, parse_run, run_folder_faults, zone_of_drill
from analyzer.files.marks_csv import MarkRow, parse_marks_csv
from analyzer.files.names import LOG_ENDINGS, LOG_FILES, MARKS_FILES, READINGS_FILES, RUN_FILE
from analyzer.files.readings_csv import ReadingLog, ReadingRow, parse_readings_csv
from analyzer.files.run_logs import sheet_of
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import listed, read_bytes
from analyzer.files.times import zone_of
from analyzer.files.toml_table import nearest
from analyzer.files.tracks.formats import is_track_name, read_track
from analyzer.model.drill import Drill
from analyzer.model.recording import Recording, RunInfo
from analyzer.model.settings import CLOCK_REACH_S
from analyzer.workspace.check.report import Found, Report, SetAside, inside, joined, problems_of


@dataclass(frozen=True, slots=True)
class Parsed:
    """What the readers gave of a run's files, by role; a role is missing where its file is, or cannot be used."""

    data: dict[str, bytes]
    values: dict[str, Any]


def check_run(folder: Path, drill: Drill | None, shown: str) -> Report:
    """Return what is found in a run's folder; `drill` None where it is not known, `shown`: how the folder is called."""
    faults = tuple(
        item for error in run_folder_faults(folder) for item in problems_of(error, folder.parent, _above(shown))
    )
    try:
        parsed, bad = _parsed(folder, drill, shown)
    except InputError:  # the folder may not be looked into, as its faults tell
        return Report(faults)
    problems = [*faults, *bad]
    if drill is not None:
        unknown = unknown_transmitters(parsed.values, [t.id for t in drill.transmitters], shown)
        problems += unknown
    remarks = (*unread(folder, shown), *how_read(parsed.values, shown))
    reports = [Report(tuple(problems), remarks)]
    if not problems and drill is not None:
        reports.append(_together(folder, parsed.data, drill, shown))
    return joined(reports)


def _above(shown: str) -> str:
    return shown.rpartition("/")[0]


def _parsed(folder: Path, drill: Drill | None, shown: str) -> tuple[Parsed, list[Found]]:
    """Return what the readers give of the files that are read, and what they find wrong."""
    readers: dict[str, Callable[..., Any]] = {
        **dict.fromkeys(READINGS_FILES, parse_readings_csv),
        **dict.fromkeys(MARKS_FILES, parse_marks_csv),
        RUN_FILE: parse_run_toml,
    }
    parsed, bad = Parsed({}, {}), list[Found]()
    paths = [p for p in listed(folder) if p.name in readers or is_track_name(p.name)]
    for path in sorted(paths, key=lambda p: (p.name != RUN_FILE, p.name)):  # the zone of the other files is in run.toml
        read = readers.get(path.name, read_track)
        info: RunInfo = parsed.values.get(RUN_FILE, RunInfo())
        zone: dict[str, Any] = {} if path.name == RUN_FILE else {"zone": zone_of(info.zone)}
        if path.name != RUN_FILE and drill is not None:
            zone["zone"] = zone["zone"] or zone_of_drill(drill)
            zone |= {"day": drill.date} if path.name in LOG_FILES else {}
        if path.name in LOG_FILES:
            zone["sheet"] = sheet_of(path.name, info)
        try:
            parsed.data[path.name] = read_bytes(path)
            value = read(parsed.data[path.name], name=path.name, **zone)
            parsed.values[path.name] = repaired_track(value, info) if is_track_name(path.name) else value
        except AnalyzerError as error:
            bad += problems_of(error, folder, shown)
    return parsed, bad


def unknown_transmitters(values: dict[str, Any], ids: list[str], shown: str) -> list[Found]:
    """Return a line for each transmitter that a log or the marks name and the drill does not have."""
    log: ReadingLog | None = next((values[name] for name in READINGS_FILES if name in values), None)
    marks: tuple[MarkRow, ...] = next((values[name] for name in MARKS_FILES if name in values), ())
    found = []
    rows: Iterable[ReadingRow | MarkRow]
    for rows in (() if log is None else log.readings, marks):
        named = [row for row in rows if row.transmitter is not None and row.transmitter not in ids]
        count = Counter(row.transmitter for row in named)
        for name, times in count.items():
            first = next(row for row in named if row.transmitter == name)
            more = f" ({times} rows)" if times > 1 else ""
            what = f"the transmitter {quoted(name)} is not in drill.toml{more}"
            found.append(Found(inside(shown, first.where), what, nearest(str(name), ids)))
    return found


def unread(folder: Path, shown: str) -> list[Found]:
    """Return a remark on every file of a run's folder that is not for the program."""
    return [Found(inside(shown, name), "nobody reads this file", _instead(name)) for name in not_read(folder)]


def _instead(file: str) -> str:
    if file.lower().endswith((*LOG_ENDINGS, ".xls", ".numbers")):
        return "if it is a log, call it readings or marks (.csv, .txt, .xlsx or .ods); leave it, if it is a note"
    return "leave it, if it is a film or a note"


def how_read(values: dict[str, Any], shown: str) -> list[Found]:
    """Return a remark for each choice that was made in reading a track."""
    do = "nothing, if that is right; else name or remove the columns"
    return [
        Found(inside(shown, name), words, do)
        for name, fixes in values.items()
        if is_track_name(name)
        for words in fixes.told
    ]


def _together(folder: Path, data: dict[str, bytes], drill: Drill, shown: str) -> Report:
    try:
        recording = parse_run(folder.name, data, drill)
    except AnalyzerError as error:
        return Report(problems_of(error, folder, shown))
    aside = tuple(SetAside(inside(shown, i.name), reason, n) for i in recording.inputs for reason, n in i.dropped)
    return Report(tuple(beside_the_track(recording, shown)), set_aside=aside)


def beside_the_track(recording: Recording, shown: str) -> list[Found]:
    """Return a line where readings lie so far before or after the track that no clock offset brings them to it."""
    if recording.readings is None:
        return []
    times, track = recording.readings.time_s, recording.track.time_s
    early = int((times < track[0] - CLOCK_REACH_S).sum())
    late = int((times > track[-1] + CLOCK_REACH_S).sum())
    do = "check the day, the offset from UTC and the run of the log; clocks may differ by 90 s"
    file = next(one.name for one in recording.inputs if one.role == "readings")
    return [
        Found(inside(shown, file), f"{n} of {times.size} readings lie more than 90 s {side}", do)
        for n, side in ((early, "before the first fix"), (late, "after the last fix"))
        if n
    ]
