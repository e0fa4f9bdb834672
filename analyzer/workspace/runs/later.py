"""Logs of a load that belong to runs which are in a drill already."""

from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.files.names import RUN_FILE, RUNS
from analyzer.files.source import read_bytes
from analyzer.workspace.intake.model import MARKS, OF_RUN, OLD, READINGS, IncomingFile, Plan
from analyzer.workspace.intake.originals import read_original
from analyzer.workspace.intake.store import drill_paths, name_in_run
from analyzer.workspace.runs.changes import put_evidence
from analyzer.workspace.runs.rewrite import rewritten


@dataclass(frozen=True, slots=True)
class PutLater:
    """What became of them. `files`: id of a file and its run; `changed`: run and its folder in the bin; `failures`."""

    files: tuple[tuple[int, str], ...] = ()
    changed: tuple[tuple[str, str], ...] = ()
    failures: tuple[str, ...] = ()


def put_later(workspace: Path, out: Path, plan: Plan) -> PutLater:
    """Put logs into runs that are there; what a run has of the kind goes into the bin. `out`: the folder of results."""
    drill = plan.drill.removeprefix(OLD)
    by_run: dict[str, list[IncomingFile]] = {}
    for row in plan.companions:
        if row.of.startswith(OF_RUN):
            by_run.setdefault(row.of.removeprefix(OF_RUN), []).append(row.file)
    files: list[tuple[int, str]] = []
    changed: list[tuple[str, str]] = []
    failures: list[str] = []
    for run, parts in by_run.items():
        try:
            content = {name_in_run(f): read_original(workspace, f.sha256, name=f.path) for f in parts}
            content |= _named_sheets(drill_paths(workspace)[drill] / RUNS / run, content, parts)
            changed.append((run, put_evidence(workspace, out, drill, run, content)))
        except AnalyzerError as error:
            failures.append(f"{', '.join(f.path for f in parts)}: not put into {run}: {error}")
        else:
            files += [(f.id, f"{drill}/{run}") for f in parts]
    return PutLater(tuple(files), tuple(changed), tuple(failures))


def _named_sheets(folder: Path, content: dict[str, bytes], parts: list[IncomingFile]) -> dict[str, bytes]:
    """Return the run.toml that names the sheets of logs out of a workbook of several runs; nothing where it need not be
    changed."""
    keys = {f"{file.kind}_sheet": file.sheet for file in parts if file.kind in (READINGS, MARKS)}
    path = folder / RUN_FILE
    before = content.get(RUN_FILE) or (read_bytes(path) if path.is_file() else None)
    if not any(keys.values()) and b"_sheet" not in (before or b""):
        return {}
    told = rewritten(before, keys)
    return {} if told is None or told == before else {RUN_FILE: told}
