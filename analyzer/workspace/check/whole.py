"""What a workspace holds beside its drills' own files: people, results, and what nobody reads."""

import difflib
from collections.abc import Iterable, Mapping
from pathlib import Path

from analyzer import __version__
from analyzer.errors import AnalyzerError, quoted
from analyzer.files.names import RUN_FILE, RUNS
from analyzer.files.results.result_json import RunHead, read_head
from analyzer.files.run_toml import read_run_toml
from analyzer.files.source import listed, regular_bytes, sha256_hex
from analyzer.model.people import People, name_key
from analyzer.model.result import OF_THE_DRILL
from analyzer.workspace.check.drill import check_drill, one_recording, track_hashes
from analyzer.workspace.check.report import Found, Report, joined, problems_of
from analyzer.workspace.database.index import drill_folders
from analyzer.workspace.layout import DRILLS, EVERY_RESULT, PEOPLE_FILE, RESULTS, SHOWN_NAMES
from analyzer.workspace.people.people_toml import read_people


def check_workspace(workspace: Path) -> Report:
    """Return what is found in a workspace: drills, people and results; its events and rule sheets are not looked at.

    Raises
    ------
    InputError
        Where there is no drills/.
    """
    drills = drill_folders(workspace)
    runs = {f"{DRILLS}/{d.name}/{RUNS}/{run.name}": run for d in drills for run in _runs(d)}
    across = [found for found in one_recording({p: track_hashes(r) for p, r in runs.items()}) if _of_two_drills(found)]
    return joined(
        [
            *(check_drill(folder, f"{DRILLS}/{folder.name}") for folder in drills),
            Report(tuple(across), tuple(_unread(workspace))),
            _check_people(workspace, runs),
            Report(*_check_results(workspace, runs)),
        ]
    )


def _runs(drill: Path) -> list[Path]:
    runs = drill / RUNS
    return [p for p in listed(runs) if p.is_dir() and p.name[0] != "."] if runs.is_dir() else []


def _of_two_drills(found: Found) -> bool:
    """Return whether a recording that is used twice is so in two drills; within one, its own check tells."""
    return f"that of {found.where.rpartition('/')[0]}/" not in found.what


def _unread(workspace: Path) -> list[Found]:
    names = [p.name for p in listed(workspace) if p.name[0] != "." and p.name not in SHOWN_NAMES]
    aside = [name for name in names if not name.startswith("searchwake.db")]
    return [Found(name, "nobody reads this", "leave it, if it is yours") for name in aside]


def _check_people(workspace: Path, runs: Mapping[str, Path]) -> Report:
    try:
        people = read_people(workspace)
    except AnalyzerError as error:
        return Report(problems_of(error, workspace, ""))
    searchers = {}
    for place, run in runs.items():
        try:
            searchers[place] = read_run_toml(run / RUN_FILE).searcher if (run / RUN_FILE).is_file() else ""
        except AnalyzerError:  # told with the run
            continue
    return Report(*unknown_searchers(searchers, people)) if people.persons else Report()


def unknown_searchers(searchers: Mapping[str, str], people: People) -> tuple[tuple[Found, ...], tuple[Found, ...]]:
    """Return problems and remarks on searchers who are not in people.toml; `searchers`: run -> name.

    A name that is nearly somebody's is a problem, likely a slip; any other may be a guest's, and is a remark.
    """
    known = {name_key(name): name for person in people.persons for name in person.names}
    slips, guests = [], []
    for place, name in searchers.items():
        if not name or people.find(name) is not None:
            continue
        close = difflib.get_close_matches(name_key(name), known, n=1, cutoff=0.8)
        what = f"the searcher {quoted(name)} is not in {PEOPLE_FILE}"
        if close:
            do = f"did you mean {quoted(known[close[0]])}? mend the name, or add it there as a spelling"
            slips.append(Found(f"{place}/{RUN_FILE}", what, do))
        else:
            guests.append(Found(f"{place}/{RUN_FILE}", what, "add them there, or leave it: they count as not asked"))
    return tuple(slips), tuple(guests)


def _check_results(workspace: Path, runs: Mapping[str, Path]) -> tuple[tuple[Found, ...], tuple[Found, ...]]:
    """Return problems and remarks: results that are stale or cannot be read; runs without one."""
    problems: list[Found] = []
    seen = set()
    for path in sorted((workspace / RESULTS).glob(EVERY_RESULT)):
        shown = path.relative_to(workspace).as_posix()
        place = f"{DRILLS}/{path.parent.name}/{RUNS}/{path.stem}"
        seen.add(place)
        if place not in runs:
            problems.append(Found(shown, "there is no such run any more", "remove it, or put the run's folder back"))
            continue
        try:
            head = read_head(path)
        except AnalyzerError as error:
            do = "measure it again: searchwake index WORKSPACE"
            problems.append(Found(shown, error.what, do))
            continue
        problems += stale(head, _hashes(head, runs[place]), shown)
    new = [Found(place, "it is not measured yet", "searchwake index WORKSPACE") for place in runs if place not in seen]
    return tuple(problems), tuple(new) if seen else ()


def _hashes(head: RunHead, run: Path) -> dict[str, str]:
    """Return the hashes of the files that a result was made from, as they are now; of one that cannot be read, which is
    told with its run, the hash that the result has."""
    files = {i.name: (run.parents[1] if i.role in OF_THE_DRILL else run) / i.name for i in head.inputs}
    then = {i.name: i.sha256 for i in head.inputs}
    return {name: _hash(path, then[name]) for name, path in files.items() if path.is_file()}


def _hash(path: Path, unread: str) -> str:
    try:
        data = regular_bytes(path)
    except OSError:
        return unread
    return unread if data is None else sha256_hex(data)


def stale(head: RunHead, now: Mapping[str, str], shown: str) -> Iterable[Found]:
    """Yield a line for each reason why a result is not that of its files; `now`: file -> SHA-256."""
    do = "measure it again: searchwake index WORKSPACE"
    for item in head.inputs:
        if item.name not in now:
            yield Found(shown, f"the result is stale: {item.name} is gone since", do)
        elif now[item.name] != item.sha256:
            yield Found(shown, f"the result is stale: {item.name} has changed since", do)
    if head.engine != __version__:
        yield Found(shown, f"the result is stale: engine {head.engine or 'unknown'}, this is {__version__}", do)
