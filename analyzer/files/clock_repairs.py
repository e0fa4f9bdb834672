"""Times that are taken otherwise than they are written, as run.toml says: weeks or hours added, and told; pure."""

from dataclasses import replace

import numpy as np

from analyzer.errors import InputError
from analyzer.files.marks_csv import MarkLog
from analyzer.files.names import MARKS_FILES, RUN_FILE
from analyzer.files.readings_csv import ReadingLog
from analyzer.files.tracks.fixes import Fixes, TrackPart
from analyzer.model.recording import RunInfo

WEEK_S, HOUR_S = 604_800.0, 3600.0
AS_SAID = f"as {RUN_FILE} says"


def weeks_words(weeks: int) -> str:
    """Return what was done to a track that counted its weeks anew."""
    return f"{weeks} weeks added to its dates"


def hours_words(hours: float) -> str:
    """Return what was done to times of a wrong zone."""
    return f"{abs(hours):g} h {'added to' if hours > 0 else 'taken off'} its times"


def repaired_track(fixes: Fixes, info: RunInfo) -> Fixes:
    """Return the fixes of a track with the weeks and hours of run.toml added, told where there are any.

    Raises
    ------
    InputError
        Where the track has no times of day, or no dates, that they could be added to.
    """
    if not info.weeks and not info.track_hours:
        return fixes
    if fixes.elapsed or (info.weeks and not fixes.dated):
        lacks = "its times count from the start" if fixes.elapsed else "it tells times of day and no date"
        key = "weeks" if info.weeks else "track_hours"
        raise _nothing_to_move(fixes.name, key, lacks)
    move_s = info.weeks * WEEK_S + info.track_hours * HOUR_S
    words = [weeks_words(info.weeks)] * bool(info.weeks) + [hours_words(info.track_hours)] * bool(info.track_hours)
    return replace(
        fixes,
        time_s=np.asarray(fixes.time_s) + move_s,
        parts=tuple(TrackPart(p.title, p.begin_s + move_s, p.end_s + move_s) for p in fixes.parts),
        told=(*fixes.told, *(f"{one}, {AS_SAID}" for one in words)),
    )


def repaired_readings(log: ReadingLog | None, info: RunInfo) -> ReadingLog | None:
    """Return a reading log with the hours of run.toml added to its times of day.

    Raises
    ------
    InputError
        Where it has none.
    """
    if log is None or not info.readings_hours:
        return log
    if log.elapsed:
        raise _nothing_to_move(log.name, "readings_hours", "its times count from the start")
    move_s = info.readings_hours * HOUR_S
    return replace(log, readings=tuple(replace(row, time_s=row.time_s + move_s) for row in log.readings))


def repaired_marks(log: MarkLog | None, info: RunInfo, *, name: str) -> MarkLog | None:
    """Return marks with the hours of run.toml added to their times of day; those that count from the start stay. Marks
    in the file of the readings go with these. `name`: of their file.

    Raises
    ------
    InputError
        Where it is a file of their own, and none has a time of day.
    """
    hours = marks_hours(name, info)
    if log is None or not hours:
        return log
    if name in MARKS_FILES and all(mark.elapsed for mark in log.marks):
        raise _nothing_to_move(name, "marks_hours", "its times count from the start")
    move_s = hours * HOUR_S
    marks = tuple(m if m.elapsed else replace(m, time_s=m.time_s + move_s) for m in log.marks)
    return replace(log, marks=marks)


def marks_hours(name: str, info: RunInfo) -> float:
    """Return the hours that are added to marks in the file `name`."""
    return info.marks_hours if name in MARKS_FILES else info.readings_hours


def told_of_log(hours: float) -> tuple[str, ...]:
    """Return what was done to the times of a log, in words; nothing where nothing was."""
    return (f"{hours_words(hours)}, {AS_SAID}",) if hours else ()


def _nothing_to_move(name: str, key: str, lacks: str) -> InputError:
    return InputError(where=f"{RUN_FILE}, {key}", what=f"{name} has nothing to add to: {lacks}", do="take the key away")
