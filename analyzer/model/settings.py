"""How runs are measured where nobody says otherwise; all doors use it, so they find each other's results current."""

DRAWS = 64
"""Paths drawn for the 90 % intervals. Our choice: the interval of fewer draws is itself uncertain, more cost time."""
SEED = 0
"""Seed of those draws."""
CLOCK_REACH_S = 90.0
"""Largest offset between the clocks of a log and its track that is searched for: readings farther off have no place."""
