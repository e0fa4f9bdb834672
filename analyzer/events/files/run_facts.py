"""What an event takes from a result file: strikes, findings, figures, and where each stands in the file."""

from collections.abc import Collection

from analyzer.events.model import FoundFault, RunFacts
from analyzer.files.rules_toml import MEASURES
from analyzer.model.account import Search
from analyzer.model.figure import Measured
from analyzer.model.phases import PINPOINT
from analyzer.model.result import Phase, RunResult

SAME_MOMENT_S = 1.5
"""A probe hit lies in the pinpointing of its transmitter; the path's times are steps of up to about a second apart."""


def facts_of(result: RunResult, *, source: str, marks: Collection[str]) -> RunFacts:
    """Return the facts of a run from its result, as it was read from the file `source`; `marks`: what was marked.

    A strike belongs to the transmitter in whose pinpointing it falls, else to the one its mark names.
    """
    strikes: dict[str, tuple[str, float, str]] = {}
    for number, (named, at_s) in enumerate(result.probe_hits_s):
        who = _struck(result.phases, named, at_s)
        if who not in strikes or at_s < strikes[who][1]:
            strikes[who] = (who, at_s, f"probe_hits[{number}]")
    return RunFacts(
        source=source,
        duration_s=result.duration_s,
        strikes=tuple(sorted(strikes.values(), key=lambda s: (s[1], s[0]))),
        faults=tuple(
            FoundFault(
                item.id.partition(":")[0],
                item.transmitter,
                item.text,
                item.from_s,
                f"findings[{number}]",
                item.probability,
            )
            for number, item in enumerate(result.findings)
        ),
        measures=tuple(_measures(result.searches)),
        timeline_ends_s=tuple(row.to_s for row in result.timeline),
        start_marked="start" in marks,
        marked=bool(marks),
        logged=result.readings is not None,
    )


def _struck(phases: tuple[Phase, ...], named: str, at_s: float) -> str:
    off = [(max(p.start_s - at_s, at_s - p.end_s, 0.0), p.transmitter) for p in phases if p.phase == PINPOINT]
    away_s, who = min(off, default=(SAME_MOMENT_S + 1.0, ""))
    return who if away_s <= SAME_MOMENT_S else named


def _measures(searches: tuple[Search, ...]) -> list[tuple[str, str, Measured, str]]:
    found = []
    for number, search in enumerate(searches):
        for measure in MEASURES:
            figure = search.figure(*measure.split(".", 1))
            if figure is not None:
                found.append((measure, search.transmitter, figure, f"searches[{number}].{measure}"))
    return found
