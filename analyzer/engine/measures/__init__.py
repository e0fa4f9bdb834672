"""The measures of a run, each with its interval, and what its time was spent on. See docs/methods/measures.md."""

from analyzer.engine.measures.searches import Ground, measure_searches

__all__ = ["Ground", "measure_searches"]
