"""The parts of the debrief of one run, put together; every view starts in the window of the address."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import unquote

from dash import dcc, html

from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.components.account_bars import account_bars
from dashboard.components.account_table import account_table
from dashboard.components.charts import chart
from dashboard.components.evidence_panel import evidence_panel
from dashboard.components.finding_list import finding_list, headline, in_doubt, scores_row
from dashboard.components.ground import ground_link, ground_switch
from dashboard.components.measure_table import measure_table
from dashboard.components.practice_table import noted_list, practice_panel
from dashboard.components.shell import notice, panel
from dashboard.components.split_strip import split_strip
from dashboard.components.timeline_table import activity_key, timeline_table
from dashboard.components.unbroken import with_unbroken_units
from dashboard.figures.beside import beside_shift
from dashboard.figures.fine_closeup import closeup_figure
from dashboard.figures.over_time import over_time_figure
from dashboard.figures.plan import plan_figure
from dashboard.figures.timeline_bar import timeline_figure
from dashboard.view_models.alignment import unsure_borders
from dashboard.view_models.chart_words import fine_words, pace_words, plan_words, timeline_words
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.ground import Under
from dashboard.view_models.losses import dearest_transmitter
from dashboard.view_models.selection import Window, window_query
from dashboard.view_models.unassessed import untold_measures, untold_time
from dashboard.wording import counted, span

BAD_ADDRESS = "The time window in this link could not be read, or lies outside the run. The whole run is shown."

TWICE = "Ways walked twice are drawn {gap} apart, so that both are seen."
PLAN_KEY = (
    "Metres from the drill's origin, north up, the same scale both ways.",
    "Red ground with a number: what cost most, by the numbers beside it.",
    "Dotted blue: signal search. Brown: coarse search. Dashed violet: fine search. Black, dash and dot: pinpoint "
    "and probe. A sign stands where each begins.",
    "A way that was walked twice is drawn as two lines beside each other; only the drawing is moved.",
    "Green: the ideal way. Dashes: along the field line to the transmitter. Drawn through: the ideal cross. Ring: "
    "where the lowest reading should be.",
    "Grey along the path: the ground that holds it in nine cases of ten. Dotted circle: the same for a transmitter.",
    "Outline with grey ground: the area. Thin dashes in it: search strips.",
)
FINE_KEY = (
    "Dashed violet: the fine search. Black, dash and dot: pinpoint and probe. Brown: the last steps before them.",
    "Numbers: the straight lines that were walked, in their order. Dotted: from end to end of each.",
    "Grey: the ground that holds the path in nine cases of ten. Dotted circle: the same for the transmitter.",
)

MEASURES_NOTE = (
    "An interval holds the true figure in nine cases of ten. Times here, and on the timeline, are by the likeliest "
    "borders of the phases; the splits above are means over all that the evidence allows, and may differ by some "
    "seconds."
)
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
    others: Sequence[RunEntry] = (),
    under: Under | None = None,
    changeable: bool = False,
) -> html.Div:
    """Return the whole page. `run_ref`: the keys under which the callbacks find the result again. `links`: where one
    can go on from here, after the answer. `others`: the other runs of the drill, for a median. `under`: a
    picture of the ground; `changeable`: whether it can be changed from here."""
    plan = _plan(result, window, under, _ground(run_ref[0], under, changeable=changeable))
    page = html.Div(
        [
            dcc.Store(id=ids.RUN_REF, data=list(run_ref)),
            dcc.Store(id=ids.SHOWN, data=window_query(window)),
            dcc.Location(id=ids.ADDRESS, refresh=False),
            _title(result),
            *([] if address_usable else [notice(BAD_ADDRESS)]),
            *(notice(note) for note in result.evidence.notes),
            _first_screen(result, window, others, plan),
            _window_bar(window),
            *([links] if links is not None else []),
            panel("Account", *_account(result, window)),
            _timeline(result, window),
            *practice_panel(result),
            *_closeups(result, window),
            _over_time(result, window),
            *_open_questions(result),
            *_folded(result),
        ],
        className="debrief",
    )
    return with_unbroken_units(page)  # type: ignore[no-any-return]


def _title(result: RunResult) -> html.Div:
    called = f"run {result.run_id}" if result.words.title in ("", result.run_id) else result.words.title
    return html.Div(
        [html.H1(result.searcher or called), html.P(f"{result.drill}, {called}", className="quiet")], className="title"
    )


def _first_screen(result: RunResult, window: Window | None, others: Sequence[RunEntry], plan: html.Section) -> html.Div:
    """Return what a group is told first: the splits, what cost most, and where that is on the plan."""
    return html.Div(
        [
            html.Section([headline(result), split_strip(result, others)], className="panel answer"),
            html.Div(
                [panel("What cost most", finding_list(result, window), kind="costs"), plan], className="answer-views"
            ),
        ],
        className="first-screen",
    )


def _window_bar(window: Window | None) -> html.Div:
    return html.Div(
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
    )


def _account(result: RunResult, window: Window | None) -> list[Any]:
    return [
        account_bars(result),
        fold("The account in figures", html.P(ACCOUNT_NOTE, className="panel-note"), account_table(result, window)),
    ]


def _timeline(result: RunResult, window: Window | None) -> html.Section:
    figure, words = timeline_figure(result, window), timeline_words(result)
    return panel(
        "Timeline",
        chart(figure, chart_id=ids.TIMELINE, kind="timeline", label=words),
        noted_list(result),
        fold("What the bar shows", activity_key(result)),
        timeline_table(result, window),
        note=f"What was done, in the order of time. Choose a piece to see it in all views.{unsure_borders(result)}",
    )


def _plan(result: RunResult, window: Window | None, under: Under | None, ground: list[Any]) -> html.Section:
    _, gap_m = beside_shift(result)
    twice = [html.P(TWICE.format(gap=f"{gap_m:.1f} m"), className="plan-twice")] if gap_m else []
    return panel(
        "Plan",
        chart(plan_figure(result, window, under), chart_id=ids.PLAN, label=plan_words(result), kind="plan"),
        *twice,
        *ground,
        fold("How to read the plan", html.Ul([html.Li(line) for line in PLAN_KEY], className="plan-key")),
        kind="plan-panel",
    )


def _ground(drill: str, under: Under | None, *, changeable: bool) -> list[Any]:
    """Return what goes with the picture of the ground: whose it is, a press that takes it away, a way to change it."""
    parts: list[Any] = [] if under is None else [ground_switch()]
    if under is not None and under.credit:
        parts.append(html.P(under.credit, className="quiet"))
    if changeable:
        parts.append(ground_link(unquote(drill), there=under is not None))
    return [html.Div(parts, className="ground-tools")] if parts else []


def _over_time(result: RunResult, window: Window | None) -> html.Section:
    """Return range, readings and pace; folded away where there are several transmitters, so that a page stays short."""
    title, figure = "Distance, readings and pace", over_time_figure(result, window)
    drawn = chart(figure, chart_id=ids.OVER_TIME, label=pace_words(result), kind="time")
    if len(result.searches) > 1:
        return html.Section(fold(title, drawn), className="panel")
    return panel(title, drawn)


def _closeups(result: RunResult, window: Window | None) -> list[html.Section]:
    """Return one close-up per fine search of the run, all but that of the dearest loss folded away."""
    dearest = dearest_transmitter(result)
    shown, folded = [], []
    for number, search in enumerate(result.searches):
        figure = closeup_figure(result, search, window)
        if figure is None:
            continue
        title = f"Fine search, transmitter {search.transmitter}"
        key = html.Ul([html.Li(line) for line in FINE_KEY], className="plan-key")
        drawn = chart(figure, chart_id=ids.close_up(number), label=fine_words(result, search), kind="closeup")
        if search.transmitter == dearest or len(result.searches) == 1:
            shown.append(panel(title, drawn, fold("How to read the close-up", key)))
        else:
            folded.append(fold(title, drawn))
    return [*shown, html.Section(folded, className="panel")] if folded else shown


def _open_questions(result: RunResult) -> list[html.Section]:
    """Return what is possible only, and what could not be assessed, apart from what is known."""
    doubtful, times, measures = in_doubt(result), untold_time(result), untold_measures(result)
    parts = [panel("What the evidence leaves open", doubtful, kind="open")] if doubtful is not None else []
    if times or measures:
        folded = fold(f"Without a figure: {counted(len(measures), 'reason')}", _reasons(measures)) if measures else None
        note = "Neither good nor bad: nothing is known of it."
        parts.append(panel("What could not be assessed", _reasons(times), folded, note=note, kind="open"))
    return parts


def _reasons(found: list[tuple[str, str]]) -> html.Ul:
    return html.Ul([html.Li([html.Strong(what), f": {why}"]) for what, why in found], className="files")


def _folded(result: RunResult) -> list[html.Section]:
    """Return the details, each folded: its summary says what is in it."""
    measures = [html.Div(measure_table(search, team=result.team), className="scroll") for search in result.searches]
    return [
        html.Section(
            [
                fold("Measures", html.P(MEASURES_NOTE, className="panel-note"), *measures, name="measures"),
                fold(
                    "Score",
                    html.P(f"Rule sheet {result.rules.name}, version {result.rules.version}.", className="panel-note"),
                    scores_row(result),
                    name="score",
                ),
                fold("Evidence and files", evidence_panel(result), name="evidence"),
            ],
            className="panel",
        )
    ]


def fold(title: str, *content: Any, name: str | None = None) -> html.Details:
    """Return something folded away. `name`: of its link; it opens for that, and for print, in assets/debrief.js."""
    return html.Details([html.Summary(title), *content], className="more", **({"id": name} if name else {}))


def window_caption(window: Window | None) -> str:
    """Return what the views show, in words."""
    return "All views show the whole run." if window is None else f"All views show {span(window.from_s, window.to_s)}."
