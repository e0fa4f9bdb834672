"""The words for what fails in a way that nobody thought of; the whole error goes to the log of the terminal."""

import logging

from analyzer.errors import AnalyzerError
from analyzer.workspace.unforeseen import unforeseen_line

LOG = logging.getLogger("searchwake.dashboard")


def failed_line(what: str, error: Exception) -> str:
    """Return the line of an error: its own where it is told to users anyway, else that of one nobody thought of."""
    if isinstance(error, AnalyzerError):
        return str(error)
    LOG.error("%s failed", what, exc_info=error)
    return unforeseen_line(what, "the program", error)
