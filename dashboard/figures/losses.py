"""The dearest losses on the plan: a broad band under the path, and the number that stands beside the words."""

from typing import Any

import numpy as np

from analyzer.model.result import RunResult
from dashboard.figures.shapes import position_at, stretch
from dashboard.figures.theme import ALARM, INK, PAPER, FigureDict
from dashboard.figures.traces import line
from dashboard.view_models.losses import numbered_losses

LOSS_BAND = "#f2a3a8"
"""Ground under the path of a loss; the number, not the colour, says which loss it is."""
ASIDE_PX = ((54, -48), (-54, -44), (54, 48))
"""Where each number stands from its place, so that numbers of one place do not hide each other."""


def loss_trace(result: RunResult) -> FigureDict:
    """Return the band under the stretches of all numbered losses, one trace; empty where there is none."""
    gap = np.full((1, 2), np.nan)
    parts = [
        part
        for loss in numbered_losses(result)
        for window in loss.windows
        for part in (stretch(result.path, *window), gap)
    ]
    points = np.vstack(parts) if parts else np.empty((0, 2))
    style: dict[str, Any] = {"color": LOSS_BAND, "width": 13}
    return line("what cost most", points, line=style, showlegend=len(parts) > 0)


def loss_numbers(result: RunResult) -> list[FigureDict]:
    """Return the number of each loss, with a line to the middle of its longest stretch."""
    marks = []
    for number, loss in enumerate(numbered_losses(result)):
        from_s, to_s = max(loss.windows, key=lambda window: window[1] - window[0])
        east, north = position_at(result.path, (from_s + to_s) / 2.0)
        ax, ay = ASIDE_PX[number]
        marks.append(
            {
                "x": east,
                "y": north,
                "ax": ax,
                "ay": ay,
                "text": f"<b>{number + 1}</b>",
                "showarrow": True,
                "arrowhead": 6,
                "arrowsize": 0.7,
                "arrowwidth": 2,
                "arrowcolor": INK,
                "font": {"size": 18, "color": PAPER},
                "bgcolor": ALARM,
                "bordercolor": INK,
                "borderwidth": 1.5,
                "borderpad": 4,
            }
        )
    return marks
