"""The package's own files that go into a self-contained page: its style sheet, the chart library, its script."""

import functools
from importlib import resources

from plotly.offline import get_plotlyjs


@functools.cache
def style_sheet() -> str:
    """Return the style of the debrief in the dashboard."""
    return (
        _own("assets/look.css") + _own("assets/debrief.css") + _own("assets/ground.css") + _own("assets/practice.css")
    )


@functools.cache
def page_script() -> str:
    """Return the script that links the views of a self-contained page."""
    return _own("export/standalone.js") + _own("assets/debrief.js") + _own("assets/ground.js")


@functools.cache
def chart_library() -> str:
    """Return the chart library as it is installed, so that nothing has to be fetched."""
    return str(get_plotlyjs())


def _own(name: str) -> str:
    return resources.files("dashboard").joinpath(name).read_text(encoding="utf-8")
