"""Files into a drill: each run is checked against the drill, built aside, and moved into place as a whole.

Bytes are those of the originals. What is there already is never overwritten, and a run that the drill's reader would
refuse is not put in: its line says why.
"""

import dataclasses
import math
import os
import shutil
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.clock_repairs import HOUR_S, WEEK_S
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.folder import parse_run, track_file
from analyzer.files.hashes import hash_now
from analyzer.files.names import DRILL_FILE, MARKS_FILE, READINGS_FILE, RUN_FILE, RUNS
from analyzer.files.run_toml import parse_run_toml
from analyzer.files.source import listed, read_bytes, sha256_hex, write_new
from analyzer.files.times import offset_text
from analyzer.files.tracks.track import home_of
from analyzer.model.drill import Drill
from analyzer.model.recording import RunInfo
from analyzer.workspace.intake.model import (
    MARKS,
    NEW,
    OLD,
    READINGS,
    RULES,
    RUN,
    TRACK,
    WAYPOINTS,
    YES,
    IncomingFile,
    Plan,
)
from analyzer.workspace.intake.model import DrillPlace as Place
from analyzer.workspace.intake.names import safe_name
from analyzer.workspace.intake.originals import read_original, storage_error, sync_folder
from analyzer.workspace.intake.repairs import keys_of
from analyzer.workspace.layout import DRILLS, RULE_SHEETS
from analyzer.workspace.runs.rewrite import Value, rewritten, with_window
from analyzer.workspace.unforeseen import unforeseen_line

FILE_NAMES = {READINGS: READINGS_FILE, MARKS: MARKS_FILE, RUN: RUN_FILE}


@dataclasses.dataclass(frozen=True, slots=True)
class Placed:
    """What was put where. `files`: id of each file and the run or drill that it is part of now. `changed`, `notes`: as
    for `Outcome`."""

    drill: str
    runs: tuple[str, ...] = ()
    files: tuple[tuple[int, str], ...] = ()
    failures: tuple[str, ...] = ()
    changed: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()


def drill_places(workspace: Path, *, beside: Collection[str] = ()) -> tuple[Place, ...]:
    """Return the drills of a workspace; one that cannot be read has its folder's name.

    `beside`: folders' names that are left out, unread.
    """
    return tuple(_place(path) for name, path in sorted(drill_paths(workspace).items()) if name not in beside)


def drill_paths(workspace: Path) -> dict[str, Path]:
    """Return the folder of each drill by its name: those in `drills/`, and those that lie in the workspace itself."""
    found: dict[str, Path] = {}
    for folder in (workspace, workspace / DRILLS):
        for path in listed(folder) if folder.is_dir() else ():
            if not path.name.startswith(".") and (path / DRILL_FILE).is_file():
                found[path.name] = path
    return found


def put(workspace: Path, plan: Plan, *, scratch: Path, said: Mapping[int, Mapping[str, Value]] | None = None) -> Placed:
    """Put the files of a plan into its drill.

    Parameters
    ----------
    workspace : Path
    plan : Plan
        With nothing open.
    scratch : Path
        A folder on the same disk, in which runs are built.
    said : mapping, optional
        Id of a track -> keys of its run.toml that a person gave; without any, files stay byte for byte as they came.

    Raises
    ------
    InputError
        Where the drill itself cannot be used or made. Runs that cannot be used are in the answer.
    """
    files: list[tuple[int, str]] = []
    if plan.drill.startswith(NEW):
        key, own = plan.folder, _new_drill(workspace, plan, scratch)
        files += [(file.id, key) for file in own]
    else:
        key = plan.drill.removeprefix(OLD)
    folder = drill_paths(workspace).get(key)
    if folder is None:
        raise InputError(where=key, what="there is no such drill any more", do="choose another one")
    drill = read_drill_toml(folder / DRILL_FILE)
    runs, failures = [], []
    for row in plan.runs:
        if row.use != YES:
            continue
        parts, keys = plan.parts_of(row), {**(said or {}).get(row.track.id, {}), **keys_of(plan, row)}
        try:
            _put_run(workspace, folder, row.name, _content(workspace, parts, keys), drill, scratch)
        except AnalyzerError as error:
            failures.append(f"{row.track.path}: not put in as run {row.name}: {error}")
        else:
            runs.append(row.name)
            files += [(part.id, f"{key}/{row.name}") for part in parts]
    return Placed(key, tuple(runs), tuple(files), tuple(failures))


def put_sheets(workspace: Path, files: Sequence[IncomingFile]) -> Placed:
    """Put rule sheets beside the others; one that is there with the same bytes counts as put."""
    done, failures = [], []
    for file in files:
        if file.kind != RULES:
            continue
        name = f"{safe_name(file.name.rpartition('.')[0]) or 'sheet'}.toml"
        try:
            _write_sheet(workspace, name, file)
        except InputError as error:
            failures.append(str(error))
        else:
            done.append((file.id, f"rules/{name}"))
    return Placed("", (), tuple(done), tuple(failures))


