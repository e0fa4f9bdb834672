"""Drill folders in, result files out: caching, parallel work and failures, with the pipeline in the middle."""

import dataclasses
import sys
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer import __version__
from analyzer.errors import AnalyzerError, InputError
from analyzer.files.names import RUNS, SHEET_FILE
from analyzer.files.results import RESULT_FORMAT
from analyzer.files.results.summary_csv import summary_bytes
from analyzer.files.source import write_atomic
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.drill_key import (
    DrillKeys,
    Kept,
    drill_keys,
    is_current,
    keep_entry,
    kept_runs,
    read_index,
    result_key,
)
from analyzer.workspace.layout import EARLIER_ENDING, OWN_FILES, SUMMARY_FILE
from analyzer.workspace.moved import Move, earlier_result, move_of, note_moves
from analyzer.workspace.unforeseen import fitted, refusal, unforeseen_line

if TYPE_CHECKING:  # these load numpy, which a pass over unchanged files does without
    from analyzer.files.folder import DrillFolder
    from analyzer.model.drill import Drill
    from analyzer.model.recording import Recording
    from analyzer.model.result import RunResult

SECONDS_PER_RUN = 0.1
"""Rough cost of a run, only to decide whether more processes are worth their start."""
WORTH_PROCESSES_S = 3.0


@dataclass(frozen=True, slots=True)
class Batch:
    """What holds for all drills of one call. `alone`: each run is fitted alone against the drill as laid. `own`: a
    drill with a rule sheet in its folder is measured with that one instead of `rules`."""

    out: Path
    rules: Rules
    draws: int = DRAWS
    seed: int = SEED
    alone: bool = False
    own: bool = False

    def of(self, folder: Path) -> "Batch":
        """Return what holds for one drill.

        Raises
        ------
        FileError, InputError
            Where the rule sheet in its folder cannot be used.
        """
        if not self.own or not (folder / SHEET_FILE).exists():
            return self
        from analyzer.files.rules_toml import own_rules  # loads numpy, which a pass over unchanged files does without

        rules = own_rules(folder)
        return self if rules is None else dataclasses.replace(self, rules=rules)

    def keys(self, folder: Path) -> DrillKeys:
        """Return the keys of a drill's inputs and its runs' under these settings."""
        alone = ("alone",) if self.alone else ()
        settings = (__version__, RESULT_FORMAT, self.rules.sha256, str(self.draws), str(self.seed), *alone)
        return drill_keys(folder, settings=settings)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one drill: rows for the summary, one line per failure.

    `final`: the same files fail again. `measured`: runs measured just now, not by an earlier call. `kept`: what the
    index keeps of each run. `moves`: what moved where the drill was measured anew. `refused`: what the disk says where
    it did not take a result. `rules`: SHA-256 of the rule sheet.
    """

    name: str
    key: str
    rows: list[dict[str, Any]]
    failures: list[str]
    final: bool = True
    measured: tuple[str, ...] = ()
    kept: dict[str, Kept] = field(default_factory=dict)
    moves: tuple[Move, ...] = ()
    refused: InputError | None = None
    rules: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One drill to be measured. `kept`: of runs whose results stay as they are; `anew`: what moves is to be told.
    `told`: is called with the name of each run as its measuring begins."""

    folder: Path
    name: str
    keys: DrillKeys
    batch: Batch
    kept: dict[str, Kept]
    anew: bool = False
    told: Callable[[str], None] | None = None


def analyze_drills(
    folders: Sequence[Path],
    batch: Batch,
    *,
    jobs: int = 1,
    again: bool = False,
    whole: bool = False,
    anew: Collection[str] = (),
    told: Callable[[str], None] | None = None,
) -> tuple[list[dict[str, Any]], list[str]]:
    """Analyse drill folders, write result files, summary.csv and the index, and return rows and failures.

    summary.csv holds the drills given first, then all others whose results are in the folder.

    A run whose result carries the key of its present files is not measured again unless `again`. `anew`: drills that
    are measured again all the same, with a note of what moved.

    Raises
    ------
    InputError
        Where `whole` is given and the disk did not take some result: what it was missing is no fault of a run.
    """
    found = {
        outcome.name: outcome for outcome in outcomes(folders, batch, jobs=jobs, again=again, anew=anew, told=told)
    }
    ordered = [found[folder.resolve().name] for folder in folders]
    for outcome in ordered if whole else ():
        if outcome.refused is not None:
            raise outcome.refused
    rows = [row for outcome in ordered for row in outcome.rows]
    others = [entry["rows"] for name, entry in sorted(read_index(batch.out).items()) if name not in found]
    write_atomic(batch.out / SUMMARY_FILE, summary_bytes([*rows, *(row for own in others for row in own)]))
    return rows, [line for outcome in ordered for line in outcome.failures]


