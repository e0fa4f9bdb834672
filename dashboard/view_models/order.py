"""The order in which findings and rows of the timeline are shown, and the windows they stand for. No Dash."""

from typing import Any

from analyzer.model.account import Finding, TimelineRow
from analyzer.model.figure import value_of
from analyzer.model.result import RunResult, Split
from dashboard.view_models.account import account_windows, unremarked_window
from dashboard.view_models.coach import reasons_of
from dashboard.view_models.rounding import adding_up
from dashboard.view_models.selection import Window, widened
from dashboard.wording import ACTIVITIES


def costliest(findings: tuple[Finding, ...]) -> list[Finding]:
    """Return the findings by what they cost, dearest first; those without a known cost come last, in time order."""

    def order(finding: Finding) -> tuple[int, float, float]:
        saving = value_of(finding.saving_s)
        return (1, 0.0, finding.from_s) if saving is None else (0, -saving, finding.from_s)

    return sorted(findings, key=order)


def findings_that_stand(result: RunResult) -> list[Finding]:
    """Return the findings that the coach did not set aside, dearest first."""
    aside = reasons_of(result.words, result.findings)
    return [finding for finding in costliest(result.findings) if finding.id not in aside]


def activity_totals(timeline: tuple[TimelineRow, ...]) -> list[tuple[str, int, int]]:
    """Return (activity, seconds, per cent of the run) of what occurs, in the fixed order; both columns add up."""
    found = [activity for activity in ACTIVITIES if any(row.activity == activity for row in timeline)]
    seconds = [sum(row.seconds for row in timeline if row.activity == activity) for activity in found]
    whole = max(sum(seconds), 1e-9)
    shares = adding_up([100.0 * value / whole for value in seconds])
    return list(zip(found, adding_up(seconds), shares, strict=True))


def window_of_button(result: RunResult, button: dict[str, Any]) -> Window | None:
    """Return the window that a button stands for, None for the whole run."""
    bounds = _bounds(result, button["place"])
    index = int(button["number"])
    return widened(*bounds[index]) if index < len(bounds) else None


def _bounds(result: RunResult, place: str) -> list[tuple[float, float]]:
    """Return the windows of all buttons of one place, in the order of their numbers."""
    if place == "finding":
        return [(f.from_s, f.to_s) for f in costliest(result.findings)]
    if place == "timeline":
        return [(row.from_s, row.to_s) for row in result.timeline]
    if place == "phase":
        return [(p.start_s, p.end_s) for p in result.phases]
    if place == "loss":
        return unremarked_window(result)
    return account_windows(result) if place == "account" else []


def windows_of_page(result: RunResult) -> list[Window]:
    """Return all windows that something on the debrief can choose."""
    places = ("finding", "loss", "timeline", "account", "phase")
    marks = [widened(split.at_s, split.at_s) for split in splits_within(result)]
    return [*(widened(*bounds) for place in places for bounds in _bounds(result, place)), *marks]


def splits_within(result: RunResult) -> list[Split]:
    """Return the marks that bound no phase and lie within the run: those that stand on its timeline."""
    return [split for split in result.splits if 0.0 <= split.at_s <= result.duration_s]


def window_of_trigger(result: RunResult, trigger: Any, clicked: dict[str, Any] | None) -> Window | None:
    """Return the window of a pressed button, or of a chosen piece of the timeline."""
    if isinstance(trigger, dict):
        return window_of_button(result, trigger)
    point = ((clicked or {}).get("points") or [{}])[0]
    bounds = point.get("customdata")
    return widened(float(bounds[0]), float(bounds[1])) if bounds is not None else None


def pressed_states(result: RunResult, buttons: list[dict[str, Any]], window: Window | None) -> list[str]:
    """Return for every button whether its window is the one that is shown, as `aria-pressed` wants it."""
    return [str(_same(window_of_button(result, button), window)).lower() for button in buttons]


def _same(own: Window | None, shown: Window | None) -> bool:
    if own is None or shown is None:
        return own is shown
    return own.matches(shown.from_s, shown.to_s)
