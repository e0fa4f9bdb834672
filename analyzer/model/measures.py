"""The table of measures: what a search and a run are measured by, one entry each, and nothing of it anywhere else.

Result keys, what a rule sheet may score, titles and units on the pages, the season's measures, the printed sheet, the
accuracy table and the glossary are read off `MEASURES`. How each is taken is described in docs/methods/measures.md.

Measures of a phase are taken of every search, by `analyzer.engine.measures`. Those of `RUN` are made of them, in
`analyzer.engine.run_line`: over all searches of a run and related to the reference searcher, so that a drill's
difficulty drops out. `MeasuredSearch.extra` holds no measures: those are working values of the findings, in no result.
"""

from dataclasses import dataclass

from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL

RUN = "run"
"""Stands for the phase of a measure that is of a whole run."""
LESS, MORE, ZONE, NEITHER = "less", "more", "zone", "neither"
"""What is better of a measure: less, more, a zone (nearer to the reference; of a ratio to it: to 1), or neither."""


@dataclass(frozen=True, slots=True)
class Followed:
    """How a measure stands in a season.

    `falls`, `rises`: what it says of a person ("Turns back sooner") when the measure falls or rises. `head`, `narrow`:
    its column's head in a group's table, on the page and across a terminal; "" where that table leaves it out.
    """

    falls: str
    rises: str
    head: str = ""
    narrow: str = ""


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


def group_of(phase: str) -> str:
    """Return the name of a phase's figures in a search and in the result file."""
    return phase.removesuffix("_search")


