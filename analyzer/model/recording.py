"""One run as it was recorded. All times are seconds from `Recording.time_zero`; positions are horizontal metres
(east, north) from the drill's origin."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.model.arrays import FloatArray, freeze_fields

LEAST_HOLE_S, HOLE_STEPS = 15.0, 5.0
"""A hole in a recording is longer than both: seconds, and median steps of the file itself. Our choice."""

ROLLOVER_WEEKS = 1024
"""Receivers count weeks in ten bits; after so many, those that do not mind begin anew (IS-GPS-200, 20.3.3.3.1.1)."""
WEEKS = (0, ROLLOVER_WEEKS, 2 * ROLLOVER_WEEKS, 3 * ROLLOVER_WEEKS)
"""What the dates of a track may lack."""
FARTHEST_ZONE_H, ZONE_STEP_H = 14.0, 0.25
"""Zones are at most so many hours from UTC, and a multiple of so much."""

MARK_STEP_S = 5e-4  # marks are written to milliseconds
HELD_S = 2.0  # before and after a hold, in which a searcher slows down and sets off again; our estimate
PROBE = "probe"
SPLIT_MARKS = (PROBE, "marking_end", "dig_begin", "airway_free")
"""Moments that bound no phase: a probing without a hit, and what follows a hit."""
MARKS = ("start", "first_reading", "fine_start", "probe_hit", "finish", "hold_begin", "hold_end", *SPLIT_MARKS)
READINGS_CLOCK = "readings"
CLOCKS = ("track", READINGS_CLOCK)
"""Whose clock the marks with elapsed time share."""


Decision = bool | str | tuple[str, ...]
"""What a coach decided of a run: yes or no, or in words, or of which things."""


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """Fixes in time order, no two at one time. Arrays of shape (n,).

    `sigma_m`: one-axis standard deviation stated by the recorder, NaN where not stated; `hdop` likewise.
    `resolution_m`: step of the last stored digit of a coordinate, 0 where finer than 1 mm.
    `survey_grade`: the stated sigma is 0.3 m or better on most fixes.
    """

    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    elevation_m: FloatArray
    sigma_m: FloatArray
    hdop: FloatArray
    resolution_m: float = 0.0
    survey_grade: bool = False

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, **dict.fromkeys(("time_s", "east_m", "north_m", "elevation_m", "sigma_m", "hdop"), (n,)))


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The distance figures shown, in time order, on the reading clock (its offset to the track is unknown).

    `transmitter`: id or None per reading. `steer_deg`: direction shown, right positive, relative to the
    receiver; `heading_deg`: true bearing the receiver points to; NaN where not logged.
    `by_hand`: times are elapsed times from the start mark.
    """

    time_s: FloatArray
    reading_m: FloatArray
    transmitter: tuple[str | None, ...]
    steer_deg: FloatArray
    heading_deg: FloatArray
    by_hand: bool = False

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        n = len(self.time_s)
        freeze_fields(self, **dict.fromkeys(("time_s", "reading_m", "steer_deg", "heading_deg"), (n,)))
        if len(self.transmitter) != n:
            raise ValueError(f"transmitter must have {n} entries; received {len(self.transmitter)}")


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment noted during the run; `mark` is one of MARKS. `on_readings_clock`: its time is that of the readings'
    clock, whose offset to the track the fit estimates."""

    time_s: float
    mark: str
    transmitter: str | None = None
    note: str = ""
    on_readings_clock: bool = False


@dataclass(frozen=True, slots=True)
class Bound:
    """An end of a run's window. `at_s`: seconds since 1970 UTC, or since the first fix of the file where `elapsed`."""

    at_s: float
    elapsed: bool


@dataclass(frozen=True, slots=True)
class RunInfo:
    """What `run.toml` says of a run; the defaults are those of a run without one.

    `zone`: IANA name or fixed offset of times in the run's files that bear none. `window`: which part of the files the
    run is. `clock`: one of CLOCKS, for marks with elapsed time that do not say. `receiver`: one of the drill's.
    `weeks`: added to the dates of the track; `track_hours`, `readings_hours`, `marks_hours`: to the times of day of
    that file. `readings_sheet`, `marks_sheet`: which sheet of a workbook with several logs is meant, "" for the only
    one. `title`: what people call the run. `note`, `praised`, `set_aside`: the coach's words and decisions. No figure
    depends on these four.
    """

    searcher: str = ""
    bib: str = ""
    antennas: int = 3
    carry_height_m: float = 1.0
    fine_height_m: float = 0.1
    recorder: str = ""
    zone: str = ""
    window: tuple[Bound, Bound] | None = None
    clock: str = "track"
    receiver: str = ""
    weeks: int = 0
    track_hours: float = 0.0
    readings_hours: float = 0.0
    marks_hours: float = 0.0
    readings_sheet: str = ""
    marks_sheet: str = ""
    title: str = ""
    note: str = ""
    praised: Decision = False
    set_aside: Decision = False


