"""What is followed over a season, what is better of it, and the words for its change."""

from analyzer.seasons.model import LESS, MORE, ONE, SeasonMeasure

MEASURES = (
    SeasonMeasure("time_ratio", "Time from the signal on, over the reference searcher's", "1", LESS,
                  "Needs less time from the signal on", "Needs more time from the signal on"),
    SeasonMeasure("signal_lost_share", "Share of the signal search that was avoidable", "1", LESS,
                  "Loses less of the signal search", "Loses more of the signal search"),
    SeasonMeasure("coarse_ratio", "Coarse search over the reference searcher's time", "1", LESS,
                  "Needs less time in the coarse search", "Needs more time in the coarse search"),
    SeasonMeasure("fine_ratio", "Fine search over the reference searcher's time", "1", LESS,
                  "Needs less time in the fine search", "Needs more time in the fine search"),
    SeasonMeasure("pinpoint_ratio", "Pinpoint over the reference searcher's time", "1", LESS,
                  "Strikes sooner", "Needs longer to strike"),
    SeasonMeasure("path_ratio", "Walked over the field line's length", "1", LESS,
                  "Keeps closer to the length of the field line", "Walks farther than the field line"),
    SeasonMeasure("wrong_way_share", "Wrong way per metre of field line", "1", LESS,
                  "Goes less far the wrong way", "Goes farther the wrong way"),
    SeasonMeasure("turnaround_s", "Until rising readings were acted on", "s", LESS,
                  "Turns back sooner", "Turns back later"),
    SeasonMeasure("standing_share", "Share of the coarse search spent standing", "1", LESS,
                  "Stands less", "Stands more"),
    SeasonMeasure("pace_at_10_m", "Pace at 10 m over the reference's", "1", ONE,
                  "Goes slower at 10 m", "Goes faster at 10 m"),
    SeasonMeasure("pace_at_3_m", "Pace at 3 m over the reference's", "1", ONE,
                  "Slows earlier", "Goes faster into the last metres"),
    SeasonMeasure("reach_m", "Reach of the bracket", "m", MORE,
                  "Brackets narrower", "Brackets wider"),
    SeasonMeasure("crossing_angle_deg", "Crossing angle of the bracket", "deg", MORE,
                  "Crosses at a more oblique angle", "Crosses closer to a right angle"),
    SeasonMeasure("ended_on_lowest_m", "Last reading above the lowest", "m", LESS,
                  "Ends closer to the lowest reading", "Ends farther from the lowest reading"),
    SeasonMeasure("final_offset_m", "End of the fine search to the transmitter", "m", LESS,
                  "Ends the fine search closer", "Ends the fine search farther off"),
    SeasonMeasure("probe_offset_m", "Probe hit to the transmitter", "m", LESS,
                  "Strikes closer", "Strikes farther off"),
    SeasonMeasure("score", "Score", "points", MORE,
                  "Scores lower", "Scores higher"),
)  # fmt: skip
"""In the order of the pages. The reach is better wider up to the reference's arm; hardly anybody goes beyond."""
BY_KEY = {m.key: m for m in MEASURES}
