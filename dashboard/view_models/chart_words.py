"""What each chart of a run says, in words: its text alternative tells the answer, not what kind of chart it is."""

from analyzer.model.account import Search
from analyzer.model.figure import value_of
from analyzer.model.result import RunResult
from dashboard.view_models.losses import numbered_losses
from dashboard.view_models.order import activity_totals, splits_within
from dashboard.view_models.splits import answer_words
from dashboard.wording import ACTIVITIES, PHASES, clock, counted, saving_text, span


def plan_words(result: RunResult) -> str:
    """Return what the plan says: how the run stands, and the numbered losses with their times."""
    told = [
        f"{number}, {loss.title.lower()}, {span(loss.windows[0][0], loss.windows[-1][1])}, {saving_text(loss.cost)}"
        for number, loss in enumerate(numbered_losses(result), start=1)
    ]
    said = f"Marked on the path: {'; '.join(told)}." if told else "No loss is marked on the path."
    return f"Plan. {answer_words(result)} {said}"


def timeline_words(result: RunResult) -> str:
    """Return the three activities that most of the run went into; the table below has every row."""
    most = sorted(activity_totals(result.timeline), key=lambda found: -found[1])[:3]
    told = ", ".join(f"{ACTIVITIES[activity][1].lower()} {clock(seconds)}" for activity, seconds, _ in most)
    marks = len(splits_within(result))
    signs = f" Triangles stand at {counted(marks, 'mark')}." if marks else ""
    return f"Timeline of {clock(result.duration_s)}. Most of it: {told}.{signs} Every piece is in the table below."


def pace_words(result: RunResult) -> str:
    """Return when each phase began, and whether there are readings to see."""
    begun = ", ".join(f"{PHASES[p.phase].lower()} from {clock(p.start_s)}" for p in result.phases)
    log = "No readings were logged." if result.readings is None else "The readings are drawn as dots."
    return f"Distance to the transmitter and pace over time: {begun}. {log}"


def fine_words(result: RunResult, search: Search) -> str:
    """Return how long the fine search for a transmitter took and how many straight lines it had."""
    own = [p for p in result.phases if p.transmitter == search.transmitter and p.phase == "fine_search"]
    took = f" took {clock(sum(p.end_s - p.start_s for p in own))}" if own else ""
    lines = f"{counted(len(search.legs), 'straight line')} can be told" if search.legs else "no lines can be told apart"
    hit = search.figure("pinpoint", "hit_distance_m")
    beside = value_of(hit) if hit is not None else None
    end = f"; the probe hit {beside:.1f} m from the place" if beside is not None else ""
    return f"Fine search for transmitter {search.transmitter}{took}; {lines}{end}."
