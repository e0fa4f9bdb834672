"""Take a person out of an event: a bib in place of the name, times in place of recordings, a standing that still holds.

Two steps with the removal of the person's files between them. Each may be repeated, so that a call that was stopped can
be made again.
"""

import json
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from analyzer.errors import AnalyzerError, InputError
from analyzer.events.decisions_log import append_log
from analyzer.events.files.event_toml import parse_event_toml
from analyzer.events.files.folder import EventFolder, marks_in, read_event_folder
from analyzer.events.files.forgotten_json import ForgottenRun, read_forgotten, write_forgotten
from analyzer.events.files.matching import run_names
from analyzer.events.files.run_facts import facts_of
from analyzer.events.files.scored_json import SCORED_FILE, read_scored
from analyzer.events.lone_names import is_sentence, toml_without_lone_names, without_lone_names, without_names
from analyzer.events.persons import ANONYMISED, UNFINISHED, TakenPart, anonymised_bibs, scored_values, unfinished_parts
from analyzer.events.store import changes, score_event
from analyzer.events.written import written_faults
from analyzer.files.names import RUNS
from analyzer.files.results.result_json import parse_result
from analyzer.files.source import PART, decode_text, read_bytes, sha256_hex, write_atomic
from analyzer.workspace.drill_key import keep_entry, read_index
from analyzer.workspace.layout import (
    BEGUN_FILE,
    DRILLS,
    EARLIER_ENDING,
    EARLIER_STANDINGS,
    EVENT_FILE,
    EVENTS,
    MOVED_FILE,
    RESULTS,
)


def prepare(part: TakenPart) -> None:
    """Keep what the event needs of a person's runs under their bib, and write the bib into event.toml for the name.

    Raises
    ------
    InputError
        Where the event has changed since it was scored or cannot be read, so that taking somebody out would change
        more than the name; nothing of it has changed then.
    """
    forgotten = read_forgotten(part.folder)
    begun = {one.bib for one in forgotten} - anonymised_bibs(part.folder)
    if not begun & set(part.bibs):
        _refuse_unsettled(part)
    text = _anonymised_toml(part)
    known = {(one.drill, one.bib): one for one in forgotten}
    known |= {(one.drill, one.bib): one for one in _kept_runs(part)}
    if known:
        write_forgotten(part.folder, known.values())
    write_atomic(part.folder / EVENT_FILE, text.encode())


def finish(part: TakenPart, *, jobs: int = 1) -> None:
    """Remove a person's results from the event, write the bib into its earlier standings, score it and note it.

    The person's runs are gone by now. Nobody's place changes.
    """
    out = part.folder / RESULTS
    for left in part.folder.rglob(f".*{PART}"):  # what a killed process had begun to write may name them
        left.unlink(missing_ok=True)
    for drill, run, _ in part.runs:
        for path in (out / drill).glob(f"{glob_safe(run)}.json*"):
            if path.name in (f"{run}.json", f"{run}.json{EARLIER_ENDING}"):
                path.unlink()
        (out / drill / MOVED_FILE).unlink(missing_ok=True)
        _drop_from_index(out, drill, run)
    kept = {path.name: _anonymised_standing(path, part) for path in sorted((part.folder / EARLIER_STANDINGS).glob("*"))}
    noted: dict[str, Any] = {"bibs": list(part.bibs)}
    if (part.folder / SCORED_FILE).is_file():
        folder = read_event_folder(part.folder)
        score_event(folder, jobs=jobs, again=True, action=ANONYMISED, put_old_away=False, kept=kept, **noted)
    else:
        (part.folder / BEGUN_FILE).unlink(missing_ok=True)
        append_log(part.folder, action=ANONYMISED, **noted, kept=kept)


def finish_unfinished(folder: EventFolder, *, jobs: int = 1) -> list[str]:
    """Finish taking somebody out of an event, where a call was stopped after their files were gone; return what to say.

    Raises
    ------
    InputError
        Where the folder cannot be written to.
    """
    told = []
    for part in unfinished_parts(folder.path):
        if not os.access(folder.path, os.W_OK):
            raise InputError(where=folder.key, what=UNFINISHED, do="allow writing to it and repeat the command")
        finish(part, jobs=jobs)
        told.append(f"{folder.key}: {part.label} stands for a name; what a stopped call had begun is done")
    return told


def glob_safe(name: str) -> str:
    """Return a name as a pattern that matches itself alone."""
    return re.sub(r"([*?[])", r"[\1]", name)


def _refuse_unsettled(part: TakenPart) -> None:
    place = f"{EVENTS}/{part.folder.name}"
    do = f"searchwake standings {place} --again first, or --events leave"
    if part.problem:
        raise InputError(where=place, what=f"the event cannot be read ({part.problem})", do=f"mend it; {do}")
    if not (part.folder / SCORED_FILE).is_file():
        return
    try:
        scored = read_scored(part.folder / SCORED_FILE)
    except AnalyzerError as error:
        raise InputError(where=place, what=f"its standing cannot be read ({error})", do=do) from None
    lines = [*(one.line for one in changes(scored, read_event_folder(part.folder).inputs))]
    lines += written_faults(part.folder, scored)
    if lines:
        what = f"the event is not as it was scored, and nobody should move by taking a name out ({lines[0]})"
        raise InputError(where=place, what=what, do=do)


