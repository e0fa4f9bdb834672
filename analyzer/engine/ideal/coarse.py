"""The ideal coarse search: the field line from where the signal was acquired down to the fine-search
radius.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Measured, NotAssessable, figure_around
from analyzer.model.ideal import CoarseIdeal
from analyzer.model.path import FusedPath
from analyzer.physics.field_lines import even_axes, trace_lines

AXES_WHERE_UNKNOWN = 64


def positions_at(time_s: ArrayLike, path_m: ArrayLike, when_s: ArrayLike) -> FloatArray:
    """Return (S, 2) where each draw was at its own moment.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Increasing.
    path_m : array_like, shape (S, n, 2)
    when_s : array_like, shape (S,)
        Linear between times; the ends hold outside them. NaN gives NaN.
    """
    t, path, when = np.asarray(time_s, float), np.asarray(path_m, float), np.asarray(when_s, float)
    rows = np.arange(len(path))
    if len(t) == 1:
        return np.where(np.isnan(when)[:, None], np.nan, path[:, 0])
    right = np.clip(np.searchsorted(t, when), 1, len(t) - 1)
    share = np.clip((when - t[right - 1]) / (t[right] - t[right - 1]), 0.0, 1.0)[:, None]
    between: FloatArray = path[rows, right - 1] * (1.0 - share) + path[rows, right] * share
    return between


def coarse_ideal(
    acquired_m: ArrayLike,
    transmitter_m: ArrayLike,
    axis: ArrayLike,
    *,
    transmitter: str,
    depth_m: float,
    height_m: float,
    fine_radius_m: float,
    reading_scale: ArrayLike = 1.0,
    antennas: int = 3,
    axis_known: bool = True,
    stop_on: str = "reading",
) -> CoarseIdeal:
    """Return the ideal coarse path of every draw.

    Parameters
    ----------
    acquired_m, transmitter_m : array_like, shape (S, 2)
        Where the signal was acquired; the surface point over the transmitter. Row 0: best estimate.
    axis : array_like, shape (S, 3)
        Antenna axes; where `axis_known` is False they are replaced by axes spread evenly over the sphere, and
        row 0 becomes the line of median length: one of many possible lines, its side is not known.
    transmitter : str
        Its id.
    depth_m, height_m, fine_radius_m : float
        Height: of the receiver above the surface in coarse search.
    reading_scale : array_like, shape (S,) or ()
    antennas : {1, 2, 3}
    stop_on : {"reading", "ground"}
        See `analyzer.physics.field_lines.trace_lines`.
    """
    start = np.atleast_2d(np.asarray(acquired_m, float))
    centre = np.broadcast_to(np.asarray(transmitter_m, float), start.shape)
    scale = np.broadcast_to(np.asarray(reading_scale, float), (len(start),))
    if not np.isfinite(start[0]).all():
        why = "the moment at which the signal was acquired is not known"
        nothing = np.full(len(start), np.nan)
        return CoarseIdeal(transmitter, np.empty((0, 2)), nothing, NotAssessable(why), np.nan)

    settings: dict[str, Any] = {"depth_m": depth_m, "height_m": height_m, "stop_m": fine_radius_m}
    settings |= {"antennas": antennas, "stop_on": stop_on}
    axes, spread = np.broadcast_to(np.asarray(axis, float), (len(start), 3)), None
    if not axis_known:
        axes, spread = _any_axes(start[0], centre[0], rows=len(start), scale=scale[0], settings=settings)
    lines = trace_lines(start, centre, axes, scale=scale, **settings)
    if spread is None or len(start) > 1:
        spread = lines.length_m[1:]
    away = np.linalg.norm([start[0] - centre[0], lines.end_m[0] - centre[0]], axis=1)
    return CoarseIdeal(
        transmitter,
        lines.line_m,
        lines.length_m,
        _figure(lines.length_m[0], spread),
        float(max(away[0] - away[1], 0.0)),
    )


def coarse_ideal_of(path: FusedPath, *, transmitter: str, acquired_s: ArrayLike, fine_radius_m: float) -> CoarseIdeal:
    """Return `coarse_ideal` of a fused path: draws, heights and antennas are taken from it.

    Parameters
    ----------
    path : FusedPath
    transmitter : str
        Id of one of the path's transmitters.
    acquired_s : array_like, shape (S,)
        Start of the coarse search in every draw (`PhaseSpan.start_draws_s`).
    fine_radius_m : float
        A reading where there are readings, else a distance over the surface.
    """
    k, draws = path.transmitter_ids.index(transmitter), path.draws
    when = np.asarray(acquired_s, float)
    height = np.interp(when[0], path.time_s, path.height_m) if np.isfinite(when[0]) else path.height_m[0]
    acquired = positions_at(path.time_s, draws.path_m, when)
    return coarse_ideal(
        acquired,
        draws.transmitter_m[:, k],
        draws.axis[:, k],
        transmitter=transmitter,
        depth_m=float(path.depth_m[k]),
        height_m=float(height),
        fine_radius_m=fine_radius_m,
        reading_scale=draws.reading_scale,
        antennas=path.antennas,
        axis_known=path.axis_source != "unknown",
        stop_on="ground" if path.readings is None else "reading",
    )


def _any_axes(
    start_m: FloatArray, centre_m: FloatArray, *, rows: int, scale: float, settings: dict[str, Any]
) -> tuple[FloatArray, FloatArray]:
    """Return axes (rows, 3): row 0 the one with the median length, the others evenly spread; and all
    lengths.
    """
    axes = even_axes(AXES_WHERE_UNKNOWN)
    lengths = trace_lines(start_m, centre_m, axes, scale=scale, **settings).length_m
    by_length = np.argsort(lengths, kind="stable")
    # Every 19th of 64 visits them all and keeps neighbours apart, so that few draws are spread evenly too.
    others = axes[(19 * np.arange(1, rows)) % len(axes)]
    return np.vstack([axes[by_length[len(axes) // 2]], others]), lengths


def _figure(length_m: float, spread_m: FloatArray) -> Measured:
    """Return the length with its 90 % interval over the draws; without draws the interval is the value."""
    spread = spread_m[np.isfinite(spread_m)]
    return figure_around(float(length_m), spread, "m")
