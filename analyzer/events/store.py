"""Score an event and keep the outcome; say what has changed since. What was scored is never overwritten unasked."""

from dataclasses import dataclass
from pathlib import Path

from analyzer import __version__
from analyzer.errors import AnalyzerError, InputError
from analyzer.events.decisions_log import append_log
from analyzer.events.files.folder import EventFolder, input_hashes, starts_with_a_mark, workspace_of
from analyzer.events.files.run_facts import facts_of
from analyzer.events.files.scored_json import SCORED_FILE, Sampling, Scored, read_scored, scored_bytes
from analyzer.events.model import RunFacts
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores
from analyzer.files.names import RUNS
from analyzer.files.results.result_json import parse_result
from analyzer.files.source import read_bytes, sha256_hex, write_atomic
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.batch import Batch, analyze_drills
from analyzer.workspace.layout import DRILLS, RESULTS

AGAIN = "searchwake standings EVENT --again measures it again"


@dataclass(frozen=True, slots=True)
class Changed:
    """A file that is not the one that was scored. `bib`: whose run it belongs to, "" where it bears on all."""

    bib: str
    drill: str
    line: str


def computed(folder: EventFolder, out: Path, *, jobs: int = 1, again: bool = False) -> Scored:
    """Measure the event's runs into `out`, each alone against the drill as laid, score and rank; no more is written."""
    drills = folder.drills()
    batch = Batch(out=out, rules=folder.measuring, draws=DRAWS, seed=SEED, alone=True)
    _, failures = analyze_drills(drills, batch, jobs=jobs, again=again)
    hashes: dict[str, str] = {}
    facts: dict[tuple[str, str], RunFacts] = {}
    problems: dict[tuple[str, str], str] = {}
    for entry in folder.event.entries:
        for drill, run in entry.runs:
            name = f"{drill}/{run}.json"
            if not (out / name).is_file():
                problems[(drill, run)] = _problem(drill, run, failures)
                continue
            data = read_bytes(out / name)
            hashes[name] = sha256_hex(data)
            marked = starts_with_a_mark(folder.workspace / DRILLS / drill / RUNS / run)
            result = parse_result(data, name=f"{RESULTS}/{name}", do=AGAIN)
            facts[(drill, run)] = facts_of(result, source=name, start_marked=marked)
    event = folder.event
    return Scored(
        name=event.name,
        date="" if event.date is None else event.date.isoformat(),
        engine=__version__,
        rules=event.rules,
        measuring=folder.measuring.sheet,
        settings=Sampling(DRAWS, SEED),
        inputs=folder.inputs,
        results=dict(sorted(hashes.items())),
        notes=(*event.set_aside, *failures),
        classes=tuple((c.id, c.name) for c in event.classes),
        fields=tuple((f.drill, f.name) for f in event.fields),
        standings=all_standings(event, field_scores(event, facts, problems)),
    )


def _problem(drill: str, run: str, failures: list[str]) -> str:
    own = next((line for line in failures if line.startswith((f"{drill}/{run}/", f"{drill}/{run}:"))), "")
    return own or next(
        (line for line in failures if line.startswith((f"{drill}:", f"{drill}/drill"))),
        f"{drill}/{run}: it was not measured",
    )


def score_event(folder: EventFolder, *, jobs: int = 1, again: bool = False) -> Scored:
    """Score an event, write its results and scored.json, and note it in the log.

    Raises
    ------
    InputError
        Where it has been scored already and `again` is not given.
    """
    target = folder.path / SCORED_FILE
    before = target.is_file()
    if before and not again:
        raise InputError(
            where=f"{folder.key}/{SCORED_FILE}", what="the event is scored already", do="score anew with --again"
        )
    was = _integrity(target) if before else ""
    scored = computed(folder, folder.path / RESULTS, jobs=jobs, again=again)
    data = scored_bytes(scored)
    write_atomic(target, data)
    stored = read_scored(target)
    append_log(
        folder.path,
        action="scored again" if before else "scored",
        engine=__version__,
        integrity=stored.integrity,
        was=was,
        rules=scored.rules.sha256,
        runs=len(scored.results),
    )
    return stored


def _integrity(target: Path) -> str:
    try:
        return read_scored(target).integrity
    except AnalyzerError:
        return "unreadable"


def changes(scored: Scored, now: dict[str, str]) -> tuple[Changed, ...]:
    """Return what is not as it was when the event was scored, in the order of the files' names.

    Parameters
    ----------
    scored : Scored
    now : dict
        Path from the workspace -> SHA-256, as the files are now; see `inputs_now`.
    """
    owners = {(p.score.drill, p.score.run): p.score.bib for t in scored.standings for p in t.places if p.score.run}
    found = []
    for path in sorted(scored.inputs.keys() | now.keys()):
        old, new = scored.inputs.get(path), now.get(path)
        if old == new:
            continue
        what = (
            "is new since the scoring"
            if old is None
            else "is gone since the scoring"
            if new is None
            else f"was replaced after the scoring (SHA-256 {old[:8]}, now {new[:8]})"
        )
        drill, run = _of_run(path)
        bib = owners.get((drill, run), "")
        who = f"bib {bib}, " if bib else ""
        found.append(Changed(bib, drill, f"{who}{path} {what}: not counted; score anew with --again"))
    if scored.engine != __version__:
        found.append(Changed("", "", f"scored with version {scored.engine} of the program, this is {__version__}"))
    return tuple(found)


def inputs_now(folder: Path, scored: Scored) -> dict[str, str]:
    """Return the hashes of the files that a scored event rests on, as they are now; `folder`: the event's."""
    workspace = workspace_of(folder)
    own = [workspace / path for path in scored.inputs if not path.startswith("drills/")]
    return input_hashes(workspace, (drill for drill, _ in scored.fields), own)


def _of_run(path: str) -> tuple[str, str]:
    parts = path.split("/")
    return (parts[1], parts[3]) if len(parts) == 5 and parts[0] == DRILLS and parts[2] == RUNS else ("", "")


def stale_bibs(found: tuple[Changed, ...]) -> dict[str, list[str]]:
    """Return bib -> the lines on its changed files."""
    stale: dict[str, list[str]] = {}
    for one in found:
        if one.bib:
            stale.setdefault(one.bib, []).append(one.line)
    return stale
