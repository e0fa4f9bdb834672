"""Drill folders in, result files out: caching, parallel work and failures, with the pipeline in the middle."""

import dataclasses
import os
import sys
import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer import __version__
from analyzer.errors import AnalyzerError
from analyzer.files.names import RUNS
from analyzer.files.results.summary_csv import summary_bytes
from analyzer.files.source import write_atomic
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.drill_key import drill_key, is_current, keep_entry, read_index
from analyzer.workspace.layout import SUMMARY_FILE

if TYPE_CHECKING:  # these load numpy, which a pass over unchanged files does without
    from analyzer.model.drill import Drill
    from analyzer.model.recording import Recording
    from analyzer.model.result import RunResult

SECONDS_PER_RUN = 0.1
"""Rough cost of a run, only to decide whether more processes are worth their start."""
WORTH_PROCESSES_S = 3.0


@dataclass(frozen=True, slots=True)
class Batch:
    """What holds for all drills of one call."""

    out: Path
    rules: Rules
    draws: int = DRAWS
    seed: int = SEED

    def key(self, folder: Path) -> str:
        """Return the key of a drill's inputs under these settings."""
        return drill_key(folder, settings=(__version__, self.rules.sha256, str(self.draws), str(self.seed)))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one drill: rows for the summary, one line per failure.

    `final`: the same files fail again. `measured`: just now, not by an earlier call.
    """

    name: str
    key: str
    rows: list[dict[str, Any]]
    failures: list[str]
    final: bool = True
    measured: bool = True


def analyze_drills(
    folders: Sequence[Path], batch: Batch, *, jobs: int = 1, again: bool = False
) -> tuple[list[dict[str, Any]], list[str]]:
    """Analyse drill folders, write result files, summary.csv and the index, and return rows and failures.

    A drill whose results carry the key of its present inputs is not measured again unless `again`.
    """
    found = {outcome.name: outcome for outcome in outcomes(folders, batch, jobs=jobs, again=again)}
    ordered = [found[folder.resolve().name] for folder in folders]
    rows = [row for outcome in ordered for row in outcome.rows]
    write_atomic(batch.out / SUMMARY_FILE, summary_bytes(rows))
    return rows, [line for outcome in ordered for line in outcome.failures]


def outcomes(folders: Sequence[Path], batch: Batch, *, jobs: int = 1, again: bool = False) -> Iterator[Outcome]:
    """Yield the outcome of every drill folder as it comes, those that are current first.

    What is measured is kept, result files first and then its entry in the index, before it is yielded: a call that is
    killed loses nothing that it has yielded, and the next one goes on from there.
    """
    index = read_index(batch.out)
    work: list[Job] = []
    for folder in folders:
        name, key = folder.resolve().name, batch.key(folder)
        if again or not is_current(batch.out, name, key, index):
            work.append((folder, name, key, batch))
        else:
            yield Outcome(name, key, index[name]["rows"], index[name]["failures"], measured=False)
    for outcome in _measured(work, jobs):
        _remove_stale(batch.out, outcome, index)
        key = outcome.key if outcome.final else ""
        keep_entry(batch.out, outcome.name, {"key": key, "rows": outcome.rows, "failures": outcome.failures})
        yield outcome


Job = tuple[Path, str, str, Batch]


def _measured(work: list[Job], jobs: int) -> Iterator[Outcome]:
    """Yield outcomes as they come, with a progress bar on a terminal; in processes once that pays."""
    runs = {job[0]: _number_of_runs(job[0]) for job in work}
    done = _progress(sum(runs.values()))
    folders = {name: folder for folder, name, _, _ in work}
    try:
        if min(jobs, len(work)) > 1 and sum(runs.values()) * SECONDS_PER_RUN > WORTH_PROCESSES_S:
            results = _in_processes(work, jobs)
        else:
            results = (analyze_folder(*job) for job in work)
        for outcome in results:
            done(runs[folders[outcome.name]])
            yield outcome
    finally:
        done(-1)


def _in_processes(work: list[Job], jobs: int) -> Iterator[Outcome]:
    import joblib

    # One thread per process: the systems are small, and threads of several processes get in each other's way.
    with joblib.parallel_config("loky", n_jobs=min(jobs, len(work)), inner_max_num_threads=1):
        yield from joblib.Parallel(return_as="generator_unordered")(joblib.delayed(analyze_folder)(*j) for j in work)


def _number_of_runs(folder: Path) -> int:
    runs = folder / RUNS
    return sum(1 for p in runs.iterdir() if p.is_dir()) if runs.is_dir() else 0


def analyze_folder(folder: Path, name: str, key: str, batch: Batch) -> Outcome:
    """Analyse one drill folder and write its result files; what fails is in the outcome, nothing is raised."""
    try:
        return _analyze_folder(folder, name, key, batch)
    except AnalyzerError as error:
        return Outcome(name, key, [], [_line(name, error)])
    except Exception as error:
        if os.environ.get("SEARCHWAKE_TRACEBACK"):
            traceback.print_exc()
        text = f"{name}: the analysis itself failed ({type(error).__name__}: {error}); please report it with the files"
        return Outcome(name, key, [], [text], final=False)


def _analyze_folder(folder: Path, name: str, key: str, batch: Batch) -> Outcome:
    from analyzer.files.folder import read_drill_folder, read_run
    from analyzer.files.results.result_json import write_result
    from analyzer.files.results.summary_row import summary_row

    drill_folder = read_drill_folder(folder)
    recordings, failures = [], []
    for run in drill_folder.runs:
        try:
            recording = read_run(run, drill_folder.drill)
        except AnalyzerError as error:
            failures.append(_line(name, error))
        else:
            recordings.append(dataclasses.replace(recording, inputs=drill_folder.inputs + recording.inputs))
    rows = []
    for result in _measure(drill_folder.drill, recordings, batch):
        if isinstance(result, AnalyzerError):
            failures.append(_line(name, result))
            continue
        keyed = dataclasses.replace(result, engine=__version__, drill_key=key)
        written = write_result(batch.out / name / f"{keyed.run_id}.json", keyed)
        rows.append(summary_row(name, written))
    return Outcome(name, key, rows, failures)


def _measure(drill: "Drill", recordings: "list[Recording]", batch: Batch) -> "list[RunResult | AnalyzerError]":
    """Return a result or an error per recording; all runs of a drill are measured together."""
    if not recordings:
        return []
    from analyzer.engine.pipeline import analyze_drill

    return list(analyze_drill(drill, recordings, batch.rules, draws=batch.draws, seed=batch.seed))


def _line(name: str, error: AnalyzerError) -> str:
    """Return "lower_bowl/mara-1/track.gpx, point 12: what; do"."""
    text = str(error)
    return text if text.startswith((f"{name}/", f"{name}:")) else f"{name}/{text}"


def _remove_stale(out: Path, outcome: Outcome, index: dict[str, Any]) -> None:
    """Remove results that an earlier call wrote and that the present files no longer give."""
    current = {row["run"] for row in outcome.rows}
    for row in index.get(outcome.name, {}).get("rows", []):
        if row["run"] not in current:
            (out / outcome.name / f"{row['run']}.json").unlink(missing_ok=True)


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
