"""Scoring an event: its runs measured, its standings kept, and everything computed again to see that it still holds."""
