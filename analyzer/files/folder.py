"""Drill folders and run folders: which files there are, and all of a run in one value."""

import datetime as dt
import difflib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path, PurePath

from analyzer.errors import InputError
from analyzer.files.clock_repairs import marks_hours, repaired_track, told_of_log
from analyzer.files.drill_toml import Waypoints, parse_drill_toml
from analyzer.files.names import (
    DRILL_FILE,
    LOG_ENDINGS,
    LOG_FILES,
    MARKS_FILE,
    MARKS_FILES,
    READINGS_FILE,
    READINGS_FILES,
    RUN_FILE,
    RUNS,
    TRUTH_FILE,
    is_meant_as_log,
)
from analyzer.files.run_logs import RunLogs, run_logs
from analyzer.files.run_times import RunParts, assemble
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import listed, not_a_file, read_bytes, sha256_hex
from analyzer.files.times import zone_of
from analyzer.files.tracks.fixes import Fixes
from analyzer.files.tracks.formats import is_run_input, is_track_name, read_track, track_endings
from analyzer.files.tracks.formats import listed as in_words
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.files.tracks.track import Counts
from analyzer.model.drill import Drill
from analyzer.model.recording import InputFile, Recording, RunInfo

RUN_FILES = (*LOG_FILES, RUN_FILE)


@dataclass(frozen=True, slots=True)
class DrillFolder:
    """A drill folder: its drill, the run folders in the order of their names, and the drill's own files as read."""

    path: Path
    drill: Drill
    runs: tuple[Path, ...]
    inputs: tuple[InputFile, ...]


def read_drill_folder(path: Path | str) -> DrillFolder:
    """Return the drill of a folder and where its runs are.

    Raises
    ------
    InputError
        Where the folder, its drill.toml or its runs are missing or bad. Runs themselves are not read.
    """
    folder = Path(path)
    if not folder.is_dir():
        raise InputError(
            where=str(path), what="there is no such drill folder", do="give a folder with drill.toml in it"
        )
    if (folder / DRILL_FILE).exists() and not (folder / DRILL_FILE).is_file():
        raise not_a_file(folder / DRILL_FILE)
    if not (folder / DRILL_FILE).is_file():
        raise InputError(
            where=folder.resolve().name, what="there is no drill.toml in the folder", do=_where_a_drill_is(folder)
        )
    data = read_bytes(folder / DRILL_FILE)
    inputs = [InputFile("drill", DRILL_FILE, sha256_hex(data), rows=1, used=1)]

    def waypoints_of(file: str) -> Waypoints:
        site = read_bytes(folder / file)
        waypoints = parse_waypoints(site, name=file)
        inputs.append(InputFile("waypoints", file, sha256_hex(site), rows=len(waypoints), used=len(waypoints)))
        return waypoints

    drill = parse_drill_toml(data, waypoints_of=waypoints_of)
    return DrillFolder(path=folder, drill=drill, runs=run_folders(folder), inputs=tuple(inputs))


def _where_a_drill_is(folder: Path) -> str:
    """Return what to do where a folder is no drill: most often one above a drill, or a run of it, was given."""
    inside = sorted(path for pattern in (f"*/{DRILL_FILE}", f"*/*/{DRILL_FILE}") for path in folder.glob(pattern))
    if inside:
        return f"give the folder of a drill, such as {inside[0].parent}"
    parents = folder.resolve().parents
    if parents[0].name == RUNS and (parents[1] / DRILL_FILE).is_file():
        return f"this is a run; give the folder of its drill, {parents[1].name}"
    return "write one; a drill is a folder with drill.toml and runs/"


def run_folders(folder: Path) -> tuple[Path, ...]:
    """Return the sub-folders of `runs`, by name; hidden ones are left out.

    Raises
    ------
    InputError
        Where there is no run folder, or runs/ may not be looked into.
    """
    runs = folder / RUNS
    found = [p for p in listed(runs) if p.is_dir() and not p.name.startswith(".")] if runs.is_dir() else []
    if not found:
        raise InputError(
            where=folder.resolve().name,
            what="there is no run in runs/",
            do="put each run into its own folder there, with its track",
        )
    return tuple(found)


def run_files(run_dir: Path) -> dict[str, Path]:
    """Return role -> file of a run folder; roles are track, readings, marks and run.

    Files of other kinds (a video, a note) may lie beside them; a table or a track under another name is an error,
    for it was surely meant to be read.

    Raises
    ------
    InputError
        Where there is no track or more than one, or a file is misnamed: the first of `run_folder_faults`.
    """
    for fault in run_folder_faults(run_dir):
        raise fault
    found = _readable(run_dir)
    return {"track": _tracks(found)[0]} | {p.stem: p for p in found if p.name in RUN_FILES}


def run_folder_faults(run_dir: Path) -> list[InputError]:
    """Return all that is wrong with which files there are in a run folder."""
    try:
        found = _readable(run_dir)
    except InputError as error:
        return [error]
    tracks = _tracks(found)
    faults = [_misnamed(run_dir, p, tracks) for p in found if p not in tracks and p.name not in RUN_FILES]
    if not tracks:
        do = f"add {in_words((f'track{ending}' for ending in track_endings()), 'or')}"
        faults.append(InputError(where=run_dir.name, what="there is no track in the run's folder", do=do))
    if len(tracks) > 1:
        what = f"there are two tracks, {tracks[0].name} and {tracks[1].name}"
        faults.append(InputError(where=run_dir.name, what=what, do="keep one; a run has one track"))
    for role, files in (("reading logs", READINGS_FILES), ("files of marks", MARKS_FILES)):
        names = [path.name for path in found if path.name in files]
        if len(names) > 1:
            what = f"there are two {role}, {names[0]} and {names[1]}"
            faults.append(InputError(where=run_dir.name, what=what, do="keep one; a run has one"))
    return faults


