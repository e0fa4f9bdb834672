"""What is wrong with the events and rule sheets of a workspace, all at once; nothing is scored or written."""

from collections.abc import Mapping
from pathlib import Path

from analyzer.errors import AnalyzerError, quoted
from analyzer.events.files.event_toml import EventDraft, parse_event_toml
from analyzer.events.files.folder import read_event_folder
from analyzer.events.files.rules_toml import parse_event_rules
from analyzer.files.names import RUNS
from analyzer.files.rules_toml import parse_rules_toml
from analyzer.files.source import listed, read_bytes
from analyzer.files.toml_table import nearest, parse_toml
from analyzer.workspace.check.report import Found, Report, joined, problems_of
from analyzer.workspace.layout import DRILLS, EVENT_FILE, EVENTS, EVERY_EVENT, EVERY_RUN, RULE_SHEETS


def check_events(workspace: Path) -> Report:
    """Return what is found in the events and the rule sheets of a workspace."""
    runs: dict[str, list[str]] = {path.name: [] for path in listed(workspace / DRILLS) if path.is_dir()}
    for path in sorted((workspace / DRILLS).glob(EVERY_RUN)):
        if path.is_dir():
            runs[path.parent.parent.name].append(path.name)
    events = sorted((workspace / EVENTS).glob(EVERY_EVENT))
    sheets = sorted((workspace / RULE_SHEETS).glob("*.toml"))
    return joined([*(_event(path, runs) for path in events), *(_sheet(path) for path in sheets)])


def _event(path: Path, runs: Mapping[str, list[str]]) -> Report:
    shown = f"{EVENTS}/{path.parent.name}"
    try:
        missing = missing_runs(parse_event_toml(read_bytes(path)), runs)
        if missing:
            return Report(tuple(Found(f"{shown}/{one.where}", one.what, one.do) for one in missing))
        aside = read_event_folder(path.parent).aside
    except AnalyzerError as error:
        of_a_drill = error.where.partition("/")[0] in runs  # "bowl/runs/mara-1/run.toml, bib"
        return Report(problems_of(error, path.parent, DRILLS if of_a_drill else shown))
    faults = tuple(Found(_place(one.where, shown, runs), one.what, one.do) for one in aside if one.fault)
    remarks = tuple(Found(f"{shown}/{EVENT_FILE}", f"{a.where}: {a.what}", a.do) for a in aside if not a.fault)
    return Report(faults, remarks)


def _place(where: str, shown: str, runs: Mapping[str, list[str]]) -> str:
    """Return a place from the workspace: "bowl/runs/mara-1/run.toml, bib" is in a drill, "event.toml, ..." is not."""
    return f"{DRILLS}/{where}" if where.partition("/")[0] in runs else f"{shown}/{where}"


def missing_runs(draft: EventDraft, runs: Mapping[str, list[str]]) -> list[Found]:
    """Return a line for each drill and run that an event names and that is not there; `runs`: drill -> its runs."""
    found = [
        Found(
            f"{field.where}, drill", f"there is no drill {quoted(field.drill)} in drills/", nearest(field.drill, runs)
        )
        for field in draft.fields
        if field.drill not in runs
    ]
    for entry in draft.entries:
        for drill, run in entry.runs:
            if drill in runs and run not in runs[drill]:
                what = f"there is no run {quoted(run)} in {drill}/{RUNS}"
                found.append(Found(f"{draft.where[entry.bib]}, runs", what, nearest(run, runs[drill])))
    return found


def _sheet(path: Path) -> Report:
    """Return what is wrong with a rule sheet, of runs or of events."""
    try:
        data = read_bytes(path)
        if parse_toml(data, name=path.name).has("event_rules"):
            parse_event_rules(data, name=path.name)
        else:
            parse_rules_toml(data, name=path.name)
    except AnalyzerError as error:
        return Report(problems_of(error, path.parent, RULE_SHEETS))
    return Report()
