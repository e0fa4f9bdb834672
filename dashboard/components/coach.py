"""The coach's words on a run as the debrief shows them: the note, what was praised, which findings are set aside."""

from typing import Any

from dash import html

from analyzer.model.result import RunResult
from dashboard.components.shell import panel
from dashboard.view_models.coach import other_words, praised_text, reasons_of


def coach_part(result: RunResult) -> list[Any]:
    """Return the coach's words, nothing where there are none."""
    words, findings = result.words, (*result.findings, *result.possible)
    praised, reasons = praised_text(words), reasons_of(words, findings)
    parts: list[Any] = []
    if praised:
        parts.append(html.P([html.Strong("Well done"), "." if praised == "yes" else f": {praised}"]))
    parts += [html.P(line) for line in words.note.splitlines() if line.strip()]
    aside = [_aside(finding.text, reasons[finding.id]) for finding in findings if finding.id in reasons]
    aside += [html.Li(f"Set aside: {text}") for text in other_words(words, findings)]
    parts += [html.Ul(aside, className="load-open")] if aside else []
    return [panel("The coach's words", *parts)] if parts else []


def _aside(text: str, reason: str) -> html.Li:
    return html.Li([html.Strong(f"Set aside: {reason}. ".replace("..", ".")), html.S(text)])
