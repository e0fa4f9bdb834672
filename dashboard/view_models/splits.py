"""The time of each phase of a run beside the reference searcher's and the group's. No Dash."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.model.result import RunResult
from dashboard.view_models.account import JOINT, REFERENCE, account_view, phase_totals
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.run_summary import JOINT_SHORT, split_times, unfinished
from dashboard.wording import PHASES, PHASES_SHORT, clock

LEAST_OTHERS = 3
"""A median of fewer runs than this says little of a group; our choice."""
NAMES = {short: PHASES[phase] for phase, short in PHASES_SHORT.items()} | {
    JOINT_SHORT: "Signal and coarse search",
    PHASES_SHORT["pinpoint"]: "Pinpoint and probe",
}
UNDER_A_SECOND, NO_TIME = "reference under 1 s", "reference: no time needed"
NO_TIME_S = 0.05
"""Below this a reference is as good as none: it would show as 0.0 s."""
NOT_THERE = "not in this recording"
ENDS_IN = "the recording does not show where it ended, and no probe hit"


@dataclass(frozen=True, slots=True)
class Split:
    """One phase, whole seconds. `seconds` None: the recording has none. `reference` None: not assessable, see `why`.
    `group`: the median of the other runs of the drill, None where fewer than three of them have it. `brief`: what is
    said of a reference that rounds to 0:00."""

    title: str
    seconds: int | None
    reference: int | None
    group: float | None
    others: int
    why: str = ""
    brief: str = ""


def run_splits(result: RunResult, others: Sequence[RunEntry] = ()) -> list[Split]:
    """Return the phases of a run in the order of a search; `others`: the other runs of its drill."""
    found: dict[str, list[int]] = {}
    for entry in others:
        for short, totals in split_times(entry.splits) if entry.splits else ():
            if totals is not None and short not in entry.unfinished:
                found.setdefault(short, []).append(totals.seconds)
    splits, not_whole = [], unfinished(result)
    for short, totals in split_times(tuple(phase_totals(account_view(result)))):
        times = found.get(short, [])
        group = statistics.median(times) if len(times) >= LEAST_OTHERS else None
        if totals is None:
            splits.append(Split(NAMES[short], None, None, group, len(times), NOT_THERE))
        elif short in not_whole:
            splits.append(Split(NAMES[short], totals.seconds, None, None, len(times), ENDS_IN))
        elif short == JOINT_SHORT:
            why = "where one ended and the other began is not assessable without readings"
            splits.append(Split(NAMES[short], totals.seconds, None, group, len(times), why))
        else:
            raw_s = _reference_s(result, short)
            told, why = (None, "the reference is not assessable") if raw_s is None else (totals.reference, "")
            brief = "" if told or raw_s is None else UNDER_A_SECOND if raw_s >= NO_TIME_S else NO_TIME
            splits.append(Split(NAMES[short], totals.seconds, told, group, len(times), why, brief))
    return splits


def _reference_s(result: RunResult, short: str) -> float | None:
    """Return what the reference searcher needs for a phase, seconds, None where the account does not have it."""
    phase = next(name for name, own in PHASES_SHORT.items() if own == short)
    found = [row.seconds.value for row in result.account if row.phase == phase and row.cause == REFERENCE]
    return math.fsum(found) if found else None


def answer_words(result: RunResult) -> str:
    """Return in words how long the run took, how that stands to the reference, and where most of the loss lies.

    Of a run that could be assessed in part only, or that found not all, nothing is said against a reference that it has
    in part only.
    """
    view = account_view(result)
    whole = f"The run took {clock(view.seconds)}"
    if any(line.cause == JOINT for line in view.lines) or not view.reference:
        return f"{whole}; a part of it cannot be held against the reference searcher."
    over = view.seconds - view.reference
    missing = [search.transmitter for search in result.searches if not search.found]
    if missing:
        names = " or ".join(missing)
        shown = f"{whole}, and its recording shows no probe hit at {names}"
        said = f"{shown}: it is not held against the reference searcher as a whole"
    elif not over:
        return f"{whole}, as long as the reference searcher."
    else:
        said = f"{whole}, {clock(abs(over))} {'more' if over > 0 else 'less'} than the reference searcher"
    phases = [totals for totals in phase_totals(view)[:-1] if totals.lost]
    most = max(phases, key=lambda totals: totals.lost, default=None)
    if most is None:
        return f"{said}."
    where = f"in the {most.title.lower()}"
    if most.lost == view.lost:
        return f"{said}. All that was lost, {clock(view.lost)}, lies {where}."
    part = "Most" if 2 * most.lost > view.lost else "The largest part"
    return f"{said}. {part} of what was lost, {clock(most.lost)} of {clock(view.lost)}, lies {where}."
