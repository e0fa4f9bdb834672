"""A measure over a season: every run with its 90 % interval, the trend line, the reference. Small, and still."""

import datetime as dt

import numpy as np

from analyzer.seasons.model import CLEAR, HINT, SeasonMeasure, Trend
from dashboard.figures.theme import GRID, IDEAL, INK, QUIET, FigureDict, axis, base_layout

SPREAD_DAYS = 0.3
"""Runs of a day stand side by side within so much of its place."""
MOST_LABELS = 6
MONTHS = "JanFebMarAprMayJunJulAugSepOctNovDec"
LINES = {CLEAR: ("solid", 4), HINT: ("dash", 3)}


def trend_figure(trend: Trend, dates: tuple[str, ...]) -> FigureDict:
    """Return one measure of a person over the days of practice; `dates`: of all those days."""
    data = [_runs(trend)]
    if trend.line:
        dash, width = LINES.get(trend.state, ("dot", 2))
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": np.array([x for x, _ in trend.line]),
                "y": np.array([y for _, y in trend.line]),
                "line": {"color": INK, "dash": dash, "width": width},
                "name": "trend",
                "hoverinfo": "skip",
            }
        )
    layout = base_layout(
        xaxis=axis("", range=[0.4, len(dates) + 0.6], **_days(dates), gridcolor=GRID, fixedrange=True),
        yaxis=_values_axis(trend),
        margin={"l": 52, "r": 8, "t": 10, "b": 34},
        showlegend=False,
        hovermode="closest",
        shapes=[*_good(trend), *([_reference(len(dates))] if _has_reference(trend) else [])],
    )
    return {"data": data, "layout": layout}


def _runs(trend: Trend) -> FigureDict:
    figures = [p.figure for p in trend.points]
    best = trend.best.point if trend.best is not None else None
    values = np.array([f.value for f in figures])
    return {
        "type": "scatter",
        "mode": "markers",
        "x": places(trend),
        "y": values,
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": np.array([f.high for f in figures]) - values,
            "arrayminus": values - np.array([f.low for f in figures]),
            "color": QUIET,
            "thickness": 1.5,
            "width": 3,
        },
        "marker": {
            "color": "#ffffff",
            "size": [11 if p == best else 8 for p in trend.points],
            "symbol": ["star" if p == best else "circle" for p in trend.points],
            "line": {"color": INK, "width": 2},
        },
        "name": "runs",
        "hovertemplate": f"{_hover(trend.measure)}<extra></extra>",
    }


def places(trend: Trend) -> np.ndarray:
    """Return where the runs stand (n,): at the number of their day, those of one day side by side."""
    days = [p.day for p in trend.points]
    at = []
    for i, day in enumerate(days):
        of_day, before = days.count(day), days[:i].count(day)
        at.append(day + (SPREAD_DAYS * (before / (of_day - 1) - 0.5) if of_day > 1 else 0.0))
    return np.array(at, dtype=float)


def _days(dates: tuple[str, ...]) -> FigureDict:
    every = -(-len(dates) // MOST_LABELS)
    numbers = list(range(1, len(dates) + 1, every))
    return {"tickmode": "array", "tickvals": numbers, "ticktext": [short_date(dates[n - 1]) for n in numbers]}


def short_date(iso: str) -> str:
    """Return day and month, "10 Jan"."""
    day = dt.date.fromisoformat(iso)
    return f"{day.day} {MONTHS[3 * day.month - 3 : 3 * day.month]}"


def _limits(trend: Trend) -> list[float]:
    """Return limits from zero to over what was measured; intervals far beyond all values are cut."""
    values = [p.figure.value for p in trend.points] + [y for _, y in trend.line]
    ends = sorted(p.figure.high for p in trend.points)
    top = max([*values, ends[int(0.9 * (len(ends) - 1))], 1.2 if _has_reference(trend) else 0.0], default=1.0)
    if trend.measure.unit == "points":
        lows = [p.figure.low for p in trend.points]
        return [max(min(lows, default=0.0) - 3.0, 0.0), 101.0]
    return [-0.03 * top, 1.08 * top or 1.0]


def _values_axis(trend: Trend) -> FigureDict:
    """Return the axis of the values: per cent stand at its ticks, other units in its title."""
    measure = trend.measure
    title = "°" if measure.unit == "deg" else f"of {measure.of}" if measure.percent else measure.shown_unit
    ticks = {"tickformat": ".0%"} if measure.percent else {}
    return axis(title, range=_limits(trend), fixedrange=True, **ticks)


def _hover(measure: SeasonMeasure) -> str:
    if measure.percent:
        return "%{y:.0%}"
    return "%{y:.2f}" + ("°" if measure.unit == "deg" else f" {measure.shown_unit}")


def _has_reference(trend: Trend) -> bool:
    return trend.measure.key.endswith("_ratio") or trend.measure.key.startswith("pace_at")


def _good(trend: Trend) -> list[FigureDict]:
    """Return a band where the measure is as good as it needs to be; none where that is a bound nobody passes."""
    low, high = trend.measure.good
    bottom, top = _limits(trend)
    if high <= 0.0 or low >= top:
        return []
    band = {"type": "rect", "xref": "paper", "x0": 0.0, "x1": 1.0, "layer": "below", "line": {"width": 0}}
    return [{**band, "y0": max(low, bottom), "y1": min(high, top), "fillcolor": IDEAL, "opacity": 0.12}]


def _reference(days: int) -> FigureDict:
    return {
        "type": "line",
        "x0": 0.4,
        "x1": days + 0.6,
        "y0": 1.0,
        "y1": 1.0,
        "layer": "below",
        "line": {"color": IDEAL, "width": 2, "dash": "longdash"},
    }
