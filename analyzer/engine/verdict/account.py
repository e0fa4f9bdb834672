"""The verdict of a run: timeline, account, findings, scores."""

from collections.abc import Sequence

from analyzer.engine.verdict.findings import Findings, findings
from analyzer.engine.verdict.score import score
from analyzer.engine.verdict.timeline import timeline
from analyzer.model.account import AccountRow, MeasuredSearch, Verdict
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import exact
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
    fits_together: bool = True,
    team: bool = False,
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
    fits_together : bool
        Whether the files of the run agree. Where they do not nothing is said of it, and it has no score.
    team : bool
        Several searchers looked for the same burials.
    """
    told = findings(searches, spans, rules) if fits_together else Findings((), ())
    rows = tuple(row for s in searches for row in (s.account if fits_together else untold(s.account)))
    return Verdict(
        timeline(time_s, path_m, spans, [e for s in searches for e in s.activities], duration_s),
        rows,
        told.said,
        told.possible,
        score(searches, rows, rules, team=team),
    )


def untold(rows: Sequence[AccountRow]) -> tuple[AccountRow, ...]:
    """Return one row for each phase of the rows, with all of its seconds and no cause."""
    out = []
    for phase, who in dict.fromkeys((row.phase, row.transmitter) for row in rows):
        own = [row for row in rows if (row.phase, row.transmitter) == (phase, who)]
        seconds = exact(sum(row.seconds.value for row in own), "s")
        out.append(AccountRow(phase, who, "not_told_apart", seconds, sum(row.metres for row in own)))
    return tuple(out)
