"""What changes in the figures of a run when another time window is shown: small sets of values, not whole figures."""

from typing import Any

from analyzer.model.result import RunResult
from dashboard.figures.beside import drawn_path
from dashboard.figures.over_time import phase_labels, range_limits, time_range, window_shape
from dashboard.figures.plan import scale_bar, shown_box
from dashboard.figures.timeline_bar import timeline_window_shape
from dashboard.figures.traces import HIGHLIGHT, highlight_points
from dashboard.view_models.selection import Window

Changes = list[tuple[tuple[str | int, ...], Any]]
"""(path into the figure, new value) pairs."""


def timeline_changes(window: Window | None) -> Changes:
    """Return the new frame around the bar of the timeline."""
    return [(("layout", "shapes", 0), timeline_window_shape(window))]


def over_time_changes(result: RunResult, window: Window | None) -> Changes:
    """Return the new time axis and frame of the curves over time."""
    return [
        (("layout", "xaxis", "range"), time_range(result, window)),
        (("layout", "yaxis", "range"), range_limits(result, window)),
        (("layout", "shapes", 0), window_shape(window)),
        (("layout", "annotations"), phase_labels(result, window)),
    ]


def plan_changes(result: RunResult, window: Window | None) -> Changes:
    """Return the new extent, scale bar and marked stretch of the plan."""
    box = shown_box(result, window)
    bar, label = scale_bar(box)
    return [
        *closeup_changes(drawn_path(result), window),
        (("layout", "xaxis", "range"), [box[0], box[1]]),
        (("layout", "yaxis", "range"), [box[2], box[3]]),
        (("layout", "shapes", 0), bar),
        (("layout", "annotations", 0), label),
    ]


def closeup_changes(result: RunResult, window: Window | None) -> Changes:
    """Return the new marked stretch of the close-up; its extent stays."""
    points = highlight_points(result, window)
    return [(("data", HIGHLIGHT, "x"), points[:, 0]), (("data", HIGHLIGHT, "y"), points[:, 1])]


def changed(figure: dict[str, Any], changes: Changes) -> dict[str, Any]:
    """Return a copy of `figure` with the changes made, as a browser would show it."""
    copy = {"data": [dict(trace) for trace in figure["data"]], "layout": _copied(figure["layout"])}
    for path, value in changes:
        target: Any = copy
        for step in path[:-1]:
            target = target[step]
        target[path[-1]] = value
    return copy


def _copied(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copied(item) for key, item in value.items()}
    return [_copied(item) for item in value] if isinstance(value, list) else value
