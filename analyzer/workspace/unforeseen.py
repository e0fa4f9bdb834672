"""Errors of the disk, and those that nobody thought of: told in one line, and kept to the run that they come from."""

import errno
import os
import traceback
from collections.abc import Callable
from typing import TYPE_CHECKING

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.source import disk_error

if TYPE_CHECKING:  # these load numpy, which a pass over unchanged files does without
    from analyzer.model.drill import Drill
    from analyzer.model.recording import Recording
    from analyzer.model.result import RunResult

    Measure = Callable[[Drill, list[Recording]], list[RunResult | AnalyzerError]]

FAILED = "itself failed"
"""Words by which an error that nobody thought of is known."""
LONGEST_ERROR = 200
"""Characters of an unforeseen error that are told."""


def unforeseen_line(where: str, what: str, error: Exception) -> str:
    """Return the line about an error that is no fault of the files: of the disk, or one that nobody thought of."""
    return str(unforeseen_error(where, what, error))


def unforeseen_error(where: str, what: str, error: Exception) -> InputError:
    """Return an error that is no fault of the files as one that is told in one line."""
    if isinstance(error, OSError):
        return disk_error(error, where=where)
    if os.environ.get("SEARCHWAKE_TRACEBACK"):
        traceback.print_exception(error)
    text = " ".join(str(error).split())[:LONGEST_ERROR]
    said = f"{what} {FAILED} ({type(error).__name__}{': ' if text else ''}{text})"
    return InputError(where=where, what=said, do="please report it with the files")


def refusal(error: Exception) -> InputError | None:
    """Return what is told of a disk that did not take what was measured, None where that is not what went wrong.

    A name that is too long for the disk is a matter of its run, and stays so when there is room again.
    """
    if isinstance(error, OSError) and error.errno != errno.ENAMETOOLONG:
        return disk_error(error)
    return None


def fitted(drill: "Drill", fit: "list[Recording]", measure: "Measure") -> "list[RunResult | Exception]":
    """Return the results of runs fitted together. Where that fails in a way nobody thought of, the runs that fail alone
    are left out of the fit, so that one bad run does not take its drill along."""

    def measured(runs: "list[Recording]") -> "list[RunResult | Exception]":
        try:
            return list(measure(drill, runs))
        except Exception as error:
            return [error] * len(runs)

    together = measured(fit)
    if len(fit) == 1 or not all(isinstance(r, Exception) and not isinstance(r, AnalyzerError) for r in together):
        return together
    alone = [measured([one])[0] for one in fit]
    sound = [i for i, r in enumerate(alone) if not isinstance(r, Exception) or isinstance(r, AnalyzerError)]
    if len(sound) < len(fit):
        for i, result in zip(sound, fitted(drill, [fit[i] for i in sound], measure) if sound else [], strict=True):
            alone[i] = result
        return alone
    return together  # none fails alone: it is the fit of all together that does