def _place(path: Path) -> Place:
    try:
        data = read_bytes(path / DRILL_FILE)
        drill = read_drill_toml(path / DRILL_FILE)
        latitude, longitude = home_of(drill).tolist()
    except AnalyzerError as error:
        return Place(path.name, path.name, problem=str(error))
    except Exception as error:
        return Place(path.name, path.name, problem=unforeseen_line(DRILL_FILE, "reading", error))
    runs = path / RUNS
    folders = [p for p in listed(runs) if p.is_dir()] if runs.is_dir() else []
    tracks = [(p.name, _track_of(p)) for p in folders if not p.name.startswith(".")]
    return Place(
        path.name,
        drill.name,
        sha256_hex(data),
        tuple((run, hash_now(track)) for run, track in tracks),
        latitude=latitude,
        longitude=longitude,
        day=drill.date.isoformat() if drill.date is not None else "",
        windows=tuple(window for p in folders if (window := _window_of(p)) is not None),
        zone=offset_text(drill.start),
    )


def _window_of(run: Path) -> tuple[str, float, float] | None:
    """Return the part of its track that a run is, on the clock of the file; None for the whole of it."""
    path = run / RUN_FILE
    try:
        data = read_bytes(path) if path.is_file() else b""
        info = parse_run_toml(data) if b"window" in data else RunInfo()
    except AnalyzerError:
        return None
    if info.window is None:
        return None
    added_s = info.weeks * WEEK_S + info.track_hours * HOUR_S
    begin, end = (math.nan if bound.elapsed else bound.at_s - added_s for bound in info.window)
    return run.name, begin, end


def _track_of(run: Path) -> Path | None:
    try:
        return track_file(run)
    except InputError:  # the folder may not be looked into
        return None


def _new_drill(workspace: Path, plan: Plan, scratch: Path) -> list[IncomingFile]:
    """Make the folder of a new drill and return the files that it was made of."""
    file = next(f for f in plan.new_drills if plan.drill == f"{NEW}{f.id}")
    own = [file, *[f for f in plan.others if f.kind == WAYPOINTS and f.name == file.needs][:1]]
    target = workspace / DRILLS / plan.folder
    if plan.folder in drill_paths(workspace) or target.exists():
        raise InputError(where=plan.folder, what="there is a drill of this name already", do="give it another name")
    content = {DRILL_FILE: file} | {f.name: f for f in own[1:]}
    with_files = {name: read_original(workspace, f.sha256, name=f.path) for name, f in content.items()}
    try:
        built = _build(scratch, with_files)
        try:
            read_drill_toml(built / DRILL_FILE)
            (built / RUNS).mkdir()
            _move(built, target)
        finally:
            shutil.rmtree(built, ignore_errors=True)
    except OSError as error:
        raise storage_error(file.path, error) from None
    return own


def _content(workspace: Path, parts: Sequence[IncomingFile], keys: Mapping[str, Value]) -> dict[str, bytes]:
    """Return the files of a run by their names in its folder, with what a person said of it in its run.toml."""
    names = [name_in_run(f) for f in parts]
    content = {n: read_original(workspace, f.sha256, name=f.path) for n, f in zip(names, parts, strict=True)}
    told = rewritten(content.get(RUN_FILE), keys)
    window = next((f.window_s for f in parts if f.window_s is not None), None)
    if window is not None:
        told = with_window(told, *window)
    return content if told is None else content | {RUN_FILE: told}


def _put_run(workspace: Path, folder: Path, name: str, content: dict[str, bytes], drill: Drill, scratch: Path) -> None:
    """Check a run as the drill's reader will, then move it into place."""
    parse_run(name, content, drill)
    target = folder / RUNS / name
    if target.exists():
        raise InputError(where=name, what="the drill has a run of this name already", do="give it another name")
    try:
        built = _build(scratch, content)
        try:
            _move(built, target)
        finally:
            shutil.rmtree(built, ignore_errors=True)
    except OSError as error:
        raise storage_error(name, error) from None


def name_in_run(file: IncomingFile) -> str:
    """Return what a file is called in its run's folder; a spreadsheet stays one."""
    if file.kind == TRACK:
        return f"track{file.ending}"
    name = Path(FILE_NAMES[file.kind])
    return name.with_suffix(file.ending).name if file.ending else name.name


def _build(scratch: Path, content: dict[str, bytes]) -> Path:
    """Write files into a folder of their own, on the disk for certain."""
    built = scratch / "building"
    shutil.rmtree(built, ignore_errors=True)
    built.mkdir(parents=True)
    for name, data in content.items():
        with (built / name).open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    sync_folder(built)
    return built


def _move(built: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    built.rename(target)
    sync_folder(target.parent)


def _write_sheet(workspace: Path, name: str, file: IncomingFile) -> None:
    data, path = read_original(workspace, file.sha256, name=file.path), workspace / RULE_SHEETS / name
    if path.is_file() and sha256_hex(read_bytes(path)) == file.sha256:
        return
    write_new(path, data)
