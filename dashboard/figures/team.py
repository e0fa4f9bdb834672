"""The plan of a joint signal search: what nobody covered, what one did, what more than one did, and the paths."""

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.result import RunResult
from dashboard.figures.plan import plan_layout, roomy
from dashboard.figures.shapes import bounds
from dashboard.figures.theme import ALARM, EDGE, IDEAL, INK, QUIET, FigureDict, plain
from dashboard.figures.traces import line, transmitter_traces

COVERED = (
    ("covered by nobody", ALARM, "x-thin", 7),
    ("covered by one", EDGE, "circle", 3),
    ("covered by more than one", IDEAL, "cross-thin", 8),
)
MOST_DRAWN = 500
DASHES = ("solid", "dash", "dot", "dashdot", "longdash", "longdashdot")
"""Paths are told apart by their dashes and their names, not by colour."""


def team_figure(
    results: tuple[RunResult, ...], grid_m: FloatArray, count: FloatArray, paths_m: tuple[tuple[str, FloatArray], ...]
) -> FigureDict:
    """Return the plan; `grid_m` (g, 2), `count` (g,): how many covered each point; `paths_m`: run -> (n, 2)."""
    corners = next(r.corners_m for r in results if r.corners_m is not None)
    names = {r.run_id: r.searcher or r.called for r in results}
    grid_m = grid_m[:MOST_DRAWN]  # the first of them are spread over the area as all are
    groups = np.minimum(count[:MOST_DRAWN], 2).astype(int)
    data = [line("area", np.vstack([corners, corners[:1]]), line={"color": QUIET, "width": 2})]
    for which, (name, colour, symbol, size) in enumerate(COVERED):
        own = grid_m[groups == which]
        marker = {"color": colour, "symbol": symbol, "size": size, "line": {"color": colour, "width": 1.5}}
        data.append(
            {
                "type": "scatter", "mode": "markers", "name": name, "x": own[:, 0], "y": own[:, 1],
                "marker": marker, "hoverinfo": "skip", "showlegend": len(own) > 0,
            }
        )  # fmt: skip
    for number, (run, path) in enumerate(paths_m):
        dash = DASHES[number % len(DASHES)]
        data.append(line(plain(names[run]), path, line={"color": INK, "width": 2.5, "dash": dash}))
        if len(path):
            data.append(_named(plain(names[run]), path[-1]))
    data += transmitter_traces(results[0].transmitters)
    box = roomy(bounds(corners, *(path for _, path in paths_m if len(path))), least_m=8.0)
    return {"data": data, "layout": plan_layout(box, slope=results[0].slope)}


def _named(name: str, place: FloatArray) -> FigureDict:
    """Return the name of a searcher where the path ends."""
    return {
        "type": "scatter", "mode": "markers+text", "x": [place[0]], "y": [place[1]], "text": [name],
        "textposition": "top center", "textfont": {"size": 14, "color": INK}, "showlegend": False,
        "marker": {"color": INK, "size": 8}, "hoverinfo": "skip",
    }  # fmt: skip
