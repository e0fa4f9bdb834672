"""The time line of a recording that is cut: how far away and how fast somebody was, and the pieces as bands."""

from dashboard.figures.theme import GRID, INK, QUIET, SELECT, FigureDict, base_layout
from dashboard.view_models.cuts import CutView, posix_of_clock

AWAY, PACE = "#2b5d8a", "#7a4a21"


def cuts_figure(view: CutView) -> FigureDict:
    """Return the figure; `assets/cuts.js` keeps its bands and the fields alike."""
    when = [row[0] for row in view.line]
    data = [
        {
            "type": "scatter",
            "mode": "lines",
            "name": "metres from the first fix",
            "x": when,
            "y": [row[1] for row in view.line],
            "line": {"color": AWAY, "width": 2},
            "hoverinfo": "skip",
        },
        {
            "type": "scatter",
            "mode": "lines",
            "name": "pace, m/s",
            "x": when,
            "y": [row[2] for row in view.line],
            "yaxis": "y2",
            "line": {"color": PACE, "width": 1.5, "dash": "dot"},
            "hoverinfo": "skip",
        },
    ]
    ticks, labels = _ticks(view)
    layout = base_layout(
        xaxis={"tickvals": ticks, "ticktext": labels, "gridcolor": GRID, "range": [0, view.end_s - view.begin_s]},
        yaxis={"title": {"text": "metres away"}, "rangemode": "tozero", "gridcolor": GRID, "domain": [0.36, 1.0]},
        yaxis2={
            "title": {"text": "m/s"},
            "rangemode": "tozero",
            "gridcolor": GRID,
            "domain": [0.0, 0.28],
            "anchor": "x",
        },
        shapes=[*_bands(view), *_starts(view)],
        margin={"l": 60, "r": 12, "t": 12, "b": 40},
        showlegend=False,
    )
    return {"data": data, "layout": layout}


def _bands(view: CutView) -> list[FigureDict]:
    """Return a band for each row of the form whose times can be read; the script numbers them."""
    bands = []
    for number, row in enumerate(view.rows):
        try:
            ends = [posix_of_clock(t, view.begin_s, view.zone, where="") - view.begin_s for t in (row.begin, row.end)]
        except ValueError:
            ends = [0.0, 0.0]
        bands.append(
            {
                "type": "rect",
                "name": f"piece-{number}",
                "x0": ends[0],
                "x1": ends[1],
                "yref": "paper",
                "y0": 0.0,
                "y1": 1.0,
                "fillcolor": SELECT if row.take else "#ffffff",
                "opacity": 0.35 if row.take else 0.01,
                "line": {"color": INK, "width": 2 if row.take else 0},
                "editable": True,
                "label": {"text": str(number + 1), "textposition": "top left", "font": {"size": 15, "color": INK}},
            }
        )
    return bands


def _starts(view: CutView) -> list[FigureDict]:
    style = {"color": QUIET, "width": 2, "dash": "dash"}
    return [
        {"type": "line", "x0": at, "x1": at, "yref": "paper", "y0": 0.0, "y1": 1.0, "line": style}
        for at in view.starts_s
    ]


def _ticks(view: CutView) -> tuple[list[float], list[str]]:
    """Return where times of day stand on the axis: round ones, eight at most."""
    from_s, to_s = view.begin_s, view.end_s
    step = next((s for s in (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400) if (to_s - from_s) / s <= 8), 21600)
    shift = view.offset_s
    first = -(-(from_s + shift) // step) * step - shift
    at = [first + k * step for k in range(int((to_s - first) // step) + 1)]
    return [t - from_s for t in at], [_clock(t + shift) for t in at]


def _clock(seconds: float) -> str:
    return f"{int(seconds // 3600 % 24):02d}:{int(seconds // 60 % 60):02d}"
