"""The parts of the debrief of one run, put together; every view starts in the window of the address."""

from typing import Any

from dash import dcc, html

from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.components.account_table import account_table
from dashboard.components.charts import chart
from dashboard.components.evidence_panel import evidence_panel
from dashboard.components.finding_list import finding_list, headline, scores_row
from dashboard.components.measure_table import measure_table
from dashboard.components.shell import notice, panel
from dashboard.components.timeline_table import activity_key, split_list, timeline_table
from dashboard.figures.fine_closeup import closeup_figure
from dashboard.figures.over_time import over_time_figure
from dashboard.figures.plan import plan_figure
from dashboard.figures.timeline_bar import timeline_figure
from dashboard.view_models.selection import Window, window_query
from dashboard.wording import span

BAD_ADDRESS = "The time window in this link could not be read, or lies outside the run. The whole run is shown."

ACCOUNT_NOTE = (
    "The reference searcher walks the ideal lines at the rule sheet's pace. Plus is time lost against it, minus is "
    "time gained; whole seconds, rounded so that they add up. What would show as 0:00 is left out. Where the border "
    "of two phases is not known to the second, their seconds here are means over all that the evidence allows, and may "
    "differ by a few from the timeline."
)


def debrief_page(
    result: RunResult,
    run_ref: tuple[str, str],
    window: Window | None,
    *,
    address_usable: bool = True,
    links: Any = None,
) -> html.Div:
    """Return the whole page. `run_ref`: the keys under which the callbacks find the result again. `links`: where one
    can go on from here, after the answer."""
    warning = [] if address_usable else [notice(BAD_ADDRESS)]
    return html.Div(
        [
            dcc.Store(id=ids.RUN_REF, data=list(run_ref)),
            dcc.Store(id=ids.SHOWN, data=window_query(window)),
            dcc.Location(id=ids.ADDRESS, refresh=False),
            html.Div(
                [
                    html.H1(result.searcher or result.run_id),
                    html.P(f"{result.drill}, run {result.called}", className="quiet"),
                ],
                className="title",
            ),
            *warning,
            *(notice(note) for note in result.evidence.notes),
            panel("What cost most", headline(result), finding_list(result, window), kind="answer"),
            *([links] if links is not None else []),
            html.Div(
                [
                    html.Span(window_caption(window), id=ids.CAPTION, role="status"),
                    html.Button(
                        "Whole run",
                        id=ids.show_window("whole", 0),
                        type="button",
                        className="button",
                        **{"aria-pressed": str(window is None).lower()},
                    ),
                ],
                className="window-bar",
            ),
            panel(
                "Timeline",
                _timeline(result, window),
                activity_key(result),
                timeline_table(result, window),
                split_list(result),
                note="What was done, in the order of time. Choose a piece to see it in all views.",
            ),
            html.Div(
                [_plan(result, window), _over_time(result, window), *_closeups(result, window)], className="views"
            ),
            panel("Account", account_table(result, window), note=ACCOUNT_NOTE),
            panel(
                "Measures",
                *[html.Div(measure_table(search, team=result.team), className="scroll") for search in result.searches],
                note="An interval holds the true figure in nine cases of ten.",
            ),
            panel("Score", scores_row(result), note=f"Rule sheet {result.rules.name}, version {result.rules.version}."),
            panel("Evidence", evidence_panel(result)),
        ],
        className="debrief",
    )


def _timeline(result: RunResult, window: Window | None) -> html.Div:
    return chart(
        timeline_figure(result, window),
        chart_id=ids.TIMELINE,
        kind="timeline",
        label="Bar of the whole run by what was done; the same as a table below",
    )


def _plan(result: RunResult, window: Window | None) -> html.Section:
    label = "Plan in metres with the path by phase, the transmitters and the ideal lines"
    return panel(
        "Plan",
        chart(plan_figure(result, window), chart_id=ids.PLAN, label=label, kind="plan"),
        note="Metres from the drill's origin, north up, equal scale both ways.",
    )


def _over_time(result: RunResult, window: Window | None) -> html.Section:
    label = "Range, readings and pace over time with the phases of the search"
    return panel(
        "Range, readings and pace",
        chart(over_time_figure(result, window), chart_id=ids.OVER_TIME, label=label, kind="time"),
    )


def _closeups(result: RunResult, window: Window | None) -> list[html.Section]:
    """Return one close-up per fine search of the run."""
    panels = []
    for number, search in enumerate(result.searches):
        figure = closeup_figure(result, search, window)
        if figure is not None:
            label = f"Fine search for transmitter {search.transmitter}, close up"
            panels.append(
                panel(
                    f"Fine search, transmitter {search.transmitter}",
                    chart(figure, chart_id=ids.close_up(number), label=label, kind="closeup"),
                )
            )
    return panels


def window_caption(window: Window | None) -> str:
    """Return what the views show, in words."""
    return "All views show the whole run." if window is None else f"All views show {span(window.from_s, window.to_s)}."