def track_file(run: Path) -> Path | None:
    """Return the track of a run folder, None where there is none.

    Raises
    ------
    InputError
        Where the folder may not be looked into.
    """
    if not run.is_dir():
        return None
    return next((p for p in listed(run) if is_track_name(p.name)), None)


def _readable(run_dir: Path) -> list[Path]:
    return [p for p in listed(run_dir) if is_run_input(p.name)]


def _tracks(found: list[Path]) -> list[Path]:
    return [p for p in found if is_track_name(p.name)]


def _misnamed(run_dir: Path, path: Path, tracks: list[Path]) -> InputError:
    do = f"name it track{path.suffix.lower()}" if not tracks and path.suffix != ".toml" else "remove it"
    if is_meant_as_log(path.name) and path.suffix.lower() not in LOG_ENDINGS:
        stem = MARKS_FILE if path.name.lower().startswith("mark") else READINGS_FILE
        do = f"save it as {PurePath(stem).stem}.xlsx, .ods or .csv"
        return InputError(where=f"{run_dir.name}/{path.name}", what="no log of this ending is read", do=do)
    close = difflib.get_close_matches(path.name.lower(), RUN_FILES, n=1, cutoff=0.75)
    return InputError(
        where=f"{run_dir.name}/{path.name}",
        what="no file of this name is read",
        do=f"name it {close[0]}" if close else do,
    )


def read_run(run_dir: Path | str, drill: Drill) -> Recording:
    """Return all that was recorded of one run.

    Raises
    ------
    InputError
        Where a file is bad or does not fit the drill; `where` begins with the run's name.
    """
    folder = Path(run_dir)
    files = run_files(folder)
    try:
        data = {role: read_bytes(path) for role, path in files.items()}
        recording = parse_run(folder.name, {files[role].name: content for role, content in data.items()}, drill)
        return replace(recording, not_read=not_read(folder))
    except InputError as error:
        raise (error if error.where.startswith(f"{folder}/") else error.under(folder.name)) from None


def parse_run(run_id: str, data: dict[str, bytes], drill: Drill) -> Recording:
    """Return a recording from the bytes of a run's files by name ("track.gpx", READINGS_FILE, ...).

    Raises
    ------
    InputError
        As `read_run`.
    """
    track_name = next(name for name in data if is_track_name(name))
    info = parse_run_toml(data[RUN_FILE]) if RUN_FILE in data else RunInfo()
    zone = zone_of(info.zone) or zone_of_drill(drill)
    fixes = repaired_track(read_track(data[track_name], name=track_name, zone=zone), info)
    logs = run_logs(data, zone=zone, day=drill.date, info=info)
    parts = assemble(fixes, logs.readings, logs.mark_rows, drill, info)
    inputs = [
        InputFile("track", track_name, sha256_hex(data[track_name]), fixes.rows, *_used(fixes, parts), fixes.told)
    ]
    inputs += _log_inputs(logs, parts, data, info)
    if RUN_FILE in data:
        inputs.append(InputFile("run", RUN_FILE, sha256_hex(data[RUN_FILE]), rows=1, used=1))
    return Recording(
        run_id=run_id,
        info=info,
        time_zero=dt.datetime.fromtimestamp(parts.time_zero_s, tz=dt.UTC),
        track=parts.track,
        readings=parts.readings,
        marks=parts.marks,
        inputs=tuple(inputs),
    )


def not_read(run_dir: Path) -> tuple[str, ...]:
    """Return the names of the files in a run's folder that are not for the program, hidden ones left out.

    Raises
    ------
    InputError
        Where the folder may not be looked into.
    """
    return tuple(
        path.name
        for path in listed(run_dir)
        if not is_run_input(path.name) and path.name != TRUTH_FILE and path.name[0] != "."
    )


def zone_of_drill(drill: Drill) -> dt.tzinfo | None:
    """Return the offset from UTC that a drill's start is written with, None where it is none of a place: Z is UTC, and
    says nothing of the clocks there."""
    offset = None if drill.start is None else drill.start.utcoffset()
    return dt.timezone(offset) if offset else None


def _used(fixes: Fixes, parts: RunParts) -> tuple[int, Counts]:
    return len(parts.track.time_s), fixes.dropped + parts.dropped


def _log_inputs(logs: RunLogs, parts: RunParts, data: Mapping[str, bytes], info: RunInfo) -> list[InputFile]:
    """Return what was read of the logs that there are; a workbook that holds both counts as two."""
    inputs = []
    log, marks = logs.readings, logs.marks
    if log is not None and parts.readings is not None:
        dropped = log.dropped + parts.dropped_readings + logs.beside_readings
        used = parts.readings.time_s.size
        inputs.append(
            InputFile(
                "readings",
                log.name,
                sha256_hex(data[log.name]),
                log.rows,
                used,
                dropped,
                told_of_log(info.readings_hours),
            )
        )
    if marks is not None:
        file, dropped = logs.marks_file, marks.dropped + parts.dropped_marks + logs.beside_marks
        told = told_of_log(marks_hours(file, info))
        inputs.append(InputFile("marks", file, sha256_hex(data[file]), marks.rows, len(parts.marks), dropped, told))
    return inputs
