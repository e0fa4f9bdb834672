"""How the times of a log lie to those of a track; pure."""

import math
from dataclasses import replace

from analyzer.workspace.intake.model import IncomingFile

Span = tuple[float, float]
MOSTLY = 0.5
HOUR_S, HALF_HOUR_S, FARTHEST_ZONE_S = 3600.0, 1800.0, 50_400.0
"""Zones differ by whole or half hours, and the farthest one is 14 hours from UTC."""


def share(file: IncomingFile, track: IncomingFile) -> float:
    """Return how much of a file's time lies within a track, 0 to 1."""
    if file.begin_s is None or file.end_s is None or track.begin_s is None or track.end_s is None:
        return 0.0
    length = file.end_s - file.begin_s
    shared = min(file.end_s, track.end_s) - max(file.begin_s, track.begin_s)
    return (1.0 if shared >= 0.0 else 0.0) if length == 0.0 else max(shared / length, 0.0)


def apart_s(file: IncomingFile, track: IncomingFile) -> float:
    """Return the seconds between a file and a track, 0 where they overlap or one has no time of day."""
    if file.begin_s is None or file.end_s is None or track.begin_s is None or track.end_s is None:
        return 0.0
    return max(file.begin_s - track.end_s, track.begin_s - file.end_s, 0.0)


def hours_off(file: IncomingFile, track: IncomingFile) -> float:
    """Return the whole or half hours that bring the times of a file to a track, 0 where none do or it is there."""
    if file.begin_s is None or file.end_s is None or track.begin_s is None or track.end_s is None:
        return 0.0
    middle_s = (track.begin_s + track.end_s - file.begin_s - file.end_s) / 2.0
    shift_s = round(middle_s / HALF_HOUR_S) * HALF_HOUR_S
    if not 0.0 < abs(shift_s) <= FARTHEST_ZONE_S:
        return 0.0
    moved = replace(file, begin_s=file.begin_s + shift_s, end_s=file.end_s + shift_s)
    return shift_s / HOUR_S if share(moved, track) >= MOSTLY else 0.0


def by_zone(file: IncomingFile, track: IncomingFile) -> str:
    """Return in words by how many whole or half hours a file is off a track, "" where that does not bring it there."""
    hours = hours_off(file, track)
    if not hours:
        return ""
    early = "early" if hours > 0.0 else "late"
    return f"{abs(hours):g} h too {early}, as with a wrong time zone: choose below to take it with that mended"


def minutes(seconds: float) -> str:
    """Return a time apart in words, in the largest unit of which there are two."""
    if seconds < 7200.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds / HOUR_S:.0f} h" if seconds < 48.0 * HOUR_S else f"{seconds / 24.0 / HOUR_S:.0f} days"


def same_part(a: IncomingFile, b: IncomingFile) -> bool:
    """Return whether two tracks of the same bytes are the same run, too; those that were cut from one never are."""
    return (not a.cut_for or a.cut_for != b.cut_for) and shared_mostly(a.window_s, b.window_s)


def shared_mostly(a: Span | None, b: Span | None) -> bool:
    """Return whether two parts of a recording share more than half of the shorter; None is the whole of it."""
    if a is None or b is None:
        return True
    if not all(math.isfinite(t) for t in (*a, *b)):
        return True
    return min(a[1], b[1]) - max(a[0], b[0]) > 0.5 * min(a[1] - a[0], b[1] - b[0])


def together(a: IncomingFile, b: IncomingFile) -> bool:
    """Return whether two tracks were recorded at the same time for most of the shorter one."""
    if a.begin_s is None or a.end_s is None or b.begin_s is None or b.end_s is None:
        return False
    shared = min(a.end_s, b.end_s) - max(a.begin_s, b.begin_s)
    return shared > MOSTLY * min(a.end_s - a.begin_s, b.end_s - b.begin_s)
