"""The steps from the reference searcher to this run, one a cause: signed seconds that add up. No Dash."""

from dataclasses import dataclass

from analyzer.model.account import NOBODYS_CAUSES
from analyzer.model.result import RunResult
from dashboard.view_models.account import REFERENCE, account_view

LOST, GAINED, NOBODYS = "lost", "gained", "nobodys"


@dataclass(frozen=True, slots=True)
class AccountStep:
    """One cause. `kind`: lost, gained or nobodys. `left`, `width`: of its bar, per cent of the room for all bars."""

    title: str
    where: str
    seconds: int
    kind: str
    left: float
    width: float
    transmitter: str = ""


@dataclass(frozen=True, slots=True)
class AccountSteps:
    """`reference` plus the seconds of all steps is `seconds`. `zero`: where the line of no difference stands, %."""

    reference: int
    seconds: int
    steps: tuple[AccountStep, ...]
    zero: float


def account_steps(result: RunResult) -> AccountSteps:
    """Return the steps in the order of the search; bars share one scale and begin at the line of no difference."""
    view = account_view(result)
    found = [(part, line) for part in view.parts for line in part.lines if line.cause != REFERENCE and line.seconds]
    low = -min((line.seconds for _, line in found if line.seconds < 0), default=0)
    high = max((line.seconds for _, line in found if line.seconds > 0), default=0)
    scale = 100.0 / max(low + high, 1)
    several = len({part.transmitter for part in view.parts}) > 1
    steps = []
    for part, line in found:
        kind = NOBODYS if line.cause in NOBODYS_CAUSES else LOST if line.seconds > 0 else GAINED
        left = (low + min(line.seconds, 0)) * scale
        where = part.title if several else part.title.split(", ")[0]
        steps.append(
            AccountStep(line.title, where, line.seconds, kind, left, abs(line.seconds) * scale, part.transmitter)
        )
    return AccountSteps(view.reference, view.seconds, tuple(steps), low * scale)