@dataclass(frozen=True, slots=True)
class RunWords:
    """What people say of a run, as its `run.toml` has it now; see `RunInfo`. A result file does not hold it."""

    title: str = ""
    bib: str = ""
    note: str = ""
    praised: Decision = False
    set_aside: Decision = False


NO_WORDS = RunWords()


def words_of(info: RunInfo) -> RunWords:
    """Return the words of a run's settings."""
    return RunWords(info.title, info.bib, info.note, info.praised, info.set_aside)


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file that was read: its hash, its rows, and what was set aside, by reason. `told`: how it was read, where
    that is a choice or not as it is written."""

    role: str
    name: str
    sha256: str
    rows: int
    used: int
    dropped: tuple[tuple[str, int], ...] = ()
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """All that was recorded of one run. `not_read`: names of further files in its folder that nobody reads."""

    run_id: str
    info: RunInfo
    time_zero: dt.datetime
    track: Track
    readings: Readings | None
    marks: tuple[Mark, ...]
    inputs: tuple[InputFile, ...] = field(default=())
    not_read: tuple[str, ...] = ()


def on_track_clock(recording: Recording, offset_s: float | None) -> Recording:
    """Return a recording with its marks on the track's clock; `offset_s` is added to those on the readings'
    clock, which are left out where it is None."""
    if not any(mark.on_readings_clock for mark in recording.marks):
        return recording
    moved = [
        replace(mark, time_s=mark.time_s + (offset_s or 0.0), on_readings_clock=False)
        if mark.on_readings_clock
        else mark
        for mark in recording.marks
        if offset_s is not None or not mark.on_readings_clock
    ]
    return replace(recording, marks=tuple(sorted(moved, key=lambda mark: mark.time_s)))


def longest_step_s(time_s: FloatArray) -> float:
    """Return how long a step between fixes at times (n,) may be before it is a hole, by the rhythm of the file."""
    steps = np.diff(time_s)
    return max(LEAST_HOLE_S, HOLE_STEPS * float(np.median(steps))) if steps.size else LEAST_HOLE_S


def holes(time_s: FloatArray) -> tuple[tuple[float, float], ...]:
    """Return from when to when a recording with fixes at times (n,) has a hole, in order."""
    wide = np.flatnonzero(np.diff(time_s) > longest_step_s(time_s))
    return tuple((float(time_s[i]), float(time_s[i + 1])) for i in wide)


def surveyed_point(note: str) -> tuple[float, float] | None:
    """Return the surveyed point, horizontal east and north in metres, that the note of a hold names; None where it is
    other words. The numbers are as written, whatever they are."""
    parts = note.replace(",", " ").split()
    try:
        east_m, north_m = map(float, parts)
    except ValueError:
        return None
    return east_m, north_m


def holds(marks: Sequence[Mark]) -> tuple[tuple[Mark, Mark], ...]:
    """Return the marks between which the searcher was held, in order; those on the readings' clock are left out."""
    out, begin = [], None
    for mark in sorted((m for m in marks if not m.on_readings_clock), key=lambda m: m.time_s):
        if mark.mark == "hold_begin":
            begin = mark
        elif mark.mark == "hold_end" and begin is not None:
            out.append((begin, mark))
            begin = None
    return tuple(out)


def off_the_record(recording: Recording) -> tuple[tuple[float, float], ...]:
    """Return from when to when nothing is judged: holes of the recording and holds, in order and apart."""
    out: list[tuple[float, float]] = []
    held = ((begin.time_s - HELD_S, end.time_s + HELD_S) for begin, end in holds(recording.marks))
    for begin, end in sorted((*holes(recording.track.time_s), *held)):
        if out and begin <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], end))
        else:
            out.append((begin, end))
    return tuple(out)