def _kept_runs(part: TakenPart) -> list[ForgottenRun]:
    """Return what a score rests on of the person's runs, or why there is nothing; runs get the bib's name."""
    workspace, found = part.folder.parents[1], []
    scores = scored_values(part.folder).get("scores", {})
    for drill, run, bib in part.runs:
        path, label = part.folder / RESULTS / drill / f"{run}.json", _run_label(workspace, drill, bib)
        if path.is_file():
            marks = marks_in(workspace / DRILLS / drill / RUNS / run)
            facts = facts_of(parse_result(read_bytes(path), name=path.name), source=path.name, marks=marks)
            found.append(ForgottenRun(bib, drill, label, facts))
        elif run != label:
            why = str(scores.get(f"{drill}/{bib}", {}).get("why", "")) or "forgotten before it was measured"
            found.append(ForgottenRun(bib, drill, label, None, _text(why, part)))
    return found


def _run_label(workspace: Path, drill: str, bib: str) -> str:
    label, taken = f"bib-{bib}", run_names(workspace / DRILLS / drill)
    while label in taken:
        label += "-forgotten"
    return label


def _anonymised_toml(part: TakenPart) -> str:
    """Return event.toml with the bib for the name and for the names of runs, its comments and layout as they are."""
    before = decode_text(read_bytes(part.folder / EVENT_FILE), name=EVENT_FILE)
    text = before
    for drill, run, bib in part.runs:
        key = rf"(?:{re.escape(drill)}|\"{re.escape(drill)}\"|'{re.escape(drill)}')"
        pair = re.compile(rf"(?<![\w-])({key}\s*=\s*)([\"']){re.escape(run)}\2")
        text = pair.sub(rf'\g<1>"{_run_label(part.folder.parents[1], drill, bib)}"', text)
    text = "".join(_anonymised_line(line, part) for line in text.splitlines(keepends=True))
    text = toml_without_lone_names(text, part.lone, part.label)
    was, draft = parse_event_toml(before.encode()), parse_event_toml(text.encode())
    for old, new in zip(was.entries, draft.entries, strict=True):
        wanted = part.label if old.bib in part.bibs else old.name
        if new.name != wanted:
            raise InputError(
                where=f"{draft.where[new.bib]}, name",
                what="the name cannot be replaced here without touching another one",
                do=f"write {part.label} for it by hand, score anew with --again, and repeat the command",
            )
    return text


def _anonymised_line(line: str, part: TakenPart) -> str:
    """Return a line of event.toml: a name is replaced as a whole, in other lines wherever it stands as words."""
    if not re.match(r"\s*name\s*=", line):
        return without_names(line, part.sure_names, part.label)
    for name in part.names:
        line = re.sub(rf"([\"']){re.escape(name)}\1", lambda _: f'"{part.label}"', line)
    return line


def _anonymised_standing(path: Path, part: TakenPart) -> str:
    """Write the bib for the person into a standing of before, and return the SHA-256 of the file."""
    data = path.read_bytes()
    try:
        values = json.loads(data)
        changed = _walked(values, part)
    except (ValueError, RecursionError):  # of no use to anybody, and nobody can say whom it names
        path.unlink()
        return ""
    if changed != values:
        data = (json.dumps(changed, ensure_ascii=False, indent=1) + "\n").encode()
        write_atomic(path, data)
    return sha256_hex(data)


def _walked(value: Any, part: TakenPart) -> Any:
    if isinstance(value, dict):
        found = {_text(key, part): _walked(inner, part) for key, inner in value.items()}
        if "name" in value and isinstance(value["name"], str):
            found["name"] = part.label if value["name"] in part.names else value["name"]
        for drill, run, bib in part.runs:
            if (found.get("drill"), found.get("run")) == (drill, run):
                found["run"] = f"bib-{bib}"
        return found
    if isinstance(value, list):
        return [_walked(inner, part) for inner in value]
    return _text(value, part) if isinstance(value, str) else value


def _text(text: str, part: TakenPart) -> str:
    """Return a text with the bib for the name, and for the run in paths like "drill/runs/run/..." and "drill/run"."""
    for drill, run, bib in part.runs:
        path = rf"(?<![\w-])({re.escape(drill)}/(?:{RUNS}/)?){re.escape(run)}(?![\w-])"
        text = re.sub(path, rf"\g<1>bib-{bib}", text)
    text = without_names(text, part.sure_names, part.label)
    return without_lone_names(text, part.lone, part.label) if is_sentence(text) else text


def _drop_from_index(out: Path, drill: str, run: str) -> None:
    """Take a run out of what is kept of the measuring of a drill; the other runs stay measured."""
    entry = read_index(out).get(drill)
    if entry is None:
        return
    runs = {name: one for name, one in entry.get("runs", {}).items() if name != run}
    rows = [row for row in entry["rows"] if row["run"] != run]
    starts: Sequence[str] = [f"{drill}/{run}{end}" for end in ("/", ":", ",")]
    failures = [line for line in entry["failures"] if not line.startswith(tuple(starts))]
    keep_entry(out, drill, {"key": "", "rows": rows, "failures": failures, "runs": runs} if runs else None)
