"""How far a searcher walked across the field instead of along it."""

import numpy as np

from analyzer.engine.measures.intervals import figure_of
from analyzer.engine.measures.window import Window
from analyzer.geometry.polyline import segment_lengths
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Measured, NotAssessable
from analyzer.model.path import FusedPath
from analyzer.physics.dipole import dipole_field
from analyzer.physics.receiver import offsets

ASTRAY_RAD = np.radians(28.0)
"""Farther than this from the direction shown is not following it; our choice: twice the sway of a careful searcher."""
WALKING_MPS = 0.3
LEAVING_S = 6.0  # the way from the line to where one is well off it


def off_line_walking_m(fused: FusedPath, window: Window, spell_s: tuple[float, float]) -> Measured:
    """Return the metres walked more than 28 degrees off the direction the field has at the searcher's own place.

    Unlike the distance to one ideal line this does not blame a searcher who follows another line than the ideal one:
    near a fork a step at acquisition decides which way round the line leads. The sign of the direction is left open.
    Counted from shortly before to the end of `spell_s`, the time off the ideal line.
    """
    name = window.span.transmitter
    if fused.axis_source == "unknown" or name not in fused.transmitter_ids:
        return NotAssessable("the antenna's axis is unknown, so is the direction of the field")
    k = fused.transmitter_ids.index(name)
    height = np.interp(window.time_s, fused.time_s, fused.height_m)
    place = offsets(window.path_m, height, window.transmitter_m[:, None, :], fused.depth_m[k])
    field = dipole_field(place, fused.draws.axis[:, k, None, :])[..., :2]
    step = np.diff(window.path_m, axis=1)
    along = (field[:, 1:] + field[:, :-1]) / 2.0
    off = axial_angle(step, along)
    walking = segment_lengths(window.path_m) > WALKING_MPS * np.diff(window.time_s)
    t = window.time_s[:-1]
    walking &= (t >= spell_s[0] - LEAVING_S) & (t <= spell_s[1])
    return figure_of((window.step_m() * window.share * walking * (off > ASTRAY_RAD)).sum(axis=1), "m", least=0.0)


def axial_angle(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the angle 0..pi/2 between directions (..., 2), both ways along them alike."""
    across = np.abs(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
    along = np.abs(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1])
    angle: FloatArray = np.arctan2(across, along)
    return angle
