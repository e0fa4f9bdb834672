"""How likely it is that what a remark says holds on the true path, and whether it is large enough to be told."""

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.model.account import SAID_FROM
from analyzer.model.figure import Figure, share_above


@dataclass(frozen=True, slots=True)
class Likely:
    """`probability`: 0..1, that the limit holds on the true path. `worth`: the best estimate is worth a remark."""

    probability: float
    worth: bool = True

    @property
    def said(self) -> bool:
        """Whether it stands as a finding."""
        return self.worth and self.probability >= SAID_FROM


NO_SIGN = Likely(0.0, worth=False)
"""Of something of which there is no sign."""


def above(figure: Figure, worth: float, limit: float) -> Likely:
    """Return how likely a figure truly lies above `limit`; it is worth a remark from `worth` on."""
    return Likely(share_above(figure, limit), figure.value >= worth)


def below(figure: Figure, worth: float, limit: float) -> Likely:
    """Return how likely a figure truly lies below `limit`; it is worth a remark up to `worth`."""
    return Likely(1.0 - share_above(figure, limit), figure.value <= worth)


def all_of(parts: Sequence[Likely]) -> Likely:
    """Return how likely all of them hold: figures of one path rise and fall together, so as likely as the least."""
    return Likely(min(p.probability for p in parts), all(p.worth for p in parts))


def any_of(parts: Sequence[Likely]) -> Likely:
    """Return how likely one of them holds: as likely as the likeliest of those worth a remark, else of any."""
    told = [p for p in parts if p.worth] or list(parts)
    return max(told, key=lambda p: p.probability)


def explained_by(other: float, likely: Likely) -> Likely:
    """Return how likely something is where the same signs may come of something else, with probability `other`."""
    return Likely(likely.probability * (1.0 - other), likely.worth)
