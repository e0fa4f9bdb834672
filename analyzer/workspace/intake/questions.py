"""What a person has to decide before files are put into a drill: one line each, none where all is clear; pure."""

from collections.abc import Sequence

from analyzer.errors import quoted
from analyzer.workspace.intake.model import (
    NEW,
    NO,
    OF_RUN,
    OLD,
    RULES,
    UNDECIDED,
    WAYPOINTS,
    DrillPlace,
    IncomingFile,
    Plan,
)
from analyzer.workspace.intake.names import folded, free_name, safe_name
from analyzer.workspace.intake.repairs import ZONE_NEEDED


def questions(plan: Plan, drills: Sequence[DrillPlace], place: DrillPlace) -> tuple[str, ...]:
    """Return what is open. `drills`: those that there are; `place`: the one that was chosen of them, if any."""
    if not plan.new_drills and not plan.runs and not plan.companions:
        sheets = any(f.kind == RULES for f in plan.others)
        return () if sheets else ("There is nothing yet that can be put into a drill.",)
    return (*_drill(plan, drills), *_runs(plan, place), *_logs(plan, place), *_nothing(plan))


def _nothing(plan: Plan) -> list[str]:
    """Return what is missing where everything is left out."""
    if plan.drill.startswith(NEW) or any(row.use != NO for row in plan.runs):
        return []
    if any(row.of.startswith(OF_RUN) for row in plan.companions):
        return []
    if plan.companions and plan.drill.startswith(OLD):
        return [
            "No track is put in, and readings, marks and run.toml go in with their track: add it. Where its run is in "
            'the drill already, choose that run under "Belongs to".'
        ]
    return [] if any(f.kind == RULES for f in plan.others) else ["All tracks are left out, or none came: add a track."]


def _drill(plan: Plan, drills: Sequence[DrillPlace]) -> list[str]:
    if plan.drill == UNDECIDED:
        none = not plan.new_drills and not drills
        return ["There is no drill yet: add a drill.toml, or lay one out first." if none else "Choose the drill."]
    if not plan.drill.startswith(NEW):
        return []
    file = next(f for f in plan.new_drills if plan.drill == f"{NEW}{f.id}")
    lines = _name_faults(plan.folder, f"folder of the new drill, {file.path}")
    if folded(plan.folder) in {folded(d.key) for d in drills}:
        lines.append(f"There is a drill {plan.folder} already: give the new one another name, or choose the old one.")
    if file.needs and not any(f.kind == WAYPOINTS and f.name == file.needs for f in plan.others):
        lines.append(f"{file.path} takes positions from {file.needs}: add that file too.")
    return lines


def _runs(plan: Plan, place: DrillPlace) -> list[str]:
    lines: list[str] = []
    names: dict[str, IncomingFile] = {}
    taken = {folded(run) for run, _ in place.runs}
    for row in plan.runs:
        if row.use == UNDECIDED:
            lines.append(f"{row.track.path}: {row.doubt or 'put it in as a run of its own, or leave it out?'}")
        if row.use == NO:
            continue
        if row.zone_asked and not row.zone and plan.drill != UNDECIDED:
            lines.append(f"{row.track.path}: {ZONE_NEEDED}.")
        lines += _name_faults(row.name, row.track.path)
        if folded(row.name) in taken:
            lines.append(
                f"{row.track.path}: the drill has a run {row.name} already, which is never overwritten; give "
                f"another name, {free_name(row.name, taken)} is free."
            )
        twin = names.setdefault(folded(row.name), row.track)
        if twin is not row.track:
            lines.append(
                f"{twin.path} and {row.track.path} would both be the run {row.name}: give one another name, "
                "or leave one out."
            )
    return lines


def _name_faults(name: str, where: str) -> list[str]:
    if name and safe_name(name) == name:
        return []
    do = f"for example {safe_name(name)}" if safe_name(name) else "for example mara-1"
    return [f"{where}: the name {quoted(name)} cannot be a folder; use letters, digits, dots and dashes, {do}."]


def _logs(plan: Plan, place: DrillPlace) -> list[str]:
    lines: list[str] = []
    seen: dict[tuple[str, str], IncomingFile] = {}
    used = {str(row.track.id): row.name for row in plan.runs if row.use != NO}
    used |= {OF_RUN + run: run for run, _ in place.runs}
    for row in plan.companions:
        if row.of == UNDECIDED or row.of not in (NO, *used):
            lines.append(f"{row.file.path}: choose its run, or leave it out.")
        elif row.of != NO:
            twin = seen.setdefault((row.file.kind, row.of), row.file)
            if twin is not row.file:
                lines.append(
                    f"{twin.path} and {row.file.path} would both be the {row.file.kind} of "
                    f"{used[row.of]}: leave one out."
                )
    return lines
