"""The verdict: every second accounted for, what to practise, and points by the rule sheet. See docs/methods/."""

from analyzer.engine.verdict.account import account
from analyzer.engine.verdict.findings import findings
from analyzer.engine.verdict.score import points_of, score
from analyzer.engine.verdict.timeline import timeline

__all__ = ["account", "findings", "points_of", "score", "timeline"]
