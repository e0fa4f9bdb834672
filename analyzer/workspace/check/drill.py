"""A drill's folder: its drill.toml, its runs, and what of them stands twice."""

import contextlib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.drill_toml import read_drill_toml, waypoint_file
from analyzer.files.folder import run_folders
from analyzer.files.names import CHECKS_FILE, DRILL_FILE, RUNS, SHEET_FILE
from analyzer.files.rules_toml import own_rules
from analyzer.files.source import listed, read_bytes, sha256_hex
from analyzer.files.tracks.formats import is_run_input, is_track_name
from analyzer.model.drill import Drill
from analyzer.workspace.check.report import Found, Report, inside, joined, problems_of
from analyzer.workspace.check.run import check_run

WAYPOINT_ENDING = ".gpx"


def check_drill(folder: Path, shown: str) -> Report:
    """Return what is found in a drill's folder and in its runs; `shown`: how the folder is called."""
    drill, problems = _read(folder, shown)
    try:
        runs: tuple[Path, ...] = run_folders(folder)
    except InputError as error:
        runs = ()
        problems = (*problems, Found(inside(shown, RUNS), error.what, error.do))
    try:
        own_rules(folder)
    except AnalyzerError as error:
        problems = (*problems, *problems_of(error, folder, shown))
    places = {run.name: inside(shown, f"{RUNS}/{run.name}") for run in runs}
    tracks = {places[run.name]: track_hashes(run) for run in runs}
    twice = [*one_name(places), *one_recording(tracks)]
    own = Report((*problems, *twice), tuple(_unread(folder, shown)))
    return joined([own, *(check_run(run, drill, places[run.name]) for run in runs)])


def drill_above(run: Path) -> tuple[Drill | None, tuple[Found, ...]]:
    """Return the drill that a run's folder belongs to, None and why where there is none that can be read."""
    return _read(run.resolve().parents[1], "../..")


def _read(folder: Path, shown: str) -> tuple[Drill | None, tuple[Found, ...]]:
    path = folder / DRILL_FILE
    if not path.exists():
        what = "there is no drill.toml in the folder"
        return None, (Found(shown or folder.name, what, "write one; a drill is a folder with drill.toml and runs/"),)
    try:
        return read_drill_toml(path), ()
    except AnalyzerError as error:
        return None, problems_of(error, folder, shown)


def _unread(folder: Path, shown: str) -> list[Found]:
    """Return remarks on files beside drill.toml and runs/ that nobody reads, waypoints without a mention included."""
    try:
        waypoints = waypoint_file(read_bytes(folder / DRILL_FILE))
    except AnalyzerError:
        waypoints = None
    known = (DRILL_FILE, SHEET_FILE, CHECKS_FILE, RUNS, waypoints)
    beside = [p for p in listed(folder) if p.name not in known and p.name[0] != "."]
    runs = folder / RUNS
    loose = [p for p in listed(runs) if not p.is_dir() and p.name[0] != "."] if runs.is_dir() else []
    return [
        Found(inside(shown, path.relative_to(folder).as_posix()), "nobody reads this", _instead(path.name))
        for path in (*beside, *loose)
    ]


def _instead(file: str) -> str:
    if not is_run_input(file):
        return "leave it, if it is a note"
    into = "put it into a run's folder"
    return f"{into}, or name it as waypoints" if file.lower().endswith(WAYPOINT_ENDING) else into


def track_hashes(run: Path) -> tuple[str, ...]:
    """Return the SHA-256 of the tracks in a run's folder; what cannot be read is told with the run."""
    try:
        found = [p for p in listed(run) if is_track_name(p.name)]
    except InputError:
        return ()
    hashes = []
    for path in found:
        with contextlib.suppress(InputError):
            hashes.append(sha256_hex(read_bytes(path)))
    return tuple(hashes)


def one_name(places: Mapping[str, str]) -> list[Found]:
    """Return a line for runs whose ids differ in capitals alone; `places`: id -> how the folder is called."""
    same = defaultdict(list)
    for run, place in places.items():
        same[run.casefold()].append(place)
    what = "the run {} has the same id but for capitals, and some disks cannot hold both"
    return [
        Found(place, what.format(all_of[0].rpartition("/")[2]), "rename one of the folders")
        for all_of in same.values()
        for place in all_of[1:]
    ]


def one_recording(tracks: Mapping[str, Iterable[str]]) -> list[Found]:
    """Return a line for each track that is another run's as well, byte for byte; `tracks`: place -> hashes."""
    seen: dict[str, str] = {}
    found = []
    for place, hashes in tracks.items():
        for sha256 in hashes:
            first = seen.setdefault(sha256, place)
            if first != place:
                what = f"its track is that of {first}, byte for byte"
                found.append(Found(place, what, "put the right recording into the folder, or remove one of the runs"))
    return found
