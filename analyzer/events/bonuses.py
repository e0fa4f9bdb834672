"""Judges' bonuses that cannot be meant: larger than the time they are taken from, or than what there is to find."""

from collections.abc import Mapping

from analyzer.events.model import Event, RunFacts
from analyzer.workspace.layout import EVENT_FILE


def too_large(event: Event, facts: Mapping[tuple[str, str], RunFacts]) -> dict[tuple[str, str], str]:
    """Return a line for each run whose judges' bonuses, taken together, leave nothing of it: it has no place until they
    are mended, and the others are ranked.

    Parameters
    ----------
    event : Event
    facts : mapping
        (drill, run) -> what was measured.
    """
    runs = {(e.bib, drill): (drill, run) for e in event.entries for drill, run in e.runs if (drill, run) in facts}
    transmitters = {field.drill: len(field.transmitters) for field in event.fields}
    seconds: dict[tuple[str, str], float] = {}
    points: dict[tuple[str, str], float] = {}
    found: dict[tuple[str, str], str] = {}
    for decision in event.judge:
        key = runs.get((decision.bib, decision.drill))
        if key is None or not decision.kind.startswith("bonus"):
            continue
        so_far = seconds if decision.kind == "bonus_s" else points
        so_far[key] = so_far.get(key, 0.0) + decision.amount
        ran_s = max((at_s for _, at_s, _ in facts[key].strikes), default=facts[key].duration_s)
        over, of = (
            (so_far[key] >= ran_s, f"the time of {ran_s:.1f} s")
            if so_far is seconds
            else (so_far[key] > transmitters[decision.drill], f"{transmitters[decision.drill]} transmitters")
        )
        if over:
            unit = "s" if so_far is seconds else "points"
            where = f"{EVENT_FILE}, [[judge]] {decision.number}, {decision.kind}"
            what = f"bib {decision.bib} has {so_far[key]:g} {unit} of bonus on {decision.drill}, more than {of}"
            found[key] = f"{where}: {what}; mend the amount"
    return found
