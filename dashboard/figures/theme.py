"""Colours, patterns, line styles and the layout that all figures share.

Chosen for bright light and for readers who do not see colours: every colour is doubled by a line style, a pattern,
a symbol or a letter. Text colours keep a contrast of 4.5 and lines of 3 against their ground (WCAG 2.2, 1.4.3 and
1.4.11; checked by a test).
"""

import html
from dataclasses import dataclass
from typing import Any

PAPER, GROUND, INK, QUIET, EDGE = "#ffffff", "#eef1ec", "#10201d", "#43534e", "#7c8a85"
GRID = "#dde3df"
IDEAL, SELECT, ALARM = "#00695c", "#ffc21a", "#a3122f"
FONT = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"

FigureDict = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PhaseStyle:
    """How a phase is drawn: `line` and `dash` on plans, `tint` as a band behind curves."""

    line: str
    dash: str
    tint: str
    symbol: str


PHASE_STYLES = {
    "signal_search": PhaseStyle("#2667a5", "dot", "#e3edf7", "circle"),
    "coarse_search": PhaseStyle("#b04a12", "solid", "#faeadf", "triangle-up"),
    "fine_search": PhaseStyle("#5b2a86", "dash", "#ede4f5", "square"),
    "pinpoint": PhaseStyle(INK, "dashdot", "#e2e6e4", "cross"),
}


@dataclass(frozen=True, slots=True)
class ActivityStyle:
    """How an activity is drawn in the timeline: ground, pattern (a plotly pattern shape) and colour of the pattern."""

    fill: str
    pattern: str
    mark: str


ACTIVITY_STYLES = {
    "strips": ActivityStyle("#d3e3f2", "-", "#2667a5"),
    "walking": ActivityStyle("#4479b3", "", "#4479b3"),
    "along_line": ActivityStyle("#c9d6d0", "", "#c9d6d0"),
    "off_line": ActivityStyle("#f0a030", "\\", INK),
    "wrong_way": ActivityStyle(ALARM, "x", PAPER),
    "way_back": ActivityStyle("#b04a12", "/", PAPER),
    "standing": ActivityStyle("#123f66", ".", PAPER),
    "first_line": ActivityStyle("#e9ddf4", "\\", "#5b2a86"),
    "crossing_line": ActivityStyle("#e9ddf4", "/", "#5b2a86"),
    "extra_line": ActivityStyle("#6d3fa0", "+", PAPER),
    "bracketing": ActivityStyle("#f2eaf9", "+", "#5b2a86"),
    "probing": ActivityStyle("#efd5e2", "|", INK),
    "marking": ActivityStyle(IDEAL, "|", PAPER),
    "not_recorded": ActivityStyle(PAPER, "x", QUIET),
    "unexplained": ActivityStyle(PAPER, ".", QUIET),
}


def pattern_marker(activity: str) -> FigureDict:
    """Return how bars of an activity are filled."""
    style = ACTIVITY_STYLES[activity]
    return {
        "color": style.fill,
        "line": {"color": INK, "width": 1},
        "pattern": {
            "shape": style.pattern,
            "fgcolor": style.mark,
            "bgcolor": style.fill,
            "fillmode": "replace",
            "solidity": 0.25,
            "size": 9,
        },
    }


def plain(text: str) -> str:
    """Return `text` with markup made harmless: figure labels interpret a few tags."""
    return html.escape(text, quote=False)


def base_layout(**more: Any) -> FigureDict:
    """Return the layout that all figures share, with `more` on top."""
    layout: FigureDict = {
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "autosize": True,
        "dragmode": False,
        "font": {"family": FONT, "size": 15, "color": INK},
        "margin": {"l": 56, "r": 12, "t": 44, "b": 48},
        "modebar": {"color": QUIET, "activecolor": INK, "bgcolor": "rgba(255,255,255,0)"},
        "hoverlabel": {"font": {"size": 15, "family": FONT, "color": INK}, "bgcolor": PAPER, "bordercolor": INK},
        "legend": {
            "orientation": "h",
            "x": 0,
            "xanchor": "left",
            "y": 0,
            "yref": "container",
            "yanchor": "bottom",
            "font": {"size": 14},
            "itemsizing": "trace",
            "itemwidth": 40,
        },
        "uirevision": "keep",
    }
    return layout | more


def axis(title: str, **more: Any) -> FigureDict:
    """Return an axis with a title that names its unit."""
    return {
        "title": {"text": title, "font": {"size": 14}, "standoff": 8},
        "gridcolor": GRID,
        "zeroline": False,
        "linecolor": EDGE,
        "showline": True,
        "ticks": "outside",
        "tickcolor": EDGE,
        "automargin": True,
    } | more


def time_axis(duration_s: float, **more: Any) -> FigureDict:
    """Return a time axis in minutes and seconds, from an hour on in hours too; for its numbers see `axis_ms`."""
    long = duration_s >= 3600.0
    form = "%-H:%M:%S" if long else "%-M:%S"
    title = f"time from start, {'h:min:s' if long else 'min:s'}"
    return axis(title, type="date", tickformat=form, hoverformat=form, **more)


AXIS_ZERO_MS = 86_400_000.0
"""Time zero on a time axis: the second day of the axis, because the chart library takes 1000 to 9999 for years."""


def axis_ms(seconds: Any) -> Any:
    """Return seconds from time zero, a number or an array, as the numbers that a time axis takes.

    In single precision they keep 8 ms.
    """
    return AXIS_ZERO_MS + 1000.0 * seconds


def axis_length_ms(seconds: float) -> float:
    """Return a length of time on a time axis, for bars."""
    return 1000.0 * seconds


def axis_seconds(number_ms: float) -> float:
    """Return the seconds from time zero of a number on a time axis (inverse of `axis_ms`)."""
    return (number_ms - AXIS_ZERO_MS) / 1000.0
