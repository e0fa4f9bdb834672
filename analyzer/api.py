"""The engine for notebooks: a drill folder in, frozen values out. Nothing is written, nothing is shown."""

import dataclasses
import math
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer import __version__
from analyzer.engine.pipeline import analyze_drill
from analyzer.errors import AnalyzerError
from analyzer.files.folder import read_drill_folder, read_run
from analyzer.files.rules_toml import default_rules, own_rules
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure, Measured
from analyzer.model.recording import Recording
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS

if TYPE_CHECKING:
    import pandas as pd


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


def analyze(path: Path | str, rules: Rules | None = None, *, draws: int = DRAWS) -> list[RunResult | AnalyzerError]:
    """Return the result of every run of a drill folder, or the error that kept a run out, in the order of the runs.

    Parameters
    ----------
    path : path or str
        A folder with `drill.toml` and `runs/`.
    rules : Rules, optional
        A rule sheet, as `analyzer.files.rules_toml.read_rules_toml` returns it; if left out, `rules.toml` of the drill,
        and where it has none the built-in one.
    draws : int
        Paths drawn for the 90 % intervals; 0 gives figures without intervals.

    Raises
    ------
    InputError
        Where the folder or its `drill.toml` is missing or bad, or its `rules.toml` is bad.
    """
    drill, runs = read_drill(path)
    rules = rules or own_rules(Path(path)) or default_rules()
    recordings = [run for run in runs if isinstance(run, Recording)]
    results = iter(analyze_drill(drill, recordings, rules, draws=draws)) if recordings else iter(())
    found = [next(results) if isinstance(run, Recording) else run for run in runs]
    return [dataclasses.replace(r, engine=__version__) if isinstance(r, RunResult) else r for r in found]


def measures_table(results: Iterable[RunResult | AnalyzerError]) -> "pd.DataFrame":
    """Return all measured figures as a table, one row a figure: for sorting, grouping and plotting in a notebook.

    Parameters
    ----------
    results : iterable of RunResult or AnalyzerError
        As `analyze` returns them; runs that failed have no rows.

    Returns
    -------
    pandas.DataFrame
        Columns run, searcher, drill, transmitter, phase, measure, value, low, high, unit, why. Where a figure is not
        assessable its numbers are NaN and `why` says the reason.
    """
    import pandas as pd

    rows = [
        {
            "run": result.run_id,
            "searcher": result.searcher,
            "drill": result.drill,
            "transmitter": search.transmitter,
            "phase": phase,
            "measure": name,
            **_figure_cells(figure),
        }
        for result in results
        if isinstance(result, RunResult)
        for search in result.searches
        for phase in ("signal", "coarse", "fine", "pinpoint")
        for name, figure in getattr(search, phase)
    ]
    columns = ["run", "searcher", "drill", "transmitter", "phase", "measure", "value", "low", "high", "unit", "why"]
    return pd.DataFrame(rows, columns=columns)


def _figure_cells(figure: Measured) -> dict[str, float | str]:
    if isinstance(figure, Figure):
        return {"value": figure.value, "low": figure.low, "high": figure.high, "unit": figure.unit, "why": ""}
    return {"value": math.nan, "low": math.nan, "high": math.nan, "unit": "", "why": figure.why}
