"""Tracks of recorders: one reader per format, and what all of them share."""
