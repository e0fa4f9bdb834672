"""An event's folder in its workspace: which run is whose, and the hashes of everything a score rests on."""

from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.events.files.event_toml import EventDraft, checked_points, parse_event_toml
from analyzer.events.files.forgotten_json import ForgottenRun, read_forgotten
from analyzer.events.files.hashes import input_hashes
from analyzer.events.files.matching import Aside, matched, run_names
from analyzer.events.files.rules_toml import parse_event_rules
from analyzer.events.model import Event, EventField, EventRules
from analyzer.files.drill_toml import parse_drill_toml, waypoint_file
from analyzer.files.names import DRILL_FILE, LOG_FILES
from analyzer.files.rules_toml import default_rules, read_rules_toml
from analyzer.files.run_logs import marks_in_logs
from analyzer.files.source import listed, read_bytes
from analyzer.files.toml_table import nearest
from analyzer.files.tracks.gpx import parse_waypoints
from analyzer.model.drill import Drill
from analyzer.model.rules import Rules
from analyzer.workspace.layout import DRILLS, EVENT_FILE, EVERY_DRILL, FORGOTTEN_FILE, RESULTS, RULE_SHEETS


@dataclass(frozen=True, slots=True)
class EventFolder:
    """An event as read. `inputs`: path from the workspace -> SHA-256 of every file that the scores rest on.

    `forgotten`: (drill, run) -> what is kept of runs whose searchers were forgotten. `aside`: what is told of
    runs that count for nobody and of entries that contradict themselves.
    """

    path: Path
    workspace: Path
    event: Event
    measuring: Rules
    inputs: dict[str, str]
    forgotten: dict[tuple[str, str], ForgottenRun]
    aside: tuple[Aside, ...]

    @property
    def key(self) -> str:
        """The name of the folder."""
        return self.path.name

    def drills(self) -> tuple[Path, ...]:
        """Return the folders of those fields that have runs."""
        folders = (self.workspace / DRILLS / field.drill for field in self.event.fields)
        return tuple(folder for folder in folders if run_names(folder))


def workspace_of(folder: Path) -> Path:
    """Return the nearest parent folder that holds drills/.

    Raises
    ------
    InputError
        Where there is none.
    """
    found = next((p for p in folder.resolve().parents if (p / DRILLS).is_dir()), None)
    if found is None:
        raise InputError(
            where=str(folder),
            what="no parent folder holds drills/",
            do="put the event into WORKSPACE/events/<event>, beside WORKSPACE/drills",
        )
    return found


def read_event_folder(place: Path | str) -> EventFolder:
    """Return an event, its runs matched with the drills of its workspace.

    Parameters
    ----------
    place : Path or str
        The event's folder, or its event.toml.

    Raises
    ------
    InputError
        As `parse_event_toml`, and where a drill, run, bib or rule sheet is not there, a run has two owners, or one
        recording is used twice.
    """
    folder = Path(place).parent if Path(place).name == EVENT_FILE else Path(place)
    if not (folder / EVENT_FILE).is_file():
        raise InputError(where=str(place), what="there is no event.toml", do="give the folder of an event")
    folder = folder.resolve()
    workspace = workspace_of(folder)
    draft = parse_event_toml(read_bytes(folder / EVENT_FILE))
    rules, files = draft.rules, [folder / EVENT_FILE]
    if rules is None:
        path = _beside(folder, workspace, draft.rules_file, "rules")
        rules, files = parse_event_rules(read_bytes(path), name=path.name), [*files, path]
    measuring = default_rules()
    if draft.measuring_file:
        path = _beside(folder, workspace, draft.measuring_file, "measuring_rules")
        measuring, files = read_rules_toml(path), [*files, path]
    checked_points(draft, rules)
    fields = tuple(_field(workspace, draft, number, rules) for number in range(len(draft.fields)))
    forgotten = read_forgotten(folder)
    if forgotten:
        files.append(folder / FORGOTTEN_FILE)
    bibs = {(one.drill, one.run): one.bib for one in forgotten}
    event, aside = matched(draft, rules, fields, workspace, bibs, folder / RESULTS)
    inputs = input_hashes(workspace, (field.drill for field in fields), files)
    gone = {(one.drill, one.run): one for one in forgotten}
    return EventFolder(folder, workspace, event, measuring, inputs, gone, aside)


def _beside(folder: Path, workspace: Path, name: str, key: str) -> Path:
    where = f"{EVENT_FILE}, [event], {key}"
    if Path(name).name != name:
        raise InputError(
            where=where,
            what=f"{quoted(name)} is no plain name of a file",
            do="put the sheet beside event.toml or into WORKSPACE/rules, and write its name",
        )
    found = next((p for p in (folder / name, workspace / RULE_SHEETS / name) if p.is_file()), None)
    if found is None:
        raise InputError(
            where=where,
            what=f"there is no file {quoted(name)} beside event.toml or in rules/",
            do="put it there, or name another sheet",
        )
    return found


def _field(workspace: Path, draft: EventDraft, number: int, rules: EventRules) -> EventField:
    written = draft.fields[number]
    folder = workspace / DRILLS / written.drill
    if not (folder / DRILL_FILE).is_file():
        known = sorted(p.parent.name for p in workspace.glob(EVERY_DRILL))
        raise InputError(
            where=f"{written.where}, drill",
            what=f"there is no drill {quoted(written.drill)} in drills/",
            do=nearest(written.drill, known),
        )
    drill = _drill(folder)
    ids = tuple(t.id for t in drill.transmitters)
    if rules.targets is not None and rules.targets > len(ids):
        raise InputError(
            where=f"{written.where}, drill",
            what=f"the rule sheet wants {rules.targets} targets, {written.drill} has {len(ids)}",
            do="bury more, or use a sheet with fewer targets",
        )
    limit = written.time_limit_s if written.time_limit_s is not None else drill.time_limit_s
    return EventField(written.drill, written.name, ids, limit, drill.team)


def _drill(folder: Path) -> Drill:
    """Return a drill that may have no runs yet."""
    data = read_bytes(folder / DRILL_FILE)
    file = waypoint_file(data)
    points = {} if file is None else parse_waypoints(read_bytes(folder / file), name=file)
    try:
        return parse_drill_toml(data, waypoints_of=lambda _: points)
    except InputError as error:
        raise error.under(folder.name) from None


def marks_in(run: Path) -> tuple[str, ...]:
    """Return what the marks of a run folder are, () where there are none or they cannot be read."""
    try:
        data = {path.name: read_bytes(path) for path in listed(run) if path.name in LOG_FILES}
        return tuple(mark.mark for mark in marks_in_logs(data))
    except AnalyzerError:
        return ()
