"""Several searchers over one area at once: what of it they covered together, and who heard first."""

from dataclasses import dataclass

from analyzer.model.arrays import FloatArray, freeze_fields


@dataclass(frozen=True, slots=True, eq=False)
class TeamMember:
    """One searcher. `time_s` (n,): seconds since the time zero of the team; `path_m` (n, 2): slope-plane metres.

    `heard_s`: when the first reading came, on the same clock, with `heard_sigma_s`, both NaN where that is not known.
    """

    run_id: str
    name: str
    time_s: FloatArray
    path_m: FloatArray
    heard_s: float
    heard_sigma_s: float

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, time_s=(n,), path_m=(n, 2))


@dataclass(frozen=True, slots=True)
class MemberShare:
    """Of the area, 0..1, until the first signal: what one searcher covered, and what of it nobody else did."""

    run_id: str
    name: str
    covered: float
    alone: float
    walked_m: float
    heard_s: float


@dataclass(frozen=True, slots=True, eq=False)
class TeamSearch:
    """The joint signal search. `until_s`: when the first of all heard something, since the team's time zero.

    `covered`, `twice`: shares of the area, 0..1, that somebody, and that more than one, came near to until then.
    `first`, `second`: runs in the order of their first readings, "" where there is none; `sure`: probability that the
    first is first of all whose first readings are known. `grid_m` (g, 2): points spread over the area, slope-plane
    metres; `count` (g,): how many covered each. `left_out`: runs in which the first reading is not known, and of which
    it is not told whether they were first.
    """

    until_s: float
    covered: float
    twice: float
    members: tuple[MemberShare, ...]
    first: str
    second: str
    sure: float
    grid_m: FloatArray
    count: FloatArray
    left_out: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        g = len(self.grid_m)
        freeze_fields(self, grid_m=(g, 2), count=(g,))
