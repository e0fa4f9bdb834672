"""Figures onto a page: arrays packed for the browser, a label for readers who do not see them, nothing sent away."""

import base64
from typing import Any

import numpy as np
from dash import Patch, dcc, html

GRAPH_CONFIG: dict[str, Any] = {
    # The chart library offers to upload a chart to its maker; both switches keep every chart on this machine.
    "showSendToCloud": False,
    "plotlyServerURL": "",
    "displaylogo": False,
    "displayModeBar": True,
    "responsive": True,
    "scrollZoom": False,
    "modeBarButtonsToRemove": ["select2d", "lasso2d", "autoScale2d", "zoom2d", "toImage"],
}


def packed(value: Any) -> Any:
    """Return `value` with its arrays of numbers as the chart library's typed arrays, in single precision.

    Local metres and milliseconds of a run keep a millimetre and a tenth of a second; seconds since 1970 would not.
    """
    if isinstance(value, np.ndarray) and value.dtype.kind in "fiu":
        single = np.ascontiguousarray(value, dtype="<f4")
        spec = {"dtype": "f4", "bdata": base64.b64encode(single.tobytes()).decode("ascii")}
        return spec | ({"shape": ", ".join(str(n) for n in value.shape)} if value.ndim > 1 else {})
    if isinstance(value, dict):
        return {key: packed(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [packed(item) for item in value]
    return value


def chart(figure: dict[str, Any], *, chart_id: str | dict[str, Any], label: str, kind: str) -> html.Div:
    """Return a figure in a frame that names it; `kind` sets its height in the style sheet."""
    config = GRAPH_CONFIG | {"displayModeBar": kind not in ("timeline", "season")}
    graph = dcc.Graph(id=chart_id, figure=packed(figure), config=config, className="chart-body", responsive=True)
    return html.Div(graph, className=f"chart chart-{kind}", role="figure", **{"aria-label": label})


def patch(changes: list[tuple[tuple[str | int, ...], Any]]) -> Patch:
    """Return changes, (path into the figure, value) pairs, as a patch of the figure that the browser holds."""
    change = Patch()
    for path, value in changes:
        target = change
        for step in path[:-1]:
            target = target[step]
        target[path[-1]] = packed(value)
    return change
