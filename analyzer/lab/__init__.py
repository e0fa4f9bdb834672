"""Drills with known truth, and how well the engine finds it."""
