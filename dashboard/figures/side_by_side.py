"""Runs of a drill over each other: paths on one plan, ranges on one time axis, timelines one under the other."""

import math

import numpy as np

from analyzer.model.arrays import FloatArray
from analyzer.model.result import RunResult
from dashboard.figures.plan import plan_layout, roomy
from dashboard.figures.shapes import bounds, path_points
from dashboard.figures.theme import (
    INK,
    PAPER,
    PHASE_STYLES,
    QUIET,
    FigureDict,
    axis,
    base_layout,
    pattern_marker,
    plain,
)
from dashboard.figures.timeline_bar import phase_words
from dashboard.figures.traces import ideal_traces, line, transmitter_traces
from dashboard.view_models.alignment import Alignment, Stretch
from dashboard.wording import ACTIVITIES, PHASES, PHASES_SHORT, clock, span

RUN_STYLES = (
    ("#123f66", "solid"),
    ("#b04a12", "9px,4px"),
    ("#00695c", "3px,4px"),
    ("#6d3fa0", "14px,4px,3px,4px"),
    ("#a3122f", "5px,2px"),
    ("#43534e", "20px,6px"),
)
"""Colour and dashes of the first, second ... run; the number of the run stands at its line as well."""
MOST_TICKS = 8
STEPS_S = (5, 10, 20, 30, 60, 120, 300, 600, 1200, 3600, 7200, 21600)


def run_name(result: RunResult, number: int) -> str:
    """Return how a run is called in the legends: "2 Mara Fennick (mara-1)"."""
    return f"{number + 1} {plain(result.searcher or result.run_id)} ({plain(result.run_id)})"


