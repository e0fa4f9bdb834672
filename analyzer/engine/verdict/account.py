"""The verdict of a run: timeline, account, findings, scores."""

from collections.abc import Sequence

from analyzer.engine.verdict.findings import findings
from analyzer.engine.verdict.score import score
from analyzer.engine.verdict.timeline import timeline
from analyzer.model.account import MeasuredSearch, Verdict
from analyzer.model.arrays import FloatArray
from analyzer.model.phases import PhaseSpan
from analyzer.model.rules import Rules


def account(
    time_s: FloatArray,
    path_m: FloatArray,
    spans: Sequence[PhaseSpan],
    searches: Sequence[MeasuredSearch],
    rules: Rules,
    *,
    duration_s: float,
) -> Verdict:
    """Return the verdict on a run.

    Parameters
    ----------
    time_s : array, shape (n,)
    path_m : array, shape (n, 2)
        Best estimate of the path (row 0 of the draws), slope-plane metres.
    spans : sequence of PhaseSpan
    searches : sequence of MeasuredSearch
        As measured, with what was done and what it cost.
    rules : Rules
    duration_s : float
        End of the run.
    """
    told = findings(searches, spans, rules)
    rows = tuple(row for s in searches for row in s.account)
    return Verdict(
        timeline(time_s, path_m, spans, [e for s in searches for e in s.activities], duration_s),
        rows,
        told.said,
        told.possible,
        score(searches, rows, rules),
    )