def outcomes(
    folders: Sequence[Path],
    batch: Batch,
    *,
    jobs: int = 1,
    again: bool = False,
    anew: Collection[str] = (),
    told: Callable[[str], None] | None = None,
) -> Iterator[Outcome]:
    """Yield the outcome of every drill folder as it comes, those that are current first.

    A run that is new or changed is fitted with the drill's other runs, whose results stay as they are; all runs of a
    drill are measured anew where `again` is given, `anew` names the drill, or another rule sheet came into force for
    it, and what moved is noted beside results.

    What is measured is kept, result files first and then its entry in the index, before it is yielded: a call that is
    killed loses nothing that it has yielded, and the next one goes on from there.

    `told` is called with the name of each run that is measured; not where processes do it (`jobs` above 1).
    """
    index = read_index(batch.out)
    work: list[Job] = []
    for folder in folders:
        name = folder.resolve().name
        if name in OWN_FILES:
            yield Outcome(name, "", [], [f"{name}: a file of the results has this name; rename the drill's folder"])
            continue
        entry = index.get(name, {})
        try:
            own = batch.of(folder)
        except AnalyzerError as error:  # its results stay as they are until the sheet is mended
            yield Outcome(name, "", entry.get("rows", []), [_line(name, error)])
            continue
        keys, sheet = own.keys(folder), own.rules.sha256
        fresh = again or name in anew or (batch.own and entry.get("rules", sheet) != sheet)
        if fresh or not is_current(batch.out, name, keys.whole, index):
            kept = {} if fresh else kept_runs(batch.out, name, keys.runs, index)
            work.append(Job(folder, name, keys, own, kept, fresh, told))
        else:
            yield Outcome(name, keys.whole, entry["rows"], entry["failures"], rules=sheet)
    sheets = {job.name: job.batch.rules.sha256 for job in work}
    for outcome in _measured(work, jobs):
        if outcome.final:  # after an unforeseen error nothing is taken away: it may be the program that is wrong
            _set_stale_aside(batch.out, outcome, index)
        entry = {"key": outcome.key if outcome.final else "", "rows": outcome.rows, "failures": outcome.failures}
        runs = {run: kept.entry() for run, kept in outcome.kept.items()}
        keep_entry(batch.out, outcome.name, entry | {"runs": runs, "rules": sheets[outcome.name]})
        if outcome.moves:
            note_moves(batch.out, outcome.name, outcome.moves)
        yield dataclasses.replace(outcome, rules=sheets[outcome.name])


def _measured(work: list[Job], jobs: int) -> Iterator[Outcome]:
    """Yield outcomes as they come, with a progress bar on a terminal; in processes once that pays."""
    runs = {job.name: len(job.keys.runs) for job in work}
    done = _progress(sum(runs.values()))
    try:
        if min(jobs, len(work)) > 1 and sum(runs.values()) * SECONDS_PER_RUN > WORTH_PROCESSES_S:
            results = _in_processes(work, jobs)
        else:
            results = (analyze_folder(job) for job in work)
        for outcome in results:
            done(runs[outcome.name])
            yield outcome
    finally:
        done(-1)


def _in_processes(work: list[Job], jobs: int) -> Iterator[Outcome]:
    import joblib

    # One thread per process: the systems are small, and threads of several processes get in each other's way.
    with joblib.parallel_config("loky", n_jobs=min(jobs, len(work)), inner_max_num_threads=1):
        yield from joblib.Parallel(return_as="generator_unordered")(joblib.delayed(analyze_folder)(job) for job in work)


def analyze_folder(job: Job) -> Outcome:
    """Analyse one drill folder and write its result files; what fails is in the outcome, nothing is raised."""
    try:
        return _analyze_folder(job)
    except AnalyzerError as error:
        return Outcome(job.name, job.keys.whole, [], [_line(job.name, error)])
    except Exception as error:
        text = unforeseen_line(job.name, "the analysis", error)
        # Results that were there stay: they are not what failed.
        kept = {run: kept for run, kept in job.kept.items() if kept.row is not None}
        return Outcome(job.name, job.keys.whole, _rows(kept), [text], final=False, kept=kept, refused=refusal(error))


def _analyze_folder(job: Job) -> Outcome:
    from analyzer.files.folder import read_drill_folder

    drill_folder, kept, moves = read_drill_folder(job.folder), dict(job.kept), []
    unforeseen: dict[str, tuple[str, Exception]] = {}
    recordings = list(_recordings(job, drill_folder, kept, unforeseen))
    new = [recording.run_id for recording in recordings if recording.run_id not in kept]
    for run_id, result in _results(drill_folder.drill, recordings, job, new):
        if not (job.folder / RUNS / run_id).is_dir():
            kept[run_id] = Kept(job.keys.runs[run_id], failure=gone_line(job.name, run_id))
            continue
        try:
            kept[run_id], moved = _written(job, run_id, result)
        except Exception as error:  # of the disk too: the others are written all the same
            unforeseen[run_id] = ("the analysis", error)
            continue
        moves += [moved] if moved is not None else []
    kept = {run.name: kept[run.name] for run in drill_folder.runs if run.name in kept and run.name not in unforeseen}
    lines = [unforeseen_line(f"{job.name}/{run}", what, error) for run, (what, error) in unforeseen.items()]
    failures = [one.failure for one in kept.values() if one.failure] + lines
    measured = tuple(run for run in new if run in kept and kept[run].row is not None)
    return Outcome(
        job.name,
        job.keys.whole,
        _rows(kept),
        failures,
        not unforeseen,
        measured=measured,
        kept=kept,
        moves=tuple(moves),
        refused=next(filter(None, (refusal(error) for _, error in unforeseen.values())), None),
    )


