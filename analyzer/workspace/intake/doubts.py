"""Whether a track can belong to a drill, by where and on which day it was recorded; pure."""

import datetime as dt
from dataclasses import dataclass

from analyzer.files.tracks.day import SECONDS_PER_DEGREE
from analyzer.files.tracks.track import MAX_FROM_DRILL_M, metres_between, shown_distance
from analyzer.model.recording import ROLLOVER_WEEKS, WEEKS
from analyzer.workspace.intake.model import DrillPlace, IncomingFile

MOST_DAYS = 1
"""A track may be of the day before or after the drill's: our choice, because drills last into a night, and the day at
a place is told from its longitude alone."""
ROLLOVER_DAYS = ROLLOVER_WEEKS * 7
MOST_ROLLOVERS = len(WEEKS) - 1


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a drill is (degrees) and its day, None and "" where not known."""

    latitude: float | None = None
    longitude: float | None = None
    day: str = ""


def spot_of(place: DrillPlace, new: IncomingFile | None) -> Spot:
    """Return where the chosen drill is: one of the workspace, or a new one of a file."""
    chosen = place if new is None else new
    return Spot(chosen.latitude, chosen.longitude, chosen.day)


def distance_m(track: IncomingFile, spot: Spot) -> float | None:
    """Return the metres from the middle of a track to the drill, None where one of them has no place on Earth."""
    if track.latitude is None or track.longitude is None or spot.latitude is None or spot.longitude is None:
        return None
    return metres_between((track.latitude, track.longitude), (spot.latitude, spot.longitude))


def distance_words(track: IncomingFile, spot: Spot) -> str:
    """Return how far a track is from the drill in words, "" where that is not known."""
    metres = distance_m(track, spot)
    return "" if metres is None else f"{shown_distance(metres)} from the drill"


def doubts(track: IncomingFile, spot: Spot) -> str:
    """Return why a track seems not to belong to a drill and what to do, "" where nothing speaks against it."""
    return _of_place(track, spot) or _of_day(track, spot)  # who is elsewhere needs no question about the day


def _of_place(track: IncomingFile, spot: Spot) -> str:
    metres = distance_m(track, spot)
    if metres is None or metres <= MAX_FROM_DRILL_M:
        return ""
    return (
        f"It lies {shown_distance(metres)} from the drill, and no run is measured beyond {MAX_FROM_DRILL_M / 1000:g} km"
        ": choose its own drill, or leave it out."
    )


def weeks_early(track: IncomingFile, spot: Spot) -> int:
    """Return the weeks, whole rounds of a receiver's counter, by which a track is before the drill's day; else 0."""
    recorded = _recorded(track, spot)
    if recorded is None or not spot.day:
        return 0
    days = (dt.date.fromisoformat(spot.day) - recorded).days
    rounds = round(days / ROLLOVER_DAYS)
    fits = 1 <= rounds <= MOST_ROLLOVERS and abs(days - rounds * ROLLOVER_DAYS) <= MOST_DAYS
    return rounds * ROLLOVER_WEEKS if fits else 0


def _of_day(track: IncomingFile, spot: Spot) -> str:
    recorded = _recorded(track, spot)
    if recorded is None or not spot.day:
        return ""
    if abs((dt.date.fromisoformat(spot.day) - recorded).days) <= MOST_DAYS:
        return ""
    weeks = weeks_early(track, spot)
    if weeks:
        return (
            f"It says {recorded}, {weeks} weeks before the drill's day, {spot.day}, as receivers do that have "
            "lost count of the weeks: choose below to take it with these added; or put it in as it is, or leave it out."
        )
    return (
        f"It was recorded on {recorded}, and the drill is of {spot.day}: put it in if one of the two is mistyped or "
        "the recorder's clock was wrong, else leave it out."
    )


def _recorded(track: IncomingFile, spot: Spot) -> dt.date | None:
    """Return the day on which a track was recorded, as clocks there show it, None where it says none."""
    if track.day:
        return dt.date.fromisoformat(track.day)
    if track.begin_s is None:
        return None
    there_s = track.begin_s + (track.longitude or spot.longitude or 0.0) * SECONDS_PER_DEGREE
    return dt.datetime.fromtimestamp(there_s, dt.UTC).date()
