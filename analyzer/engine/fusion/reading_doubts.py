"""Stretches of a log that no place on the path can give: found, named, and left out of the fit.

A robust fit gives single readings that do not fit next to no weight. A whole stretch of them still pulls, above all at
the clock offset, and means something: another transmitter in range, a disturbed receiver, a slip of the pen.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from analyzer.engine.fusion.prepare import reading_sigma
from analyzer.engine.fusion.rows import STUDENT_DOF
from analyzer.model.arrays import FloatArray, IndexArray
from analyzer.model.path import ERRATIC, FARTHER, NEARER, OTHER, FusedPath, ReadingDoubt, UsedReadings
from analyzer.model.recording import Readings, Recording
from analyzer.physics.holding import Held
from analyzer.physics.sensitivity import log_amplitude

NO_WEIGHT = "readings that do not fit the track"
LEAST, LEAST_SHARE = 4, 0.6
"""Readings that do not fit, in number and as a share, that make a stretch. How often runs without anything planted have
one: `python -m analyzer.lab.evaluate.doubts`."""
BETWEEN, BETWEEN_S = 2, 10.0
"""Readings that fit, and seconds without any, over which a stretch goes on; our choice."""
ONE_SIDE = 0.85  # share of the misfits with the same sign from which on they are not called erratic; our choice
MOST_SHARE = 0.4
"""A log with more of its readings in such stretches is not of this run, or the drill is wrong: it stays as it is."""
TWO_ANTENNAS = 0.2  # how far ln(reading) of two antennas may be off that of three, one standard deviation; our choice
MARGIN_S = 15.0  # around a stretch, left out of the second fit and looked at again after it; our choice
MOST_GROWN = 0.6  # share of a log that may be left out of the second fit
OTHER_FITS = 0.25  # median |ln| misfit to another transmitter at which the log names the wrong one; our choice


class Limits(NamedTuple):
    """Standard deviations from which a reading counts as one that does not fit, and that one of a stretch must have."""

    each: float
    worst: float


FIRST, AGAIN = Limits(3.5, 6.0), Limits(2.0, 4.0)
"""The first look has to be sure that something is wrong; the second asks which readings it is. Our choice."""
Doubts = tuple[tuple[ReadingDoubt, ...], IndexArray]
NO_DOUBTS: Doubts = ((), np.zeros(0, int))


def doubts_of(path: FusedPath) -> Doubts:
    """Return the stretches of a path's log that do not fit, in order of time, and which readings (m,) they hold.

    None where most of the log does not fit. One antenna's readings hang on how it is turned: nothing is said of them.
    """
    used = path.readings
    if used is None or path.antennas == 1:
        return NO_DOUBTS
    return _found(path, used, _misfit(used, expected_readings(path, used)), FIRST)


def doubts_again(paths: Sequence[FusedPath], before: FusedPath) -> Doubts:
    """Return the stretches of the whole log that do not fit the best of some paths found without a part of it.

    `before`: the path of the first fit, which has all readings. How far one may be off is what it is off by itself and
    what the path's doubt makes of it. The best path is the one that makes the readings likeliest, with the tails
    of a Student-t: a path that fits anything because it is in doubt everywhere does not.
    """
    used = before.readings
    looks = [] if used is None else [_look(path, used, before) for path in paths if path.readings is not None]
    if not looks:
        return NO_DOUBTS
    path, moved, misfit, _ = max(looks, key=lambda look: look[3])
    return _found(path, moved, misfit, AGAIN)


def _look(path: FusedPath, used: UsedReadings, before: FusedPath) -> tuple[FusedPath, UsedReadings, FloatArray, float]:
    """Return all readings on the clock of a path, how far each is from what fits it, in standard deviations, and how
    likely all are."""
    moved = replace(used, time_s=used.time_s + _offset_s(path) - _offset_s(before), weight=np.ones(used.time_s.size))
    own_m = expected_readings(path, moved)[np.arange(moved.time_s.size), _which(moved)]
    place_m = np.interp(moved.time_s, path.time_s, path.sigma_m)
    sigma = np.hypot(reading_sigma(moved.reading_m), place_m / np.maximum(own_m, 1.0))
    sigma = sigma if path.antennas == 3 else np.hypot(sigma, TWO_ANTENNAS)
    misfit = np.asarray(np.log(moved.reading_m / own_m) / sigma, np.float64)
    tails = 0.5 * (STUDENT_DOF + 1.0) * np.log1p(misfit**2 / STUDENT_DOF)
    return path, moved, misfit, -float(np.sum(tails + np.log(sigma)))


def _found(path: FusedPath, used: UsedReadings, misfit: FloatArray, limits: Limits) -> Doubts:
    found, doubted = [], np.zeros(used.time_s.size, bool)
    inside = (used.time_s >= path.time_s[0]) & (used.time_s <= path.time_s[-1])
    for k in range(len(path.transmitter_ids)):
        own = np.flatnonzero(inside & (used.transmitter == k))
        own = own[np.argsort(used.time_s[own], kind="stable")]
        for part in stretches(used.time_s[own], misfit[own], limits):
            found.append(_doubt(path, used, k, own[part], misfit, limits))
            doubted[own[part]] = True
    if not found or np.count_nonzero(doubted) > MOST_SHARE * np.count_nonzero(inside):
        return NO_DOUBTS
    return tuple(sorted(found, key=lambda d: d.start_s)), doubted


def grown_doubts(doubts: Sequence[Doubts], paths: Sequence[object]) -> list[Doubts]:
    """Return the doubts of runs with the readings around each stretch doubted as well.

    The first fit was pulled: it makes some that are wrong look right, and some beside them look wrong.
    """
    return [
        (found, _grown(m, path.readings)) if found and isinstance(path, FusedPath) and path.readings else NO_DOUBTS
        for (found, m), path in zip(doubts, paths, strict=True)
    ]


def _grown(doubted: IndexArray, used: UsedReadings) -> IndexArray:
    """Return the doubted readings (m,) with those of the same transmitter within `MARGIN_S` of one."""
    near = np.abs(used.time_s[:, None] - used.time_s[doubted]) <= MARGIN_S
    wide = np.any(near & (_which(used)[:, None] == _which(used)[doubted]), axis=1)
    return wide if np.count_nonzero(wide) <= MOST_GROWN * wide.size else doubted


def stretches(time_s: FloatArray, misfit: FloatArray, limits: Limits) -> list[slice]:
    """Return the parts of a log (m,) in which most readings do not fit; `misfit` (m,) in standard deviations."""
    bad = np.flatnonzero(np.abs(misfit) > limits.each)
    if bad.size < LEAST:
        return []
    gaps_s = np.maximum.reduceat(np.diff(time_s, append=np.inf), bad)[:-1]
    breaks = (np.diff(bad) > BETWEEN + 1) | (gaps_s > BETWEEN_S)
    parts = []
    for group in np.split(bad, np.flatnonzero(breaks) + 1):
        if group.size < LEAST or np.max(np.abs(misfit[group])) < limits.worst:
            continue
        if group.size >= LEAST_SHARE * (group[-1] - group[0] + 1):
            parts.append(slice(int(group[0]), int(group[-1]) + 1))
    return parts


def expected_readings(path: FusedPath, used: UsedReadings) -> FloatArray:
    """Return (m, k) what a receiver with three antennas shows of each transmitter on the best path, in metres."""
    rows, height = path.draws.path_m[0], np.interp(used.time_s, path.time_s, path.height_m)
    places = np.stack([np.interp(used.time_s, path.time_s, rows[:, j]) for j in (0, 1)], axis=-1)
    columns = []
    for k, depth_m in enumerate(path.depth_m):
        shift = np.column_stack([places - path.draws.transmitter_m[0, k], height + depth_m])
        axis = np.broadcast_to(path.draws.axis[0, k], shift.shape)
        columns.append(np.exp(-log_amplitude(shift, axis, Held(3)) / 3.0))
    return np.asarray(path.draws.reading_scale[0] * np.stack(columns, axis=-1), np.float64)


def _misfit(used: UsedReadings, expected_m: FloatArray) -> FloatArray:
    """Return how far each reading (m,) is from what fits, in standard deviations, minus where it shows too little.

    The size is in the weight that the robust fit gave it; readings beyond the track have none, and no misfit.
    """
    weight = np.clip(used.weight, 1e-9, 1.0)
    size = np.sqrt(np.maximum((STUDENT_DOF + 1.0) / weight - STUDENT_DOF, 0.0))
    own_m = expected_m[np.arange(used.time_s.size), _which(used)]
    return np.asarray(np.where(used.weight > 0.0, size * np.sign(used.reading_m - own_m), 0.0), np.float64)


def _doubt(
    path: FusedPath, used: UsedReadings, k: int, own: IndexArray, misfit: FloatArray, limits: Limits
) -> ReadingDoubt:
    expected_m = expected_readings(path, used)
    bad = misfit[own][np.abs(misfit[own]) > limits.each]
    low = float(np.mean(bad < 0.0))
    named, best = "", OTHER_FITS
    for other, name in enumerate(path.transmitter_ids):
        off = float(np.median(np.abs(np.log(used.reading_m[own] / expected_m[own, other]))))
        if other != k and off < best:
            named, best = name, off
    kind = NEARER if low >= ONE_SIDE else FARTHER if low <= 1.0 - ONE_SIDE else ERRATIC
    return ReadingDoubt(
        start_s=float(used.time_s[own[0]]),
        end_s=float(used.time_s[own[-1]]),
        transmitter=path.transmitter_ids[k],
        kind=OTHER if named else kind,
        count=int(own.size),
        named=named,
    )


def without_doubted(recording: Recording, doubted: IndexArray) -> Recording:
    """Return a recording without those of its readings (m,) that are doubted."""
    return recording if recording.readings is None else replace(recording, readings=_part(recording.readings, ~doubted))


def with_doubted(
    again: FusedPath, before: FusedPath, doubts: tuple[ReadingDoubt, ...], doubted: IndexArray
) -> FusedPath:
    """Return the path of the fit without the doubted readings (m,), these put back without weight, and the doubts."""
    used, old = again.readings, before.readings
    if not doubts:
        return again
    if used is None or old is None:
        return before  # what is left of the log tells nothing: the first fit stands
    time_s = old.time_s + _offset_s(again) - _offset_s(before)
    which, weight = np.array(old.transmitter), np.zeros(old.time_s.size)
    which[~doubted], weight[~doubted] = used.transmitter, used.weight
    readings = UsedReadings(time_s, old.reading_m, which, weight)
    aside = int(np.count_nonzero(doubted)) + sum(n for _, n in again.dropped)
    return replace(again, readings=readings, doubts=doubts, dropped=((NO_WEIGHT, aside),))


def _offset_s(path: FusedPath) -> float:
    return float(path.draws.clock_offset_s[0])


def _which(used: UsedReadings) -> IndexArray:
    return used.transmitter.astype(int)


def _part(log: Readings, kept: IndexArray) -> Readings:
    return replace(
        log,
        time_s=log.time_s[kept],
        reading_m=log.reading_m[kept],
        transmitter=tuple(t for t, keep in zip(log.transmitter, kept, strict=True) if keep),
        steer_deg=log.steer_deg[kept],
        heading_deg=log.heading_deg[kept],
    )
