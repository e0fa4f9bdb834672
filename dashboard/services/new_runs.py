"""What people say of runs that are being loaded: titles, searchers and gear, proposed from what came and kept in the
basket's choices until the runs are put in."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.files.run_toml import parse_run_toml
from analyzer.model.people import name_key
from analyzer.model.recording import RunInfo
from analyzer.workspace.intake.model import NO, RUN, DrillPlace, Plan, RunRow
from analyzer.workspace.intake.names import free_name, safe_name, words_of
from analyzer.workspace.intake.originals import read_original
from dashboard.services.consent import note_consent
from dashboard.services.people import people_of
from dashboard.view_models.run_form import AS_IT_IS, KEYS, LONGEST, YES, Changes, RunForm, changes_of, filled, form_of

FIELDS = tuple(key for key in KEYS if key != "title")
"""Fields of a run beside its title, which is asked for under the name of the run."""
LONGEST_FIELD = 400
"""Characters of a field that are kept; our choice: above every limit, so that what is too long is told."""
DATED = re.compile(r"(?<!\d)\d{4}[-_.]?\d{2}[-_.]?\d{2}(?:[T_ -]+\d{2}[-:._]?\d{2}(?:[-:._]?\d{2})?)?(?!\d)Z?")
People = tuple[tuple[str, bool], ...]


@dataclass(frozen=True, slots=True)
class NewRun:
    """What the page shows of a run to be put in. `info`: of the run.toml that goes in with it. `form`: its fields, the
    title among them; `changes`, `faults`: what they mean."""

    info: RunInfo
    form: RunForm
    changes: Changes
    faults: tuple[str, ...]


def folders_of(choices: Mapping[str, str], plan: Plan, place: DrillPlace | None) -> dict[str, str]:
    """Return the choices with a folder's name for each title that was typed: safe, and free in the drill.

    `plan`: as it is without the titles.
    """
    taken = {run for run, _ in place.runs} if place is not None else set()
    typed = {row.track.id: choices.get(f"name-{row.track.id}", "").strip() for row in plan.runs}
    taken |= {row.name for row in plan.runs if not typed[row.track.id] and row.use != NO}
    named: dict[str, str] = {}
    for row in plan.runs:
        if typed[row.track.id]:
            name = free_name(safe_name(typed[row.track.id]) or row.name, taken)
            taken.add(name)
            named[f"name-{row.track.id}"] = name
    return dict(choices) | named


def new_runs(workspace: Path, plan: Plan, choices: Mapping[str, str]) -> dict[int, NewRun]:
    """Return id of a track -> what is said of its run."""
    people, _ = people_of(workspace)
    return {row.track.id: _new_run(workspace, plan, row, choices, people) for row in plan.runs}


def _new_run(workspace: Path, plan: Plan, row: RunRow, choices: Mapping[str, str], people: People) -> NewRun:
    info = _came_with(workspace, plan, row)
    shown = form_of(info)
    if not shown.searcher:
        shown = replace(shown, searcher=_named_in(row, people))
    form = filled(choices, shown, f"-{row.track.id}")
    title = choices.get(f"name-{row.track.id}", "").strip() or info.title or proposed_title(row.name)
    form = replace(form, title=" ".join(title.split()))
    changes, faults = changes_of(form, info)
    if form.title == row.name:
        changes["title"] = ""  # the folder is called so: there is nothing to write down
    return NewRun(info, form, changes, tuple(f"{row.track.path}: {line}" for line in faults if row.use != NO))


def _came_with(workspace: Path, plan: Plan, row: RunRow) -> RunInfo:
    """Return what the run.toml says that goes in with a track; nothing where there is none."""
    for part in plan.parts_of(row):
        if part.kind == RUN:
            try:
                return parse_run_toml(read_original(workspace, part.sha256, name=part.path))
            except AnalyzerError:
                break  # told where it is put in
    return RunInfo()


def proposed_title(name: str) -> str:
    """Return what a person would call a run whose file bears a name: without the date and time in it."""
    plain = re.sub(r"[-_. ]{2,}", " ", DATED.sub(" ", name)).strip("-_. ")
    return plain if any(c.isalpha() for c in plain) else name


def _named_in(row: RunRow, people: People) -> str:
    """Return the one person whose name stands in the name of a track or of its folder, "" for none or several."""
    words = set(words_of(row.track)) | set(re.findall(r"[^\W\d_]+", name_key(row.name)))
    whole = [name for name, _ in people if set(re.findall(r"[^\W\d_]+", name_key(name))) <= words]
    first = [name for name, _ in people if (re.findall(r"[^\W\d_]+", name_key(name)) or [""])[0] in words]
    return next((found[0] for found in (whole, first) if len(found) == 1), "")


def shown_fields(new: Mapping[int, NewRun]) -> dict[str, str]:
    """Return what the fields of all runs hold as the page shows them, by their names in the form."""
    fields = {f"{key}-{track}": getattr(one.form, key) for track, one in new.items() for key in FIELDS}
    return fields | {f"name-{track}": one.form.title for track, one in new.items()}


def typed_fields(form: Mapping[str, str], shown: Mapping[str, str]) -> dict[str, str]:
    """Return the fields that a person changed; a title that was emptied is none."""
    changed = {k: v[:LONGEST_FIELD] for k, v in form.items() if k in shown and v != shown[k]}
    return {k: v for k, v in changed.items() if v.strip() or not k.startswith("name-")}


def note_people(workspace: Path, forms: list[RunForm]) -> tuple[str, ...]:
    """Put new searchers and answers about being named into people.toml; return lines. Of several answers, no counts."""
    lines: list[str] = []
    order = {YES: 0, AS_IT_IS: 1}
    for form in sorted(forms, key=lambda f: order.get(f.consent, 2)):
        if form.who:
            lines += note_consent(workspace, form.who, form.consent, new=bool(form.new_searcher))
    return tuple(dict.fromkeys(lines))


def longest_title() -> int:
    """Return how many characters a title may have."""
    return LONGEST["title"]
