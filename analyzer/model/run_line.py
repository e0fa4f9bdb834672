"""One run as one row: small enough that a database keeps hundreds of them at hand."""

from dataclasses import dataclass

from analyzer.model.figure import Measured


@dataclass(frozen=True, slots=True)
class RunLine:
    """One run of a person, reduced to what is compared over a season.

    `searcher`: the name in the result. `drill`, `run`: the folders' names. `time_zero`: ISO 8601 UTC. `duration_s`, and
    `reference_s`: what the drill's reference searcher would have spent. `measures`: name -> figure, related to the
    reference searcher where a drill's difficulty would show. `causes`: cause of the account -> seconds lost.
    """

    searcher: str
    drill: str
    run: str
    time_zero: str
    duration_s: float
    reference_s: float
    measures: tuple[tuple[str, Measured], ...]
    causes: tuple[tuple[str, float], ...]
