"""The table of measures: what a search and a run are measured by, one entry each, and nothing of it anywhere else.

Result keys, what a rule sheet may score, titles and units on the pages, the season's measures, the printed sheet, the
accuracy table and the glossary are read off `MEASURES`. How each is taken is described in docs/methods/measures.md.

Measures of a phase are taken of every search, by `analyzer.engine.measures`. Those of `RUN` are made of them, in
`analyzer.engine.run_line`: over all searches of a run and related to the reference searcher, so that a drill's
difficulty drops out. `MeasuredSearch.extra` holds no measures: those are working values of the findings, in no result.
"""

from dataclasses import dataclass
from math import inf

from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL

RUN = "run"
"""Stands for the phase of a measure that is of a whole run."""
LESS, MORE, ZONE, NEITHER = "less", "more", "zone", "neither"
"""What is better of a measure: less, more, a zone (nearer to the reference; of a ratio to it: to 1), or neither."""

NONE_LOST = (-inf, 0.0)
SOON_ENOUGH_S = (-inf, 4.0)
"""Our choice: two readings a second apart that rise, and two steps."""
SQUARE_ENOUGH_DEG = (70.0, inf)
"""Our choice: a line at 70 degrees goes 94 % as far across as a square one."""
WIDE_ENOUGH_M, LOW_ENOUGH_M = (0.7, inf), (-inf, 0.2)
"""From where on the built-in rule sheet takes no points for reach and for the last reading above the lowest."""
CLOSE_ENOUGH_M, STRUCK_M = (-inf, 0.5), (-inf, 0.3)
"""Our choice: two holes of a spiral of probes from the end of the fine search; half a lying person's width."""
FULL_SCORE = (100.0, inf)
ITS_TIME, ITS_PACE, SIGNAL_SEARCH = "the reference's time", "the reference's pace", "the signal search"
AS_THE_REFERENCE = (-inf, 1.25)
NEAR_THE_REFERENCE = (0.75, 1.25)
"""Within a quarter of the reference searcher's. Our choice: who is that near has nothing to learn from the difference,
and less than the reference's time is no better still, since who slows down where it is right needs a little more."""


@dataclass(frozen=True, slots=True)
class Followed:
    """How a measure stands in a season.

    `falls`, `rises`: what it says of a person ("Turns back sooner") when the measure falls or rises. `good`: from where
    to where, in the measure's unit, it is as good as it needs to be: only its distance from there gets better or worse.
    `head`, `narrow`: its column's head in a group's table, on the page and across a terminal; "" where that table
    leaves it out. `of`: what a measure without a unit is times or per cent of.
    """

    falls: str
    rises: str
    good: tuple[float, float]
    head: str = ""
    narrow: str = ""
    of: str = ""


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure.

    `phase`: one of PHASES, or RUN. `key`: as in the result file, with the unit of what is not a share or a count.
    `unit`: of its figures, "1" for shares, ratios and counts; `percent`: shown in per cent. `better`: LESS, MORE, ZONE
    or NEITHER. `scorable`: a rule sheet may rest on it. `printed`: on the searcher's sheet. `always`: every search has
    it, if only as a reason why there is no figure; else it is left out where it means nothing.
    """

    phase: str
    key: str
    title: str
    unit: str
    better: str
    scorable: bool = False
    followed: Followed | None = None
    printed: bool = False
    always: bool = True
    percent: bool = False

    def __post_init__(self) -> None:
        """Check what the parts of an entry ask of each other.

        Raises
        ------
        ValueError
            Where they contradict each other.
        """
        if self.phase not in (*PHASES, RUN) or self.better not in (LESS, MORE, ZONE, NEITHER):
            raise ValueError(f"{self.key}: the phase {self.phase!r} or what is better, {self.better!r}, is not known")
        if self.followed is not None and (self.better == NEITHER or (self.better == ZONE and self.unit != "1")):
            raise ValueError(f"{self.key}: followed over a season is what is better as less, more, or nearer to 1")
        if self.followed is not None and not _ends(self.better, *self.followed.good):
            raise ValueError(f"{self.key}: good from {self.followed.good} does not go with better as {self.better}")
        if self.followed is not None and (self.unit == "1") != bool(self.followed.of):
            raise ValueError(f"{self.key}: a followed measure says its unit, or what it is times or per cent of")
        if self.phase == RUN and (self.scorable or self.printed):
            raise ValueError(f"{self.key}: what is scored and printed is of a search, not of a run")

    @property
    def group(self) -> str:
        """Return where it stands in a search: "coarse" for the coarse search."""
        return group_of(self.phase)

    @property
    def name(self) -> str:
        """Return group and key, "coarse.walked_m": what rule sheets and point losses call it."""
        return f"{self.group}.{self.key}"


def _ends(better: str, low: float, high: float) -> bool:
    """Return whether a stretch that is good lies where less, more or a zone is better."""
    open_ends = (low == -inf, high == inf)
    return low <= high and open_ends == (better == LESS, better == MORE)


def group_of(phase: str) -> str:
    """Return the name of a phase's figures in a search and in the result file."""
    return phase.removesuffix("_search")


