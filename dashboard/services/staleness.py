"""What a result was made with, and whether it is of its run's files as they are now: by the key that it carries, made
anew from the files."""

from pathlib import Path

from analyzer import __version__
from analyzer.errors import AnalyzerError
from analyzer.files.results import RESULT_FORMAT
from analyzer.model.result import RunResult
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.drill_key import drill_keys, result_key
from analyzer.workspace.sheet_in_force import rules_in_force

OTHER_VERSION = "This result was made by version {} of the program, this is version {}."
OTHER_FILES = "This result is older than the files of the run or of its drill: they were changed since it was measured."
OTHER_SHEET = (
    "This result was measured with another rule sheet than {}, version {}, which is in force for its drill now."
)
NO_SHEET = "The rule sheet of this drill cannot be used: {}. What is shown was measured before."
NO_FILES = "The files of this run are not in its drill any more: what is shown was measured before."


def stale_words(folder: Path, run: str, result: RunResult) -> str:
    """Return a sentence where a result is not of the files in its drill's folder, "" where it is."""
    if result.engine != __version__:
        return OTHER_VERSION.format(result.engine or "unknown", __version__)
    try:
        rules = rules_in_force(folder)
    except AnalyzerError as error:
        return NO_SHEET.format(error)
    if rules.sha256 != result.rules.sha256:
        return OTHER_SHEET.format(rules.name, rules.version)
    settings = (__version__, RESULT_FORMAT, result.rules.sha256, str(DRAWS), str(SEED))
    own = drill_keys(folder, settings=settings, only=run).runs.get(run)
    if own is None:
        return NO_FILES
    shared = () if result.shared is None else result.shared.runs
    return "" if result_key(own, ((r.run, r.sha256) for r in shared)) == result.drill_key else OTHER_FILES


def measured_words(result: RunResult) -> str:
    """Return with what a result was made: program, rule sheet, and the runs that had a part in its fit."""
    others = [] if result.shared is None else [r.run for r in result.shared.runs if r.run != result.run_id]
    runs = f", together with {len(others)} other run{'' if len(others) == 1 else 's'} of the drill" if others else ""
    sheet = f"the rule sheet {result.rules.name}, version {result.rules.version}"
    return f"Measured by version {result.engine or 'unknown'} of the program with {sheet}{runs}."