MEASURES = (
    Measure(RUN, "time_ratio", "Time from the signal on, over the reference searcher's", "1", LESS,
            followed=Followed("Needs less time from the signal on", "Needs more time from the signal on",
                              head="Time / reference", narrow="time / ref.")),
    Measure(RUN, "signal_lost_share", "Share of the signal search that was avoidable", "1", LESS,
            followed=Followed("Loses less of the signal search", "Loses more of the signal search")),
    Measure(RUN, "coarse_ratio", "Coarse search over the reference searcher's time", "1", LESS,
            followed=Followed("Needs less time in the coarse search", "Needs more time in the coarse search",
                              head="Coarse search / reference", narrow="coarse / ref.")),
    Measure(RUN, "fine_ratio", "Fine search over the reference searcher's time", "1", LESS,
            followed=Followed("Needs less time in the fine search", "Needs more time in the fine search",
                              head="Fine search / reference", narrow="fine / ref.")),
    Measure(RUN, "pinpoint_ratio", "Pinpoint over the reference searcher's time", "1", LESS,
            followed=Followed("Strikes sooner", "Needs longer to strike",
                              head="Pinpoint / reference", narrow="strike / ref.")),
    Measure(SIGNAL, "covered_fraction", "Area covered", "1", NEITHER, scorable=True, printed=True, percent=True),
    Measure(SIGNAL, "overlap_fraction", "Covered more than once", "1", LESS, scorable=True, percent=True),
    Measure(SIGNAL, "duration_s", "Signal search took", "s", LESS, scorable=True, printed=True),
    Measure(SIGNAL, "duration_reference_s", "The reference searcher's time", "s", NEITHER),
    Measure(SIGNAL, "luck_s", "Luck of where it lay (minus: sooner than on average)", "s", NEITHER),
    Measure(COARSE, "walked_m", "Walked", "m", LESS, scorable=True),
    Measure(COARSE, "field_line_m", "Length of the field line", "m", NEITHER),
    Measure(COARSE, "path_ratio", "Walked / field line", "1", LESS, scorable=True, printed=True,
            followed=Followed("Keeps closer to the length of the field line", "Walks farther than the field line",
                              head="Walked / line")),
    Measure(COARSE, "off_line_rms_m", "Distance from the field line, rms", "m", LESS, scorable=True),
    Measure(COARSE, "wrong_way_m", "Wrong way, ground on the way out", "m", LESS, scorable=True, printed=True),
    Measure(RUN, "wrong_way_share", "Wrong way per metre of field line", "1", LESS,
            followed=Followed("Goes less far the wrong way", "Goes farther the wrong way")),
    Measure(COARSE, "wrong_way_s", "Wrong way, time on the way out", "s", LESS, scorable=True),
    Measure(COARSE, "turnaround_s", "Until rising readings were acted on", "s", LESS, scorable=True, printed=True,
            followed=Followed("Turns back sooner", "Turns back later", head="Until turned back", narrow="turns back")),
    Measure(COARSE, "standing_s", "Standing", "s", LESS, scorable=True, printed=True),
    Measure(RUN, "standing_share", "Share of the coarse search spent standing", "1", LESS,
            followed=Followed("Stands less", "Stands more", head="Standing")),
    Measure(COARSE, "speed_at_10_m", "Pace at 10 m", "m/s", ZONE, scorable=True, printed=True),
    Measure(RUN, "pace_at_10_m", "Pace at 10 m over the reference's", "1", ZONE,
            followed=Followed("Goes slower at 10 m", "Goes faster at 10 m")),
    Measure(COARSE, "speed_at_3_m", "Pace at 3 m", "m/s", ZONE, scorable=True, printed=True),
    Measure(RUN, "pace_at_3_m", "Pace at 3 m over the reference's", "1", ZONE,
            followed=Followed("Slows earlier", "Goes faster into the last metres",
                              head="Pace at 3 m / reference", narrow="pace 3 m / ref.")),
    Measure(FINE, "duration_s", "Fine search took", "s", LESS, scorable=True, printed=True),
    Measure(FINE, "crossing_angle_deg", "Crossing angle of the bracket", "deg", MORE, scorable=True, printed=True,
            followed=Followed("Crosses at a more oblique angle", "Crosses closer to a right angle")),
    # The reach is better wider up to the reference's arm; hardly anybody goes beyond.
    Measure(FINE, "reach_m", "Reach of the bracket", "m", MORE, scorable=True, printed=True,
            followed=Followed("Brackets narrower", "Brackets wider")),
    Measure(FINE, "overshoot_m", "Reading rise before turning", "m", ZONE, scorable=True),
    Measure(FINE, "lowest_reading_m", "Lowest reading", "m", NEITHER, scorable=True),
    Measure(FINE, "ended_on_lowest_m", "Last reading above the lowest", "m", LESS, scorable=True, printed=True,
            followed=Followed("Ends closer to the lowest reading", "Ends farther from the lowest reading")),
    Measure(FINE, "final_offset_m", "End of fine search to transmitter", "m", LESS, scorable=True, printed=True,
            followed=Followed("Ends the fine search closer", "Ends the fine search farther off")),
    Measure(FINE, "final_offset_physics_m", "of it, where physics puts the lowest", "m", NEITHER, printed=True),
    Measure(FINE, "crossing_bounds_deg", "Crossing angle, as far as it is known", "deg", MORE, always=False),
    Measure(FINE, "oblique_share", "How likely the crossing is oblique (1: certain)", "1", LESS, always=False),
    Measure(FINE, "lines_seen", "Lines that can be told apart", "1", NEITHER, always=False),
    Measure(FINE, "walked_m", "Walked in the fine search", "m", LESS, always=False),
    Measure(FINE, "pace_mps", "Pace in the fine search", "m/s", ZONE, scorable=True, always=False),
    Measure(PINPOINT, "duration_s", "Pinpoint took", "s", LESS, scorable=True, printed=True),
    Measure(PINPOINT, "probe_offset_m", "Probe hit to transmitter", "m", LESS, scorable=True, printed=True,
            followed=Followed("Strikes closer", "Strikes farther off")),
    Measure(RUN, "score", "Score", "points", MORE,
            followed=Followed("Scores lower", "Scores higher", head="Score", narrow="score")),
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
