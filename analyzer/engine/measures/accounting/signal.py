"""The signal search against its own new ground at the sheet's pace.

Reference is the searcher's own path where more than half of the strip across it is new ground, and the ways between
strips up to one strip width each. The order of good strips is luck and costs nobody. Other metres inside the area are
covered twice, those beside it outside; the time on other strips while one was left out is that of the missed strip.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analyzer.engine.measures.accounting.shares import EDGE_S, Share, Spell, jittered, taken_out
from analyzer.engine.measures.standing import Stop
from analyzer.engine.measures.strips_walked import main_direction
from analyzer.engine.measures.window import Window
from analyzer.engine.measures.wrong_way import runs
from analyzer.geometry.polyline import cumulative_length, inside_polygon, nearest, point_at
from analyzer.model.arrays import FloatArray

MOST_POINTS = 200  # of a path, in judging its ground: a step of 3 m in a usual search
DRAWN_POINTS = 100  # of a drawn path
LEAST_TWICE_M = 5.0  # a shorter stretch is a corner, or the end of a way; our choice
ACROSS = np.linspace(-0.45, 0.45, 7)  # places across a strip, in strip widths
NEW_SHARE = 0.5
BESIDE_M = 5.0  # so far out of the area nobody is called outside: the corners are paced off; our choice
PASSED_M = 1.0  # a place so far behind has been passed: less is the sway of a walk; our choice
SAME_LINE = np.cos(np.radians(40.0))  # directions closer than this are one line, walked to and fro; our choice
NEW, WAY, TWICE, OUTSIDE = range(4)


def signal_shares(
    window: Window,
    corners_m: FloatArray | None,
    strip_width_m: float,
    pace_mps: float,
    missed: Spell | None,
    stops: Sequence[Stop],
    holes: Sequence[Spell],
) -> list[Share]:
    """Return the shares of a signal search.

    Parameters
    ----------
    window : Window
    corners_m : array, shape (c, 2), or None
        Of the area in the slope plane; without one all ground walked counts as new.
    strip_width_m, pace_mps : float
        Of the drill and of the rule sheet.
    missed : (from_s, to_s) or None
        While a strip was left out.
    stops, holes
        Stops, unrecorded time.
    """
    rows = len(window.start_s)
    ways = []
    if missed is not None:
        ways.append(("missed_strip", jittered(missed[0], EDGE_S, rows), jittered(missed[1], EDGE_S, rows)))
    shares, rest = taken_out(window, ways, stops, holes)
    kind = _kinds_of_draws(window, corners_m, strip_width_m)
    known = (kind == NEW) | (kind == WAY)
    own_s = np.where(known, rest.seconds, 0.0).sum(axis=1)
    own_m = np.where(known, rest.metres, 0.0).sum(axis=1)
    shares += [
        Share("reference", own_m / pace_mps, own_m, rest.spells),
        Share("pace", own_s - own_m / pace_mps, np.zeros(rows), rest.spells),
    ]
    for cause, which in (("covered_twice", TWICE), ("outside", OUTSIDE)):
        seconds = np.where(kind == which, rest.seconds, 0.0).sum(axis=1)
        if seconds[0] > 0.0 or seconds.mean() > 0.0:
            metres = np.where(kind == which, rest.metres, 0.0).sum(axis=1)
            shares.append(Share(cause, seconds, metres, _spells(window, kind[0] == which)))
    return shares


def _kinds_of_draws(window: Window, corners_m: FloatArray | None, width_m: float) -> FloatArray:
    """Return the kind of ground of each piece in every draw, (S, m - 1); (1, m - 1) where none was covered twice.

    Where ground covered twice begins and ends is as uncertain as the path is. What the best estimate does not show is
    charged to nobody.
    """
    kind = ground_kinds(window.time_s, window.path_m[0], window.best, corners_m, width_m)
    if not np.any(kind == TWICE):
        return kind[None]
    drawn = [
        ground_kinds(window.time_s, row, window.best, corners_m, width_m, DRAWN_POINTS) for row in window.path_m[1:]
    ]
    return np.array([kind, *drawn])


def _spells(window: Window, mask: FloatArray) -> tuple[Spell, ...]:
    t = window.time_s
    low, high = window.span.start_s, window.span.end_s
    found = [(max(float(t[lo]), low), min(float(t[hi]), high)) for lo, hi in runs(mask & (window.share[0] > 0.0))]
    return tuple(spell for spell in found if spell[1] > spell[0])


def ground_kinds(
    time_s: FloatArray,
    path_m: FloatArray,
    best: slice,
    corners_m: FloatArray | None,
    width_m: float,
    most: int = MOST_POINTS,
) -> FloatArray:
    """Return the kind of ground of each piece of a path (m - 1,): NEW, WAY, TWICE or OUTSIDE.

    Parameters
    ----------
    time_s, path_m : array, shape (m,), (m, 2)
    best : slice
        Of the points inside the phase.
    corners_m : array, shape (c, 2), or None
    width_m : float
        Strip width.
    most : int
        Points of the path at which its ground is judged.
    """
    kinds = np.full(len(time_s) - 1, NEW)
    part = path_m[best]
    if corners_m is None or len(part) < 3:
        return kinds
    along = cumulative_length(part)
    count = int(np.clip(along[-1], 3, most))
    at = np.linspace(0.0, along[-1], count)
    found = _kinds_along(point_at(part, at), at, corners_m, width_m)
    middle = np.clip((along[1:] + along[:-1]) / 2.0, 0.0, at[-1])
    step = np.clip(np.searchsorted(at, middle, side="right") - 1, 0, count - 1)
    kinds[best.start : best.start + len(part) - 1] = found[step]
    return kinds


def _kinds_along(points: FloatArray, along: FloatArray, corners: FloatArray, width_m: float) -> FloatArray:
    """Return the kinds (n,) at points (n, 2) evenly along a path."""
    way = np.gradient(points, axis=0)
    way = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)[:, None]
    aside = np.column_stack([-way[:, 1], way[:, 0]])
    places = points[:, None, :] + width_m * ACROSS[None, :, None] * aside[:, None, :]
    in_area = inside_polygon(places.reshape(-1, 2), corners).reshape(places.shape[:2])
    new = in_area & ~_seen(places, points, way, along, width_m)
    share = new.sum(axis=1) / np.maximum(in_area.sum(axis=1), 1)
    near = _beside(points, corners) <= BESIDE_M
    old = np.where(in_area.any(axis=1), TWICE, WAY)  # on the edge of the area and just outside it one turns
    kinds = np.where(share > NEW_SHARE, NEW, np.where(near, old, OUTSIDE))
    for lo, hi in runs(kinds == TWICE):
        _grant_way(kinds, points, along, lo, hi, width_m)
    for lo, hi in runs(kinds == TWICE):
        if along[min(hi, len(along) - 1)] - along[lo] < LEAST_TWICE_M:
            kinds[lo:hi] = WAY
    return kinds


def _seen(
    places: FloatArray, points: FloatArray, way: FloatArray, along: FloatArray, width_m: float
) -> NDArray[np.bool_]:
    """Return (n, k) whether places (n, k, 2) across a path were within half a width of it before.

    Just behind oneself one has always been: what lies on the way there counts where it was walked more than one width
    of path ago, or had been passed on the way along the same line. So a turn back counts from its first metres, and the
    corner to the next strip does not.
    """
    off = places[:, :, None, :] - points[None, None, :, :]
    near = (off**2).sum(axis=3) <= (0.5 * width_m) ** 2
    ago = along[:, None] - along[None, :]
    ahead = np.einsum("nkmd,md->nkm", off, way)
    passed = (ahead < -PASSED_M) & ((np.abs(way @ way.T) > SAME_LINE) & (ago > 0.0))[:, None, :]
    return np.asarray(np.any(near & (passed | (ago > width_m)[:, None, :]), axis=2), np.bool_)


def _grant_way(kinds: FloatArray, points: FloatArray, along: FloatArray, lo: int, hi: int, width_m: float) -> None:
    """Mark the end of a stretch over old ground as a way to a neighbouring strip, as far as it led aside.

    Back along the strip itself is no way to the next one.
    """
    last = min(hi, len(points) - 1)
    axis = main_direction(points)
    led = abs(float((points[last] - points[lo]) @ np.array([-axis[1], axis[0]])))
    start = np.searchsorted(along, along[last] - min(width_m, led))
    kinds[max(lo, start) : hi] = WAY


def _beside(points: FloatArray, corners: FloatArray) -> FloatArray:
    """Return how far points (n, 2) lie outside a polygon, 0 inside."""
    gap, _ = nearest(points, np.vstack([corners, corners[:1]]))
    return np.where(inside_polygon(points, corners), 0.0, gap)
