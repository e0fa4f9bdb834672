"""The timeline in words: a key with the totals of every activity, and every row as a table."""

from dash import html

from analyzer.model.account import TimelineRow
from analyzer.model.result import RunResult
from dashboard import ids
from dashboard.view_models.order import activity_totals
from dashboard.view_models.practice import LaterRow, later_rows
from dashboard.view_models.selection import Window, widened
from dashboard.wording import ACTIVITIES, PHASES, clock, number, span


def activity_key(result: RunResult) -> html.Ul:
    """Return the key of the bar: pattern, letter, name, time and share of each activity that occurs."""
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(
                        html.Span(ACTIVITIES[activity][0]),
                        className=f"swatch swatch-{activity}",
                        **{"aria-hidden": "true"},
                    ),
                    html.Span(
                        [
                            html.Strong(ACTIVITIES[activity][1]),
                            html.Span(ACTIVITIES[activity][2], className="cause-what"),
                        ]
                    ),
                    html.Span(
                        [html.Strong(clock(seconds)), html.Span(f"{share} %", className="cause-what")],
                        className="cause-s",
                    ),
                ]
            )
            for activity, seconds, share in activity_totals(result.timeline)
        ],
        className="cause-key",
    )


def timeline_table(result: RunResult, window: Window | None) -> html.Details:
    """Return every row of the timeline with a button that shows its window in all views."""
    head = html.Thead(html.Tr([html.Th(text, scope="col") for text in ("When", "What", "Time, s", "Walked, m")]))
    rows = [_row(row, number_, window) for number_, row in enumerate(result.timeline)]
    table = html.Table(
        [
            html.Caption("Every second and metre of the run, in the order of time"),
            head,
            html.Tbody(rows),
            *_later(result),
        ],
        className="table timeline-table",
    )
    return html.Details([html.Summary("The timeline as a table"), table], className="more")


def window_button(place: str, index: int, from_s: float, to_s: float, window: Window | None) -> html.Button:
    """Return a button that shows a window of time in all views."""
    shown = widened(from_s, to_s)
    pressed = window is not None and window.matches(shown.from_s, shown.to_s)
    return html.Button(
        span(from_s, to_s),
        id=ids.show_window(place, index),
        className="link-button",
        type="button",
        **{"aria-pressed": str(pressed).lower()},
    )


def _later(result: RunResult) -> list[html.Tbody]:
    """Return what marks show of the time after the run, which no sum holds."""
    rows = [
        html.Tr([html.Td(span(row.from_s, row.to_s)), html.Td(_what(row)),
                 html.Td(f"{row.to_s - row.from_s:.1f}", className="num"), html.Td("-", className="num")])
        for row in later_rows(result)
    ]  # fmt: skip
    if not rows:
        return []
    head = html.Tr(html.Th("After the run, in no sum", scope="rowgroup", colSpan=4), className="group")
    return [html.Tbody([head, *rows], className="later-rows")]


def _what(row: LaterRow) -> list[html.Strong | html.Span]:
    below = [html.Span(f"transmitter {row.transmitter}", className="cause-what")] if row.transmitter else []
    return [html.Strong(row.title), *below]


def _row(row: TimelineRow, index: int, window: Window | None) -> html.Tr:
    what = [html.Strong(ACTIVITIES[row.activity][1]), html.Span(PHASES.get(row.phase, ""), className="cause-what")]
    return html.Tr(
        [
            html.Td(window_button("timeline", index, row.from_s, row.to_s, window)),
            html.Td(what),
            html.Td(f"{row.seconds:.1f}", className="num"),
            html.Td(number(row.metres), className="num"),
        ]
    )
