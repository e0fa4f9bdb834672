"""How runs are measured where nobody says otherwise; all doors use it, so they find each other's results current."""

DRAWS = 64
"""Paths drawn for the 90 % intervals. Our choice: the interval of fewer draws is itself uncertain, more cost time."""
SEED = 0
"""Seed of those draws."""
