"""The dearest losses of a run, numbered alike beside their words and on the plan. No Dash."""

from dataclasses import dataclass

from analyzer.model.account import FINDING_TITLES, NOBODYS_CAUSES, Finding
from analyzer.model.figure import Measured, value_of
from analyzer.model.result import RunResult
from dashboard.view_models.account import REFERENCE, AccountLine, AccountPart, account_view, unremarked_line
from dashboard.view_models.order import costliest, findings_that_stand

NUMBERED = 3
"""So many losses are told in full and stand on the plan; more at once help nobody."""


UNTOLD = "The evidence does not show how it came about."
"""Said of a loss that no finding speaks of, where none speaks of the same phase either."""
SAID = {
    "pace": "you went more slowly than the rule sheet's pace",
    "longer_lines": "you walked further than one cross needs",
    "detour": "you walked further than along the field line",
}
"""What is said to the searcher of a loss that no finding speaks of; a slow pace is told whole by that."""


@dataclass(frozen=True, slots=True)
class Loss:
    """One loss. `place`, `button`: of the button that shows it. `windows`: (from_s, to_s) of each stretch.
    `finding`: None where no finding speaks of it."""

    place: str
    button: int
    title: str
    text: str
    cost: Measured
    windows: tuple[tuple[float, float], ...]
    finding: Finding | None = None


def losses(result: RunResult) -> list[Loss]:
    """Return all losses that can be placed, dearest first, those without known seconds last; where no finding has known
    seconds, the loss that none of them speaks of comes last."""
    order = costliest(result.findings)
    found = [_of_finding(finding, order.index(finding)) for finding in findings_that_stand(result)]
    unsaid = unremarked_line(result)
    if unsaid is not None and unsaid[1].cause not in NOBODYS_CAUSES and unsaid[1].windows:
        line = unsaid[1]
        windows = tuple((from_s, to_s) for _, from_s, to_s in line.windows)
        beside = [x.title for x in found if x.finding is not None and _same_phase(x.finding, unsaid[0])]
        found.append(Loss("loss", 0, line.title, _untold(*unsaid, beside), line.figure, windows))
    if all(value_of(loss.cost) is None for loss in found if loss.finding is not None):
        return found  # what can be practised comes before seconds that teach nothing, as in the list of runs
    return sorted(found, key=lambda loss: -(value_of(loss.cost) or 0.0))


def _same_phase(finding: Finding, part: AccountPart) -> bool:
    return (finding.phase, finding.transmitter) == (part.phase, part.transmitter)


def dearest_transmitter(result: RunResult) -> str:
    """Return the transmitter in whose search most was lost at once; "" where nothing was searched for."""
    found = sorted(losses(result), key=lambda loss: -(value_of(loss.cost) or 0.0))
    if found and found[0].finding is not None and found[0].finding.transmitter:
        return found[0].finding.transmitter
    lost = [
        (line.seconds, part.transmitter)
        for part in account_view(result).parts
        for line in part.lines
        if part.transmitter and line.cause != REFERENCE
    ]
    searched = [search.transmitter for search in result.searches]
    return max(lost)[1] if lost else searched[0] if searched else ""


def _untold(part: AccountPart, line: AccountLine, beside: list[str]) -> str:
    """Return what is said of a loss; `beside`: titles of the findings on the same phase."""
    where = f"In the {part.title[0].lower()}{part.title[1:]}"
    plain = SAID.get(line.cause, "") if (line.cause, part.phase) != ("pace", "pinpoint") else ""
    comma = "," if part.transmitter else ""
    what = f"{where}{comma} {plain}." if plain else f"{where}: {line.what}."
    if beside:
        return f"{what} See also, in the same phase: {' and '.join(f'{x[0].lower()}{x[1:]}' for x in beside)}."
    return what if line.cause == "pace" else f"{what} {UNTOLD}"


def numbered_losses(result: RunResult) -> list[Loss]:
    """Return the losses that are numbered, the first is number 1."""
    return losses(result)[:NUMBERED]


def _of_finding(finding: Finding, button: int) -> Loss:
    name = finding.id.split(":")[0]
    title = FINDING_TITLES.get(name, name.replace("_", " ").capitalize())
    return Loss(
        "finding", button, title, finding.text, finding.saving_s, ((finding.from_s, finding.to_s),), finding=finding
    )
