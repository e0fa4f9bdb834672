"""The scores of a finished result under another rule sheet, without measuring again."""

from analyzer.engine.verdict.score import score
from analyzer.model.account import Scores
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules


def rescore(result: RunResult, rules: Rules) -> Scores:
    """Return the scores of a run by the deductions and `missed_s` of `rules`.

    The account and the measures stay those of the result: where `rules` has another reference searcher (paces, radius,
    arms), the run has to be measured again instead.
    """
    return score(result.searches, result.account, rules, team=result.team)
