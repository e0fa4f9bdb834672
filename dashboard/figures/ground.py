"""A picture of the ground as the lowest layer of a plan."""

from dashboard.figures.theme import FigureDict
from dashboard.view_models.ground import Under


def ground_image(under: Under) -> FigureDict:
    """Return the layer; it is light already (`analyzer.workspace.ground`), so nothing is mixed here."""
    west, east, south, north = under.box
    return {
        "source": under.source,
        "xref": "x",
        "yref": "y",
        "x": west,
        "y": north,
        "sizex": east - west,
        "sizey": north - south,
        "sizing": "stretch",
        "layer": "below",
    }
