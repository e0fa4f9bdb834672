"""The table `area` of drill.toml: the corners of the ground that is searched, and where the search begins."""

import numpy as np

from analyzer.files.toml_table import TomlTable
from analyzer.geometry.polyline import first_crossing
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import MAX_DISTANCE_M


def corners_of(table: TomlTable) -> FloatArray | None:
    """Return the (n, 2) corners that the table `area` holds, None where there are none or they are reported."""
    if not table.has("corners_m"):
        return None
    try:
        corners = np.array(table.values["corners_m"], dtype=float)
    except (TypeError, ValueError, OverflowError):
        corners = np.empty(0)
    if corners.ndim != 2 or corners.shape[1] != 2 or len(corners) < 3 or not np.all(np.isfinite(corners)):
        table.report("corners_m", "these are not three or more corners", "write [[east, north], ...] in metres")
        return None
    if np.max(np.abs(corners)) > MAX_DISTANCE_M:
        table.report(
            "corners_m",
            f"a corner is over {MAX_DISTANCE_M:g} m from the origin",
            "write horizontal metres from the origin, east first",
        )
        return None
    crossing = first_crossing(corners)
    if crossing is not None:
        first, second = (f"{i + 1} to {(i + 1) % len(corners) + 1}" for i in crossing)
        table.report(
            "corners_m",
            f"the outline crosses or touches itself: corner {first} and corner {second}",
            "list the corners in order around the area, each once",
        )
    return corners


def start_of(table: TomlTable) -> tuple[float, float] | None:
    """Return east and north of the place where the search begins, None where there is none or it is reported."""
    if not table.has("start_m"):
        return None
    value = table.values["start_m"]
    numbers = isinstance(value, list) and len(value) == 2 and all(type(item) in (int, float) for item in value)
    if not numbers or not all(abs(item) <= MAX_DISTANCE_M for item in value):
        table.report(
            "start_m",
            "this is not a place",
            f"write [east, north], horizontal metres from the origin, each at most {MAX_DISTANCE_M:g}",
        )
        return None
    return float(value[0]), float(value[1])
