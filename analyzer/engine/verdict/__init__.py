"""The verdict: every second accounted for, what to practise, and points by the rule sheet. See docs/methods/."""

from analyzer.engine.verdict.account import account
from analyzer.engine.verdict.findings import findings
from analyzer.engine.verdict.ledger import ledger, seconds_by_cause
from analyzer.engine.verdict.score import points_of, score

__all__ = ["account", "findings", "ledger", "points_of", "score", "seconds_by_cause"]
