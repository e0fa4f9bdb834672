"""The verdict: every second accounted for, what to practise, and points by the rule sheet. See docs/methods/."""

from analyzer.verdict.account import account
from analyzer.verdict.findings import findings
from analyzer.verdict.ledger import ledger, seconds_by_cause, walked_m
from analyzer.verdict.score import points_of, score

__all__ = ["account", "findings", "ledger", "points_of", "score", "seconds_by_cause", "walked_m"]
