"""The engine for notebooks: a drill folder in, frozen values out. Nothing is written, nothing is shown."""

import dataclasses
from pathlib import Path

from analyzer import __version__
from analyzer.errors import AnalyzerError
from analyzer.files.folder import read_drill_folder, read_run
from analyzer.files.rules_toml import default_rules
from analyzer.model.drill import Drill
from analyzer.model.recording import Recording
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.pipeline import analyze_drill


def read_drill(path: Path | str) -> tuple[Drill, list[Recording | AnalyzerError]]:
    """Return a drill and all that was recorded of its runs, in the order of the run folders' names.

    Parameters
    ----------
    path : path or str
        A folder with `drill.toml` and `runs/`.

    Returns
    -------
    tuple
        The drill, and per run its recording or the error that says why its files cannot be used.

    Raises
    ------
    InputError
        Where the folder or its `drill.toml` is missing or bad.
    """
    folder = read_drill_folder(path)
    runs: list[Recording | AnalyzerError] = []
    for run in folder.runs:
        try:
            recording = read_run(run, folder.drill)
        except AnalyzerError as error:
            runs.append(error)
        else:
            runs.append(dataclasses.replace(recording, inputs=folder.inputs + recording.inputs))
    return folder.drill, runs


def analyze(path: Path | str, rules: Rules | None = None, *, draws: int = 64) -> list[RunResult | AnalyzerError]:
    """Return the result of every run of a drill folder, or the error that kept a run out, in the order of the runs.

    Parameters
    ----------
    path : path or str
        A folder with `drill.toml` and `runs/`.
    rules : Rules, optional
        A rule sheet, as `analyzer.files.rules_toml.read_rules_toml` returns it; the built-in one if left out.
    draws : int
        Paths drawn for the 90 % intervals; 0 gives figures without intervals.

    Raises
    ------
    InputError
        Where the folder or its `drill.toml` is missing or bad.
    """
    drill, runs = read_drill(path)
    recordings = [run for run in runs if isinstance(run, Recording)]
    results = iter(analyze_drill(drill, recordings, rules or default_rules(), draws=draws)) if recordings else iter(())
    found = [next(results) if isinstance(run, Recording) else run for run in runs]
    return [dataclasses.replace(r, engine=__version__) if isinstance(r, RunResult) else r for r in found]
