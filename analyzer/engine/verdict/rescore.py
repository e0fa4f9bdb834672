"""The scores of a finished result under another rule sheet, without measuring again."""

import math

import numpy as np

from analyzer.engine.verdict.score import score
from analyzer.model.account import Scores
from analyzer.model.phases import PhaseSpan
from analyzer.model.result import Phase, RunResult
from analyzer.model.rules import Rules


def rescore(result: RunResult, rules: Rules) -> Scores:
    """Return the scores of a run by the weights, deductions and points per second of `rules`.

    The ledger and the measures stay those of the result: where `rules` has another reference searcher (paces, radius,
    arms), the run has to be measured again instead.
    """
    return score(result.searches, result.ledger, [_span(phase) for phase in result.phases], rules)


def _span(phase: Phase) -> PhaseSpan:
    start_sigma_s, end_sigma_s = (math.nan if s is None else s for s in (phase.start_sigma_s, phase.end_sigma_s))
    return PhaseSpan(
        phase.phase,
        phase.transmitter,
        phase.start_s,
        phase.end_s,
        start_sigma_s,
        end_sigma_s,
        np.array([phase.start_s]),
        np.array([phase.end_s]),
        phase.note,
    )
