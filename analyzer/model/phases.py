"""The phases of a run."""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields

SIGNAL, COARSE, FINE, PINPOINT = "signal_search", "coarse_search", "fine_search", "pinpoint"
PHASES = (SIGNAL, COARSE, FINE, PINPOINT)


@dataclass(frozen=True, slots=True, eq=False)
class PhaseSpan:
    """One phase of the search for one transmitter: [start_s, end_s).

    `start_draws_s`, `end_draws_s`: (S,) the same bounds for each row of the path's draws (row 0 the best one);
    the sigmas are their standard deviations, NaN where the bound is not assessable.
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

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        s = len(self.start_draws_s)
        freeze_fields(self, start_draws_s=(s,), end_draws_s=(s,))
