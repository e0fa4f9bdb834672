"""Where the reference searcher is, second by second, as values for a replay. No Dash, no engine."""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceStretch:
    """One phase of the reference searcher: `time_s` (p,) from the start of the stretch, horizontal metres (p,).

    `with_run_s`: when it begins, in the run's time, where the reference searcher starts with the run and never
    waits; `with_phase_s`: where it starts every phase together with the searcher.
    """

    phase: str
    transmitter: str
    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    with_run_s: float
    with_phase_s: float

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), east_m=(n,), north_m=(n,))
