"""What an event takes from a result file: strikes, findings, figures, and where each stands in the file."""

from typing import Any

from analyzer.events.model import FoundFault, RunFacts
from analyzer.files.rules_toml import MEASURES
from analyzer.model.figure import Figure, Measured, NotAssessable

SAME_MOMENT_S = 1.5
"""A probe hit ends the pinpointing of its transmitter; the path's times are steps of up to about a second apart."""


def facts_of(values: dict[str, Any], *, source: str, start_marked: bool) -> RunFacts:
    """Return the facts of a run from the values of its result file.

    A strike belongs to the transmitter whose pinpointing ends with it, else to the one its mark names.
    """
    strikes: dict[str, tuple[str, float, str]] = {}
    for number, hit in enumerate(values["probe_hits"]):
        who = _struck(values["phases"], hit)
        earlier = strikes.get(who)
        if earlier is None or hit["at_s"] < earlier[1]:
            strikes[who] = (who, float(hit["at_s"]), f"probe_hits[{number}]")
    return RunFacts(
        source=source,
        duration_s=float(values["run"]["duration_s"]),
        strikes=tuple(sorted(strikes.values(), key=lambda s: (s[1], s[0]))),
        faults=tuple(
            FoundFault(
                item["id"].partition(":")[0],
                item["transmitter"],
                item["text"],
                float(item["from_s"]),
                f"findings[{number}]",
            )
            for number, item in enumerate(values["findings"])
        ),
        measures=tuple(_measures(values["searches"])),
        ledger_ends_s=tuple(float(row["to_s"]) for row in values["ledger"]),
        start_marked=start_marked,
    )


def _struck(phases: list[dict[str, Any]], hit: dict[str, Any]) -> str:
    ends = [(abs(p["end_s"] - hit["at_s"]), p["transmitter"]) for p in phases if p["phase"] == "pinpoint"]
    near = min(ends, default=(SAME_MOMENT_S + 1.0, ""))
    return str(near[1] if near[0] <= SAME_MOMENT_S else hit["transmitter"])


def _measures(searches: list[dict[str, Any]]) -> list[tuple[str, str, Measured, str]]:
    found = []
    for number, search in enumerate(searches):
        for measure in MEASURES:
            group, name = measure.split(".", 1)
            value = search[group].get(name)
            if value is not None:
                found.append((measure, search["transmitter"], figure_of(value), f"searches[{number}].{measure}"))
    return found


def figure_of(value: dict[str, Any]) -> Measured:
    """Return a figure from its form in a file."""
    if "value" not in value:
        return NotAssessable(str(value.get("why", "")))
    return Figure(float(value["value"]), float(value["low"]), float(value["high"]), str(value["unit"]))
