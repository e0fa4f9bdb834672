"""The runs of an event measured, those alone that are new or changed, and what a score takes from each."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from analyzer.events.files.folder import EventFolder, marks_in
from analyzer.events.files.kept_facts import KeptFacts, read_kept_facts, write_kept_facts
from analyzer.events.files.run_facts import facts_of
from analyzer.events.model import RunFacts
from analyzer.files.hashes import hash_at
from analyzer.files.names import RUNS
from analyzer.files.results.result_json import parse_result
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.batch import Batch, analyze_drills
from analyzer.workspace.layout import DRILLS, EARLIER_ENDING, RESULTS

AGAIN = "searchwake standings EVENT --again measures it again"


@dataclass(frozen=True, slots=True)
class MeasuredRuns:
    """What the runs of an event gave.

    `facts`: (drill, run) -> what a score rests on. `problems`: (drill, run) -> why a run could not be measured.
    `results`: path in the event's results -> SHA-256. `failures`: a line for each run that could not be measured.
    """

    facts: dict[tuple[str, str], RunFacts]
    problems: dict[tuple[str, str], str]
    results: dict[str, str]
    failures: tuple[str, ...]


def measured_runs(
    folder: EventFolder, out: Path, *, jobs: int = 1, recorded: Mapping[str, str] | None = None
) -> MeasuredRuns:
    """Measure the event's runs into `out`, each alone against the drill as laid.

    A run whose own files, drill, sheet, draws, seed and program are those of the result that is there is not measured
    again, if that result has the bytes that were noted of it; where it has others, it is set aside and measured again.

    Parameters
    ----------
    folder : EventFolder
    out : Path
        The folder of results.
    jobs : int
        Processes.
    recorded : mapping, optional
        Path in `out` -> SHA-256 of results as they were scored.
    """
    known = read_kept_facts(out)
    # What was scored goes before what is kept beside the results: the two of them can be changed together.
    _set_changed_aside(out, {**{name: kept.sha256 for name, kept in known.items()}, **(recorded or {})})
    batch = Batch(out=out, rules=folder.measuring, draws=DRAWS, seed=SEED, alone=True)
    _, failures = analyze_drills(folder.drills(), batch, jobs=jobs, whole=True)
    results: dict[str, str] = {}
    kept: dict[str, KeptFacts] = {}
    facts = {key: one.facts for key, one in folder.forgotten.items() if one.facts is not None}
    problems = {key: one.problem for key, one in folder.forgotten.items() if one.facts is None}
    for entry in folder.event.entries:
        for drill, run in entry.runs:
            name = f"{drill}/{run}.json"
            if (drill, run) in folder.forgotten:
                continue
            if not (out / name).is_file():
                problems[(drill, run)] = _problem(drill, run, failures)
                continue
            results[name] = hash_at(str(out / name)) or ""
            kept[name] = _facts(folder, out, drill, run, known.get(name), results[name])
            facts[(drill, run)] = kept[name].facts
    if kept != known:
        write_kept_facts(out, kept)
    return MeasuredRuns(facts, problems, dict(sorted(results.items())), tuple(failures))


def _facts(folder: EventFolder, out: Path, drill: str, run: str, known: KeptFacts | None, sha256: str) -> KeptFacts:
    """Return the facts of a run: those that are kept of these very bytes, else read from them."""
    if known is not None and known.sha256 == sha256:
        return known
    name = f"{drill}/{run}.json"
    data = read_bytes(out / name)
    marks = marks_in(folder.workspace / DRILLS / drill / RUNS / run)
    result = parse_result(data, name=f"{RESULTS}/{name}", do=AGAIN)
    return KeptFacts(sha256_hex(data), facts_of(result, source=name, marks=marks))


def _set_changed_aside(out: Path, noted: Mapping[str, str]) -> None:
    """Set results aside whose bytes are not those that were noted: they count for nothing, and are not lost."""
    for name, sha256 in noted.items():
        path = out / name
        if hash_at(str(path)) not in (None, sha256):
            path.replace(path.with_name(path.name + EARLIER_ENDING))


def _problem(drill: str, run: str, failures: list[str]) -> str:
    own = next((line for line in failures if line.startswith((f"{drill}/{run}/", f"{drill}/{run}:"))), "")
    return own or next(
        (line for line in failures if line.startswith((f"{drill}:", f"{drill}/drill"))),
        f"{drill}/{run}: it was not measured",
    )
