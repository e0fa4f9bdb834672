"""Geometry without physics: the slope plane and polylines in it."""
