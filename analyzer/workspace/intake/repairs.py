"""What a person may choose of a file whose times are off, and what it means for its run.toml; pure.

Nothing is moved by itself: each offer is one choice of the form, and says in words what it does.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from analyzer.errors import AnalyzerError
from analyzer.files.clock_repairs import HOUR_S, WEEK_S, hours_words, weeks_words
from analyzer.files.times import zone_of
from analyzer.model.recording import FARTHEST_ZONE_H, WEEKS, ZONE_STEP_H
from analyzer.workspace.intake.model import (
    MARKS,
    READINGS,
    UNDECIDED,
    YES,
    CompanionRow,
    IncomingFile,
    Offer,
    Plan,
    RunRow,
)
from analyzer.workspace.intake.spans import MOSTLY, hours_off, share

WEEKS_CHOICE = re.compile(r"weeks:(\d{4})")
HOURS_CHOICE = re.compile(r"hours:(-?\d{1,2}(?:\.\d{1,2})?)")
MOVED_LOG = re.compile(r"(\d+)@(-?\d{1,2}(?:\.\d{1,2})?)")
"""A choice of a log: the track that it belongs to, and the hours that are added to its times."""
ZONE_NEEDED = "its times bear no zone, and nor does the drill's start: choose the zone of its recorder's clock"
Value = str | int | float


def weeks_offer(weeks: int) -> Offer:
    """Return the offer to take a track with weeks added."""
    return Offer(f"weeks:{weeks}", f"put in with {weeks_words(weeks)}")


def moved_by(choice: str) -> tuple[int, float]:
    """Return the weeks and hours that a choice adds to a track, 0 and 0 for another one."""
    weeks, hours = WEEKS_CHOICE.fullmatch(choice), HOURS_CHOICE.fullmatch(choice)
    return (
        int(weeks.group(1)) if weeks and int(weeks.group(1)) in WEEKS else 0,
        _zone_hours(hours.group(1)) if hours else 0.0,
    )


def moved_log(choice: str) -> tuple[str, float]:
    """Return the track that a choice gives a log to, and the hours that it adds to the times of the log."""
    found = MOVED_LOG.fullmatch(choice)
    return (found.group(1), _zone_hours(found.group(2))) if found else (choice, 0.0)


def _zone_hours(text: str) -> float:
    hours = float(text)
    return hours if abs(hours) <= FARTHEST_ZONE_H and not hours % ZONE_STEP_H else 0.0


def as_chosen(file: IncomingFile, choices: Mapping[str, str]) -> IncomingFile:
    """Return a track with its times moved as a person chose."""
    return moved(file, added_s(file.id, choices))


def added_s(track: int, choices: Mapping[str, str]) -> float:
    """Return the seconds that a person adds to the times of a track."""
    weeks, hours = moved_by(choices.get(f"use-{track}", ""))
    return weeks * WEEK_S + hours * HOUR_S


def moved(file: IncomingFile, seconds: float) -> IncomingFile:
    """Return a file with its times moved, and with them the part of a recording that it is."""
    if not seconds or file.begin_s is None or file.end_s is None:
        return file
    part = None if file.window_s is None else (file.window_s[0] + seconds, file.window_s[1] + seconds)
    return replace(file, begin_s=file.begin_s + seconds, end_s=file.end_s + seconds, window_s=part)


def with_offers(
    runs: Sequence[RunRow], companions: Sequence[CompanionRow]
) -> tuple[tuple[RunRow, ...], tuple[CompanionRow, ...]]:
    """Return both with what may be chosen where a log is off a track by whole or half hours.

    The log may be moved, and where all logs that are off one track are off by as much, the track as well.
    """
    logs, hours_of = [], dict[int, set[float]]()
    for row in companions:
        found = {run.track.id: hours_off(row.file, run.track) for run in runs} if row.of == UNDECIDED else {}
        offers = []
        for run in runs:
            hours = found.get(run.track.id, 0.0)
            if hours:
                words = f"{run.name} ({run.track.path}), with {hours_words(hours)}"
                offers.append(Offer(f"{run.track.id}@{hours:g}", words))
                hours_of.setdefault(run.track.id, set()).add(-hours)
        logs.append(replace(row, offers=tuple(offers)))
    tracks = []
    for run in runs:
        hours_set = hours_of.get(run.track.id, set())
        held = any(share(row.file, run.track) >= MOSTLY for row in companions)
        if len(hours_set) == 1 and not held and not run.moved:
            (hours,) = hours_set
            offer = Offer(f"hours:{hours:g}", f"put in with {hours_words(hours)}, to which a log fits then")
            run = replace(run, offers=(*run.offers, offer))
        tracks.append(run)
    return tuple(tracks), tuple(logs)


def moved_words(choice: str) -> str:
    """Return what a choice does to the times of a track, "" for one that does nothing."""
    weeks, hours = moved_by(choice)
    words = weeks_words(weeks) if weeks else hours_words(hours) if hours else ""
    return f"Put in with {words}; the file stays as it came, and run.toml says it." if words else ""


def log_words(hours: float) -> str:
    """Return what a choice does to the times of a log, "" for one that does nothing."""
    return f"Put in with {hours_words(hours)}; the file stays as it came, and run.toml says it." if hours else ""


def valid_move(choice: str) -> str:
    """Return YES for a choice that moves a track, else the choice as it is."""
    return YES if any(moved_by(choice)) else choice


def zoned(
    runs: Sequence[RunRow], companions: Sequence[CompanionRow], zone: str, choices: Mapping[str, str]
) -> tuple[RunRow, ...]:
    """Return the runs with the zone of times that bear none: the person's, else that of their run.toml, else `zone`, of
    the drill's start."""
    out = []
    for row in runs:
        own = [row.track, *(c.file for c in companions if c.of == str(row.track.id))]
        said = choices.get(f"zone-{row.track.id}", "")
        theirs = next((file.zone for file in own if file.zone), "") or zone
        known = zone_known(said)
        asked = any(file.zone_asked for file in own)
        out.append(replace(row, zone=said if known else theirs, zone_asked=asked, zone_said=known and asked))
    return tuple(out)


def zone_known(text: str) -> bool:
    """Return whether a zone is one that run.toml takes."""
    try:
        return bool(text) and zone_of(text) is not None
    except AnalyzerError:
        return False


def keys_of(plan: Plan, row: RunRow) -> dict[str, Value]:
    """Return the keys of run.toml that a person's choices mean for a run; none where none was chosen."""
    weeks, hours = moved_by(row.moved)
    keys: dict[str, Value] = {}
    keys |= {"weeks": weeks} if weeks else {}
    keys |= {"track_hours": hours} if hours else {}
    keys |= {"zone": row.zone} if row.zone_said else {}
    for companion in plan.companions:
        if companion.of == str(row.track.id):
            keys |= log_keys(companion)
    return keys


def log_keys(row: CompanionRow) -> dict[str, Value]:
    """Return the keys of run.toml that a log brings: the hours that it is off, and its sheet."""
    if row.file.kind not in (READINGS, MARKS):
        return {}
    keys: dict[str, Value] = {f"{row.file.kind}_hours": row.hours} if row.hours else {}
    return keys | ({f"{row.file.kind}_sheet": row.file.sheet} if row.file.sheet else {})
