"""The phases of a run."""

from dataclasses import dataclass, replace

import numpy as np

from analyzer.model.arrays import FloatArray, freeze_fields

SIGNAL, COARSE, FINE, PINPOINT = "signal_search", "coarse_search", "fine_search", "pinpoint"
PHASES = (SIGNAL, COARSE, FINE, PINPOINT)


@dataclass(frozen=True, slots=True, eq=False)
class PhaseSpan:
    """One phase of the search for one transmitter: [start_s, end_s).

    `start_draws_s`, `end_draws_s`: (S,) the same bounds for each row of the path's draws (row 0 the best one);
    the sigmas are their standard deviations, NaN where the bound is not assessable. `hit_s`: of a pinpoint whose hit is
    known; what follows the hit until the spot is left belongs to it.
    """

    phase: str
    transmitter: str
    start_s: float
    end_s: float
    start_sigma_s: float
    end_sigma_s: float
    start_draws_s: FloatArray
    end_draws_s: FloatArray
    note: str = ""
    hit_s: float | None = None

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        s = len(self.start_draws_s)
        freeze_fields(self, start_draws_s=(s,), end_draws_s=(s,))

    @property
    def probing(self) -> "PhaseSpan":
        """Return a pinpoint up to its hit; the whole where no hit is known."""
        if self.hit_s is None:
            return self
        return replace(
            self,
            start_s=min(self.start_s, self.hit_s),
            end_s=min(self.end_s, self.hit_s),
            end_sigma_s=0.0,
            start_draws_s=np.minimum(self.start_draws_s, self.hit_s),
            end_draws_s=np.minimum(self.end_draws_s, self.hit_s),
        )

    @property
    def marking(self) -> "PhaseSpan | None":
        """Return a pinpoint from its hit on, None where nothing follows it."""
        if self.hit_s is None or not np.any(self.end_draws_s > self.hit_s):
            return None
        start = np.maximum(self.start_draws_s, self.hit_s)
        return replace(
            self,
            start_s=float(start[0]),
            end_s=max(self.end_s, float(start[0])),
            start_sigma_s=0.0,
            start_draws_s=start,
            end_draws_s=np.maximum(self.end_draws_s, start),
        )
