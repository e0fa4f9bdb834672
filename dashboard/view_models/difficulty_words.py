"""How hard a drill is, in words. No Dash."""

from analyzer.model.difficulty import DrillDifficulty, SearchOutlook, Surroundings
from analyzer.model.drill import Drill
from analyzer.model.figure import Figure, Measured
from dashboard.view_models.drill_form import EXAMPLE_ORIGIN
from dashboard.wording import clock, number

EASY_BELOW, HARD_FROM = 1.1, 1.25
"""Field line over straight way: our own bounds, no source. 1 leads straight in, 1.45 is the most there is."""
FAR_LOWEST_M = 0.15
STALE = "Some fields are wrong, so the plan still shows the drill as it was. What has to be mended:"


def difficulty(ratio: float) -> str:
    """Return the word for a field line of that length over the straight way."""
    return "easy" if ratio < EASY_BELOW else "medium" if ratio < HARD_FROM else "hard"


def times(ratio: float) -> str:
    """Return a ratio in words, to the hundredth."""
    return f"{ratio:.2f} times the straight line"


def headline(drill_difficulty: DrillDifficulty) -> str:
    """Return the answer to how hard the drill is from the start, for the first transmitter found."""
    search = drill_difficulty.searches[0]
    return f"{_from(search, drill_difficulty)} is {_long(search.ratio)}: {_judged(search.ratio)}."


def _from(search: SearchOutlook, drill_difficulty: DrillDifficulty) -> str:
    if len(search.walk_m) > 1:
        return f"From where {search.transmitter} is first heard, the field line to it"
    return (
        "The field line from the start"
        if len(drill_difficulty.searches) == 1
        else (f"The field line from the start to {search.transmitter}")
    )


def _long(ratio: Measured) -> str:
    if not isinstance(ratio, Figure):
        return "not known"
    if ratio.high - ratio.low > 0.005:
        return f"between {ratio.low:.2f} and {times(ratio.high)}, for its antenna axis is not given"
    return times(ratio.value)


def _judged(ratio: Measured) -> str:
    if not isinstance(ratio, Figure):
        return "not assessable"
    words = list(dict.fromkeys(difficulty(value) for value in (ratio.low, ratio.high)))
    return " to ".join(words)


def time_line(drill_difficulty: DrillDifficulty) -> str:
    """Return the reference searcher's time for the drill."""
    count = len(drill_difficulty.searches)
    return f"The reference searcher needs {clock(drill_difficulty.seconds)} min" + (
        f" for all {count}." if count > 1 else "."
    )


def search_line(search: SearchOutlook, reach_m: float) -> str:
    """Return how the search for one transmitter goes, with its lengths and times."""
    r, parts = search.reference, []
    if r.signal_s is not None and search.heard:
        parts.append(
            f"{number(search.walk_length_m)} m along the strips until it is heard {reach_m:g} m away "
            f"({r.signal_s:.0f} s)"
        )
    elif r.signal_s is not None:
        parts.append(
            f"{number(search.walk_length_m)} m along all strips ({r.signal_s:.0f} s), and still it is not "
            f"heard within {reach_m:g} m: it lies too far outside"
        )
    length = search.field_line_length_m
    if isinstance(length, Figure) and r.coarse_s is not None:
        spread = "" if length.high - length.low < 0.05 else f" ({number(length.low)} to {number(length.high)} m)"
        parts.append(
            f"{number(length.value)} m{spread} along the field line where straight would be "
            f"{number(search.straight_length_m)} m ({r.coarse_s:.0f} s)"
        )
    parts.append(f"fine search ({r.fine_s or 0.0:.0f} s) and pinpoint ({r.pinpoint_s or 0.0:.0f} s)")
    return f"{search.transmitter}: {'; '.join(parts)}."


def around_line(around: Surroundings, reach_m: float) -> str:
    """Return what a transmitter is like from all sides."""
    if not around.axis_known:
        return (
            f"{around.transmitter}: without its antenna axis neither field lines nor readings can be drawn; "
            "fill in bearing and tilt once it is known."
        )
    words = f"{around.transmitter}, from all sides at {reach_m:g} m: the field line is "
    if around.ratio_high - around.ratio_low < 0.005:
        words += f"{times(around.ratio_high)} ({difficulty(around.ratio_high)})"
    else:
        words += (
            f"{around.ratio_low:.2f} to {times(around.ratio_high)} ({difficulty(around.ratio_low)} to "
            f"{difficulty(around.ratio_high)})"
        )
    if around.lowest_away_m >= FAR_LOWEST_M:
        words += f"; the lowest reading lies {number(around.lowest_away_m)} m beside it"
    return words + "."


def warnings(drill: Drill, drill_difficulty: DrillDifficulty) -> list[str]:
    """Return what may be meant so, and may not."""
    found = [
        f"{a.transmitter} lies outside the area, {number(a.outside_m)} m from its edge."
        for a in drill_difficulty.around
        if a.outside_m > 0.0
    ]
    if drill.corners_m is None:
        found.append("Without an area there are no strips, and how it was covered is not measured.")
    origin = drill.origin
    if (origin.latitude, origin.longitude) == (float(EXAMPLE_ORIGIN["latitude"]), float(EXAMPLE_ORIGIN["longitude"])):
        found.append("The origin is still that of the example: put in your own before anyone records a track.")
    return found