MEASURES = (
    Measure(RUN, "time_ratio", "Time from the signal on, over the reference searcher's", "1", LESS,
            followed=Followed("Needs less time from the signal on", "Needs more time from the signal on",
                              AS_THE_REFERENCE,
                              head="Time / reference", narrow="time / ref.", of=ITS_TIME)),
    Measure(RUN, "signal_lost_share", "Share of the signal search that was avoidable", "1", LESS, percent=True,
            followed=Followed("Loses less of the signal search", "Loses more of the signal search", NONE_LOST,
                              of=SIGNAL_SEARCH)),
    Measure(RUN, "coarse_ratio", "Coarse search over the reference searcher's time", "1", LESS,
            followed=Followed("Needs less time in the coarse search", "Needs more time in the coarse search",
                              AS_THE_REFERENCE,
                              head="Coarse search / reference", narrow="coarse / ref.", of=ITS_TIME)),
    Measure(RUN, "fine_ratio", "Fine search over the reference searcher's time", "1", LESS,
            followed=Followed("Needs less time in the fine search", "Needs more time in the fine search",
                              AS_THE_REFERENCE,
                              head="Fine search / reference", narrow="fine / ref.", of=ITS_TIME)),
    Measure(RUN, "pinpoint_ratio", "Pinpoint over the reference searcher's time", "1", LESS,
            followed=Followed("Strikes sooner", "Needs longer to strike", AS_THE_REFERENCE,
                              head="Pinpoint / reference", narrow="strike / ref.", of=ITS_TIME)),
    Measure(RUN, "wrong_way_lost_share",
            "Lost to the wrong way, over the reference searcher's time", "1", LESS, percent=True,
            followed=Followed("Loses less to the wrong way", "Loses more to the wrong way", NONE_LOST,
                              head="Wrong way / reference", of=ITS_TIME)),
    Measure(RUN, "detour_lost_share", "Lost to detours, over the reference searcher's time", "1", LESS, percent=True,
            followed=Followed("Loses less to detours", "Loses more to detours", NONE_LOST, of=ITS_TIME)),
    Measure(RUN, "standing_lost_share", "Lost standing, over the reference searcher's time", "1", LESS, percent=True,
            followed=Followed("Loses less standing", "Loses more standing", NONE_LOST,
                              head="Standing / reference", of=ITS_TIME)),
    Measure(RUN, "extra_lines_lost_share",
            "Lost to lines beyond one cross, over the reference searcher's time", "1", LESS, percent=True,
            followed=Followed("Loses less to further lines", "Loses more to further lines", NONE_LOST, of=ITS_TIME)),
    Measure(RUN, "off_lowest_lost_share",
            "Lost probing beside the lowest, over the reference searcher's time", "1", LESS, percent=True,
            followed=Followed("Loses less beside the lowest", "Loses more beside the lowest", NONE_LOST, of=ITS_TIME)),
    Measure(RUN, "long_probing_lost_share",
            "Lost probing long, over the reference searcher's time", "1", LESS, percent=True,
            followed=Followed("Loses less probing", "Loses more probing", NONE_LOST, of=ITS_TIME)),
    Measure(SIGNAL, "covered_fraction", "Area covered", "1", NEITHER, scorable=True, printed=True, percent=True),
    Measure(SIGNAL, "overlap_fraction", "Covered more than once", "1", LESS, scorable=True, percent=True),
    Measure(SIGNAL, "duration_s", "Signal search took", "s", LESS, scorable=True, printed=True),
    Measure(SIGNAL, "duration_reference_s", "The reference searcher's time", "s", NEITHER),
    Measure(SIGNAL, "luck_s", "Luck of where it lay (minus: sooner than on average)", "s", NEITHER),
    Measure(COARSE, "walked_m", "Walked", "m", LESS, scorable=True),
    Measure(COARSE, "field_line_m", "Length of the field line", "m", NEITHER),
    Measure(COARSE, "path_ratio", "Walked / field line", "1", LESS, scorable=True, printed=True),
    Measure(COARSE, "off_line_rms_m", "Distance from the field line, rms", "m", LESS, scorable=True),
    Measure(COARSE, "wrong_way_m", "Wrong way, ground on the way out", "m", LESS, scorable=True, printed=True),
    Measure(COARSE, "wrong_way_s", "Wrong way, time on the way out", "s", LESS, scorable=True),
    Measure(COARSE, "turnaround_s", "Until rising readings were acted on", "s", LESS, scorable=True, printed=True,
            followed=Followed("Turns back sooner", "Turns back later",
                              SOON_ENOUGH_S, head="Until turned back", narrow="turns back")),
    Measure(COARSE, "standing_s", "Standing", "s", LESS, scorable=True, printed=True),
    Measure(COARSE, "speed_at_10_m", "Pace at 10 m", "m/s", ZONE, scorable=True, printed=True),
    Measure(RUN, "pace_at_10_m", "Pace at 10 m over the reference's", "1", ZONE,
            followed=Followed("Goes slower at 10 m", "Goes faster at 10 m", NEAR_THE_REFERENCE, of=ITS_PACE)),
    Measure(COARSE, "speed_at_3_m", "Pace at 3 m", "m/s", ZONE, scorable=True, printed=True),
    Measure(RUN, "pace_at_3_m", "Pace at 3 m over the reference's", "1", ZONE,
            followed=Followed("Slows earlier", "Goes faster into the last metres", NEAR_THE_REFERENCE,
                              head="Pace at 3 m / reference", narrow="pace 3 m / ref.", of=ITS_PACE)),
    Measure(FINE, "duration_s", "Fine search took", "s", LESS, scorable=True, printed=True),
    Measure(FINE, "crossing_angle_deg", "Crossing angle of the bracket", "deg", MORE, scorable=True, printed=True,
            followed=Followed("Crosses at a more oblique angle", "Crosses closer to a right angle", SQUARE_ENOUGH_DEG)),
    # The reach is better wider up to the reference's arm; hardly anybody goes beyond.
    Measure(FINE, "reach_m", "Reach of the bracket", "m", MORE, scorable=True, printed=True,
            followed=Followed("Brackets narrower", "Brackets wider", WIDE_ENOUGH_M)),
    Measure(FINE, "overshoot_m", "Reading rise before turning", "m", ZONE, scorable=True),
    Measure(FINE, "lowest_reading_m", "Lowest reading", "m", NEITHER, scorable=True),
    Measure(FINE, "ended_on_lowest_m", "Last reading above the lowest", "m", LESS, scorable=True, printed=True,
            followed=Followed("Ends closer to the lowest reading", "Ends farther from the lowest reading",
                              LOW_ENOUGH_M)),
    Measure(FINE, "final_offset_m", "End of fine search to transmitter", "m", LESS, scorable=True, printed=True,
            followed=Followed("Ends the fine search closer", "Ends the fine search farther off", CLOSE_ENOUGH_M)),
    Measure(FINE, "final_offset_physics_m", "of it, from the field's shape", "m", NEITHER, printed=True),
    Measure(FINE, "crossing_bounds_deg", "Crossing angle, as far as it is known", "deg", MORE, always=False),
    Measure(FINE, "oblique_share", "How likely the crossing is oblique (1: certain)", "1", LESS, always=False),
    Measure(FINE, "lines_seen", "Lines that can be told apart", "1", NEITHER, always=False),
    Measure(FINE, "walked_m", "Walked in the fine search", "m", LESS, always=False),
    Measure(FINE, "pace_mps", "Pace in the fine search", "m/s", ZONE, scorable=True, always=False),
    Measure(PINPOINT, "duration_s", "Pinpoint took", "s", LESS, scorable=True, printed=True),
    Measure(PINPOINT, "probe_offset_m", "Probe hit to transmitter", "m", LESS, scorable=True, printed=True,
            followed=Followed("Strikes closer", "Strikes farther off", STRUCK_M)),
    Measure(RUN, "score", "Score", "points", MORE,
            followed=Followed("Scores lower", "Scores higher", FULL_SCORE, head="Score", narrow="score")),
)  # fmt: skip
"""In the order of the pages, the sheet and the season; those of a run beside what they are made of."""

BY_NAME = {m.name: m for m in MEASURES}
GROUPS = {group_of(phase): phase for phase in PHASES}
"""Group of a search's figures -> phase, in order."""
SCORABLE = tuple(m.name for m in MEASURES if m.scorable)
"""What a deduction or a penalty of a rule sheet may rest on."""
PRINTED = tuple(m for m in MEASURES if m.printed)
FOLLOWED = tuple((m, m.followed) for m in MEASURES if m.followed is not None)
"""What is followed over a season, with its words."""


def of_phase(phase: str) -> tuple[Measure, ...]:
    """Return the measures of a phase or of RUN, in order."""
    return tuple(m for m in MEASURES if m.phase == phase)


def measure_of(group: str, key: str) -> Measure | None:
    """Return a measure by group and key; None where the table has none, as of a result of another version."""
    return BY_NAME.get(f"{group}.{key}")
