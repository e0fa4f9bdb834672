"""The splits of a run in a row: each phase's time, the reference searcher's, and the group's where there is one."""

from collections.abc import Sequence

from dash import html

from analyzer.model.result import RunResult
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.practice import Moment, moments
from dashboard.view_models.splits import Split, run_splits
from dashboard.wording import clock, signed_clock


def split_strip(result: RunResult, others: Sequence[RunEntry] = ()) -> html.Div:
    """Return one cell a phase, and one a moment that marks show beside them; `others`: the other runs of the drill."""
    splits = run_splits(result, others)
    later = moments(result, others)
    counts = sorted({split.others for split in (*splits, *later) if split.group is not None})
    if not counts:
        group = []
    elif len(counts) == 1:
        group = [html.P(f"Group: the median of {counts[0]} other runs of this drill.", className="split-group")]
    else:
        words = f"Group: the median of {counts[0]} to {counts[-1]} other runs of this drill."
        group = [html.P(words, className="split-group")]
    moments_ = [html.Dl([_moment(moment) for moment in later], className="split-strip")] if later else []
    return html.Div([html.Dl([_cell(split) for split in splits], className="split-strip"), *moments_, *group])


def _moment(moment: Moment) -> html.Div:
    """Return a moment of the run, which is no phase: no sum holds it."""
    lines = [html.Dd(clock(moment.seconds), className="split-time")]
    lines += [html.Dd(moment.said)] if moment.said else []
    lines += [html.Dd(f"group {clock(moment.group)}", className="quiet")] if moment.group is not None else []
    return html.Div([html.Dt(moment.title), *lines], className="split split-moment")


def _cell(split: Split) -> html.Div:
    if split.seconds is None:
        return html.Div([html.Dt(split.title), html.Dd(split.why, className="split-none")], className="split")
    lines = [html.Dd(clock(split.seconds), className="split-time")]
    if split.reference is None:
        lines.append(html.Dd(f"not assessable: {split.why}", className="split-none"))
    else:
        over = signed_clock(split.seconds - split.reference)
        lines.append(html.Dd([f"{split.brief or f'reference {clock(split.reference)}'} ", html.Strong(f"({over})")]))
    if split.group is not None:
        lines.append(html.Dd(f"group {clock(split.group)}", className="quiet"))
    return html.Div([html.Dt(split.title), *lines], className="split")