def _recordings(
    job: Job, drill_folder: "DrillFolder", kept: dict[str, Kept], unforeseen: dict[str, tuple[str, Exception]]
) -> "Iterator[Recording]":
    """Yield the runs of a drill as they are read; what cannot be read goes into `kept` or `unforeseen`."""
    from analyzer.files.folder import read_run

    for run in drill_folder.runs:
        if run.name not in job.keys.runs:
            continue  # it came while others were read: the next pass measures it
        try:
            recording = read_run(run, drill_folder.drill)
        except AnalyzerError as error:
            failure = _line(job.name, error) if run.is_dir() else gone_line(job.name, run.name)
            kept.setdefault(run.name, Kept(job.keys.runs[run.name], failure=failure))
        except Exception as error:
            unforeseen[run.name] = ("reading", error)
        else:
            yield dataclasses.replace(recording, inputs=drill_folder.inputs + recording.inputs)


def gone_line(drill: str, run: str) -> str:
    """Return the line for a run that was there when its drill was begun, and is not when it is its turn."""
    what = "the run was deleted or moved while it was measured"
    return str(InputError(where=f"{drill}/{run}", what=what, do="nothing is lost: the page Bin puts it back"))


def _rows(kept: dict[str, Kept]) -> list[dict[str, Any]]:
    return [one.row for one in kept.values() if one.row is not None]


def _results(
    drill: "Drill", recordings: "list[Recording]", job: Job, new: list[str]
) -> "Iterator[tuple[str, RunResult | Exception]]":
    """Yield a result or an error for each run of `new`; the other runs have a part in their fit, unless it is alone."""
    if not new:
        return
    from analyzer.engine.pipeline import analyze_drill

    batch = job.batch

    def measure(drill: "Drill", runs: "list[Recording]") -> "list[RunResult | AnalyzerError]":
        return analyze_drill(drill, runs, batch.rules, draws=batch.draws, seed=batch.seed, told=job.told)

    fits = [[one] for one in recordings if one.run_id in new] if batch.alone else [recordings]
    for fit in fits:
        for recording, result in zip(fit, fitted(drill, fit, measure), strict=True):
            if recording.run_id in new:
                yield recording.run_id, result


def _written(job: Job, run_id: str, result: "RunResult | Exception") -> tuple[Kept, Move | None]:
    """Write the result of a run and return what is kept of it, and what moved where that is to be told.

    An error that nobody thought of is raised, and so is one of the disk.
    """
    own = job.keys.runs[run_id]
    if isinstance(result, AnalyzerError):
        return Kept(own, failure=_line(job.name, result)), None
    if isinstance(result, Exception):
        raise result
    from analyzer.files.results.result_json import write_result
    from analyzer.files.results.summary_row import summary_row

    path = job.batch.out / job.name / f"{run_id}.json"
    before = earlier_result(path) if job.anew else None
    runs = () if result.shared is None else result.shared.runs
    key = result_key(own, ((run.run, run.sha256) for run in runs))
    try:
        written = write_result(path, dataclasses.replace(result, engine=__version__, drill_key=key))
    except AnalyzerError as error:
        return Kept(own, failure=_line(job.name, error)), None
    kept = Kept(own, result=key, row=summary_row(job.name, written), size=path.stat().st_size)
    return kept, None if before is None else move_of(before, written)


def _line(name: str, error: AnalyzerError) -> str:
    """Return "lower_bowl/mara-1/track.gpx, point 12: what; do"."""
    text = str(error)
    return text if text.startswith((f"{name}/", f"{name}:")) else f"{name}/{text}"


def _set_stale_aside(out: Path, outcome: Outcome, index: dict[str, Any]) -> None:
    """Set aside results that an earlier call wrote and that the present files no longer give."""
    current = {row["run"] for row in outcome.rows}
    for row in index.get(outcome.name, {}).get("rows", []):
        path = out / outcome.name / f"{row['run']}.json"
        if row["run"] not in current and path.is_file():
            path.replace(path.with_name(path.name + EARLIER_ENDING))


def _progress(total: int) -> Callable[[int], None]:
    """Return a function that counts runs done on a bar, or does nothing off a terminal; -1 takes the bar away."""
    if not sys.stderr.isatty() or total == 0:
        return lambda _: None
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn("measuring runs"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    bar.start()
    task = bar.add_task("runs", total=total)

    def count(done: int) -> None:
        if done < 0:
            bar.stop()
        else:
            bar.advance(task, done)

    return count