def plans_figure(results: list[RunResult]) -> FigureDict:
    """Return the paths of all runs on one plan; the ideal lines are those of the first."""
    first = results[0]
    data = [*ideal_traces(first, ("field_line",))]
    for number, result in enumerate(results):
        colour, dash = RUN_STYLES[number]
        path = path_points(result.path)
        data.append(
            line(run_name(result, number), path, line={"color": colour, "dash": dash, "width": 3.5}, hoverinfo="name")
        )
        data.append(_number_mark(number, *path[len(path) // 2]))
    data += transmitter_traces(first.transmitters)
    spots = np.array([[t.east_m, t.north_m] for t in first.transmitters]).reshape(-1, 2)
    box = roomy(bounds(*[path_points(r.path) for r in results], spots), least_m=8.0)
    return {"data": data, "layout": plan_layout(box, slope=first.slope)}


def _number_mark(number: int, x: float, y: float) -> FigureDict:
    return {
        "type": "scatter",
        "mode": "markers+text",
        "showlegend": False,
        "hoverinfo": "skip",
        "x": np.array([x]),
        "y": np.array([y]),
        "text": [f"<b>{number + 1}</b>"],
        "textfont": {"size": 13, "color": PAPER},
        "marker": {"size": 21, "color": RUN_STYLES[number][0], "line": {"color": PAPER, "width": 2}},
    }


def ranges_figure(results: list[RunResult], aligned: Alignment) -> FigureDict:
    """Return range over time of all runs, each where `aligned` places it."""
    data = []
    for number, result in enumerate(results):
        colour, dash = RUN_STYLES[number]
        time_s, range_m = _in_pieces(result, aligned.runs[number])
        at = aligned.place(number, time_s)
        known = np.flatnonzero(np.isfinite(range_m))
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": run_name(result, number),
                "x": at,
                "y": range_m,
                "line": {"color": colour, "dash": dash, "width": 3},
                "hoverinfo": "text",
                "text": [
                    f"{number + 1}: {clock(t)} of the run, range {r:.1f} m" if math.isfinite(r) else ""
                    for t, r in zip(time_s, range_m, strict=True)
                ],
            }
        )
        if len(known):
            one = known[min(len(known) - 1, (1 + number) * len(known) // 10)]
            data.append(_number_mark(number, at[one], range_m[one]))
    layout = base_layout(
        xaxis=_time_axis(aligned),
        yaxis=axis("range, m", rangemode="tozero"),
        hovermode="closest",
        shapes=_begin_lines(aligned),
        annotations=_begin_names(aligned),
    )
    return {"data": data, "layout": layout}


def _in_pieces(result: RunResult, stretches: tuple[Stretch, ...]) -> tuple[FloatArray, FloatArray]:
    """Return times and ranges of a run with a break where one stretch ends and the next begins elsewhere."""
    time_s, range_m = result.path.time_s, result.path.range_m
    cuts = np.searchsorted(time_s, [one.from_s for one in stretches[1:]], side="left")
    return np.insert(time_s, cuts, time_s[np.clip(cuts, 0, len(time_s) - 1)]), np.insert(range_m, cuts, np.nan)


def _activity_bars(activity: str, results: list[RunResult], aligned: Alignment) -> list[FigureDict]:
    """Return the bars of one activity in all timelines; none where no timeline has it."""
    rows = [
        (number, row, aligned.begin(number, row.from_s, row.to_s))
        for number, result in enumerate(results)
        for row in result.timeline
        if row.activity == activity
    ]
    if not rows:
        return []
    name = ACTIVITIES[activity][1]
    return [
        {
            "type": "bar",
            "orientation": "h",
            "name": name,
            "width": 0.56,
            "y": np.array([float(-n) for n, _, _ in rows]),
            "base": np.array([begin for _, _, begin in rows]),
            "x": np.array([row.seconds for _, row, _ in rows]),
            "hoverinfo": "text",
            "hovertext": [
                f"<b>{name}, {row.seconds:.0f} s</b><br>{phase_words(row)}{span(row.from_s, row.to_s)} of run {n + 1}"
                for n, row, _ in rows
            ],
            "marker": pattern_marker(activity),
        }
    ]


def timelines_figure(results: list[RunResult], aligned: Alignment) -> FigureDict:
    """Return the timelines one under the other, each with its phases, where `aligned` places them."""
    data = [bars for activity in ACTIVITIES for bars in _activity_bars(activity, results, aligned)]
    names = [f"<b>{n + 1}</b>" for n in range(len(results))]
    layout = base_layout(
        barmode="overlay",
        bargap=0.0,
        showlegend=False,
        hovermode="closest",
        xaxis=_time_axis(aligned),
        yaxis={
            "tickvals": [-n for n in range(len(results))],
            "ticktext": names,
            "range": [0.44 - len(results), 0.5],
            "fixedrange": True,
            "tickfont": {"size": 16},
            "zeroline": False,
            "showgrid": False,
        },
        shapes=_begin_lines(aligned),
        margin={"l": 40, "r": 12, "t": 12, "b": 48},
        annotations=[item for number, result in enumerate(results) for item in _letters(result, aligned, number)],
    )
    return {"data": [*data, _phase_strips(results, aligned)], "layout": layout}


def _letters(result: RunResult, aligned: Alignment, number: int) -> list[FigureDict]:
    """Return the letter of its activity on each piece that is wide enough for one."""
    least = 0.03 * result.duration_s
    return [
        {
            "x": aligned.begin(number, row.from_s, row.to_s) + row.seconds / 2.0,
            "y": -number,
            "text": f"<b>{ACTIVITIES[row.activity][0]}</b>",
            "showarrow": False,
            "font": {"size": 14, "color": INK},
            "bgcolor": PAPER,
            "borderpad": 1,
        }
        for row in result.timeline
        if row.seconds >= least
    ]


def _phase_strips(results: list[RunResult], aligned: Alignment) -> FigureDict:
    rows = [(n, p, aligned.begin(n, p.start_s, p.end_s)) for n, result in enumerate(results) for p in result.phases]
    return {
        "type": "bar",
        "orientation": "h",
        "name": "phase",
        "width": 0.2,
        "y": np.array([-n - 0.39 for n, _, _ in rows]),
        "base": np.array([begin for _, _, begin in rows]),
        "x": np.array([p.end_s - p.start_s for _, p, _ in rows]),
        "text": [PHASES_SHORT[p.phase] for _, p, _ in rows],
        "textposition": "inside",
        "insidetextanchor": "start",
        "textangle": 0,
        "textfont": {"color": [PHASE_STYLES[p.phase].line for _, p, _ in rows], "size": 12},
        "hoverinfo": "text",
        "hovertext": [f"{PHASES[p.phase]}, {span(p.start_s, p.end_s)} of run {n + 1}" for n, p, _ in rows],
        "marker": {
            "color": [PHASE_STYLES[p.phase].tint for _, p, _ in rows],
            "line": {"color": [PHASE_STYLES[p.phase].line for _, p, _ in rows], "width": 1},
        },
    }


def _begin_lines(aligned: Alignment) -> list[FigureDict]:
    """Return the lines at which phases begin, or that of the chosen moment."""
    return [
        {
            "type": "line",
            "xref": "x",
            "yref": "paper",
            "x0": at,
            "x1": at,
            "y0": 0,
            "y1": 1,
            "line": {"color": QUIET, "width": 2, "dash": "dot"},
        }
        for at, _ in aligned.begins or ((0.0, ""),)
    ]


def _begin_names(aligned: Alignment) -> list[FigureDict]:
    """Return the names of the phases where they begin; of a narrow one its first letter, of a very narrow one none."""
    low, high = aligned.extent
    ends = [*(at for at, _ in aligned.begins[1:]), high][: len(aligned.begins)]
    shares = [(end - at) / max(high - low, 1e-9) for (at, _), end in zip(aligned.begins, ends, strict=True)]
    return [
        {
            "x": at,
            "y": 1.0,
            "xref": "x",
            "yref": "paper",
            "xanchor": "left",
            "yanchor": "top",
            "text": name if share > 0.16 else f"{name[0].upper()}{name.partition(' ')[2]}",
            "showarrow": False,
            "font": {"size": 13, "color": INK},
            "bgcolor": PAPER,
        }
        for (at, name), share in zip(aligned.begins, shares, strict=True)
        if share > 0.04
    ]


def _time_axis(aligned: Alignment) -> FigureDict:
    """Return an axis of seconds from the chosen moment, or from the beginning of each phase."""
    low, high = aligned.extent
    step = next((s for s in STEPS_S if (high - low) / s <= MOST_TICKS), STEPS_S[-1])
    if aligned.begins:
        ticks = _phase_ticks(aligned, step)
    else:
        ticks = [(float(step * k), clock(step * k)) for k in range(math.ceil(low / step), math.floor(high / step) + 1)]
    return axis(
        "min:s from the beginning of each phase" if aligned.begins else "min:s",
        range=[low - 0.01 * (high - low), high + 0.01 * (high - low)],
        tickvals=[at for at, _ in ticks],
        ticktext=[text for _, text in ticks],
        tickangle=0,
    )


def _phase_ticks(aligned: Alignment, step: int) -> list[tuple[float, str]]:
    """Return (place, text) of ticks that count from the beginning of each phase, where they have room."""
    ends = [*(at for at, _ in aligned.begins[1:]), aligned.extent[1]]
    kept: list[tuple[float, str]] = []
    for (at, _), end in zip(aligned.begins, ends, strict=True):
        for k in range(max(1, math.ceil((end - at) / step - 0.6))):
            if not kept or at + step * k - kept[-1][0] >= 0.7 * step:
                kept.append((at + step * k, clock(step * k)))
    return kept
