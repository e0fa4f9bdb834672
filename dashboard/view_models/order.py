"""The order in which findings and ledger rows are shown, and the windows they stand for. No Dash."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from analyzer.model.account import Finding, LedgerRow
from analyzer.model.figure import value_of
from analyzer.model.result import RunResult
from dashboard.view_models.selection import Window, widened
from dashboard.wording import CAUSES


def costliest(findings: tuple[Finding, ...]) -> list[Finding]:
    """Return the findings by what they cost, dearest first; those without a known cost come last, in time order."""

    def order(finding: Finding) -> tuple[int, float, float]:
        saving = value_of(finding.saving_s)
        return (1, 0.0, finding.from_s) if saving is None else (0, -saving, finding.from_s)

    return sorted(findings, key=order)


def segments(ledger: tuple[LedgerRow, ...]) -> list[tuple[LedgerRow, float]]:
    """Return the rows in the order of time, each with the second at which its segment begins.

    Rows whose seconds fill their time window begin at their own time. Rows that share a window are laid end to end,
    so that the bar always adds up to the whole ledger.
    """
    ordered = sorted(ledger, key=lambda row: (row.from_s, row.to_s))
    if not ordered:
        return []
    begins = ordered[0].from_s + np.concatenate([[0.0], np.cumsum([row.seconds for row in ordered])[:-1]])
    return [(row, float(begin)) for row, begin in zip(ordered, begins, strict=True)]


def cause_totals(ledger: tuple[LedgerRow, ...]) -> list[tuple[str, float, float]]:
    """Return (cause, seconds, metres) of every cause in the ledger, in the fixed order of causes."""
    return [
        (cause, sum(r.seconds for r in ledger if r.cause == cause), sum(r.metres for r in ledger if r.cause == cause))
        for cause in CAUSES
        if any(r.cause == cause for r in ledger)
    ]


def ledger_rows(result: RunResult) -> list[LedgerRow]:
    """Return the rows in the order in which the table and its buttons number them."""
    return [row for row, _ in segments(result.ledger)]


def window_of_button(result: RunResult, button: dict[str, Any]) -> Window | None:
    """Return the window that a button stands for, None for the whole run."""
    places: dict[str, Sequence[Finding | LedgerRow]] = {
        "finding": costliest(result.findings),
        "ledger": ledger_rows(result),
    }
    rows = places.get(button["place"], ())
    index = int(button["number"])
    return widened(rows[index].from_s, rows[index].to_s) if index < len(rows) else None


def window_of_trigger(result: RunResult, trigger: Any, clicked: dict[str, Any] | None) -> Window | None:
    """Return the window of a pressed button, or of a chosen segment of the ledger bar."""
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
