"""What of a run could not be assessed, and what evidence would have shown it. No Dash."""

from analyzer.model.account import NOBODYS_CAUSES
from analyzer.model.figure import NotAssessable
from analyzer.model.result import RunResult
from dashboard.view_models.account import JOINT, account_view
from dashboard.view_models.practice import practice_table
from dashboard.wording import GROUPS, clock, counted, measure_name, signed_clock

NEEDED = {
    "not_recorded": "A position every second would have shown it; a mark says where somebody was held.",
    "not_assessed": "A log of the readings would have shown when the first signal was read.",
}
"""What would have shown it, by cause."""
EXACT, LOGGED = "a track good to a tenth of a metre", "a log of the readings"
"""What tells the lines of a fine search apart, and the moment of settling."""
DOES_NOT_APPLY = "no wrong way"
"""How the reason begins of a measure of something that did not happen: nothing is missing there."""
NO_LOG = "A log of the readings would have shown it."


def untold_time(result: RunResult) -> list[tuple[str, str]]:
    """Return (phase and its seconds, why and what would have shown it) of the time that has no cause."""
    lines = []
    for part in account_view(result).parts:
        for line in part.lines:
            if line.cause in NOBODYS_CAUSES and line.seconds:
                joint = line.cause == JOINT
                time = clock(line.seconds) if joint else f"{signed_clock(line.seconds)} against the reference"
                why = "not assessable" if joint else f"{line.title[0].lower()}{line.title[1:]}"
                lines.append((f"{part.title}, {time}", f"{why}. {_needed(line.cause, result)}".strip()))
    return lines


def _needed(cause: str, result: RunResult) -> str:
    """Return what would have shown the cause, without what the run has already."""
    if cause != "not_told_apart":
        return NEEDED.get(cause, "")
    has = result.evidence.tier
    lacking = [words for words, here in ((EXACT, "survey" in has), (LOGGED, "readings" in has)) if not here]
    return f"What would help: {', and '.join(lacking)}." if lacking else ""


def untold_measures(result: RunResult) -> list[tuple[str, str]]:
    """Return (measures, why and what would have shown them); a reason that many measures share stands once, with the
    transmitters that it is true of where the run has several."""
    found: dict[str, tuple[list[str], list[str]]] = {}
    for search in result.searches:
        for group in GROUPS:
            for key, measured in getattr(search, group):
                if isinstance(measured, NotAssessable) and not measured.why.startswith(DOES_NOT_APPLY):
                    for named, name in zip(
                        found.setdefault(measured.why, ([], [])),
                        (measure_name(group, key), search.transmitter),
                        strict=True,
                    ):
                        if name not in named:
                            named.append(name)
    marks = [(names, f"{why}.") for names, why in practice_table(result).untold]
    several = len(result.searches) > 1
    return [
        *(
            (f"{_few(names)} ({', '.join(where)})" if several else _few(names), _with_need(why, result))
            for why, (names, where) in found.items()
        ),
        *marks,
    ]


def _few(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{names[0]} and {counted(len(names) - 1, 'other')}"


def _with_need(why: str, result: RunResult) -> str:
    said = f"{why.rstrip('.')}."
    return f"{said} {NO_LOG}" if result.readings is None and "reading" in why and "log readings" not in why else said
