"""What the receiver shows during a walk, and what of it is logged."""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from analyzer.errors import InputError, quoted
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.lab.simulate.motion import STEP_S
from analyzer.lab.simulate.searcher import Found, Walk
from analyzer.lab.simulate.settings import ReadingSettings
from analyzer.lab.simulate.world import Receiver, Source
from analyzer.model.arrays import FloatArray, freeze_fields
from analyzer.model.recording import Readings
from analyzer.physics.dipole import dipole_field
from analyzer.physics.receiver import offsets, reading_m

KINDS = ("logged", "by_hand", "none")


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Everything the display showed: true times (m,), readings (m,), index of the transmitter in the order found,
    direction shown relative to the receiver and its bearing, degrees (m,)."""

    time_s: FloatArray
    reading_m: FloatArray
    found: FloatArray
    steer_deg: FloatArray
    heading_deg: FloatArray

    def __post_init__(self) -> None:
        """Check and freeze the arrays."""
        m = len(self.time_s)
        freeze_fields(self, **dict.fromkeys(("time_s", "reading_m", "found", "steer_deg", "heading_deg"), (m,)))


def drawn_scale(settings: ReadingSettings, rng: np.random.Generator) -> float:
    """Return the receiver's reading scale: calibrated between broadside and coaxial, 5 % about it."""
    drawn = float(rng.uniform(1.0, 1.26) * np.exp(0.05 * rng.standard_normal()))
    return settings.scale if settings.scale is not None else drawn


def true_readings(walk: Walk, source: Source, receiver: Receiver) -> FloatArray:
    """Return (n,) the reading without noise at every state of the walk."""
    xyh = np.array([(s.x, s.y, s.height, s.hx, s.hy) for s in walk.states])
    offset = offsets(xyh[:, :2], xyh[:, 2], np.array([source.x, source.y]), source.depth_m)
    return reading_m(
        offset, np.array(source.axis), scale=receiver.scale, antennas=receiver.antennas, heading=xyh[:, 3:]
    )


def display(
    walk: Walk,
    receiver: Receiver,
    reception_m: float,
    plane: SlopePlane,
    settings: ReadingSettings,
    rng: np.random.Generator,
) -> Shown:
    """Return all readings shown: one transmitter at a time, from when it is received to its probe hit."""
    parts = [
        _display_one(i, found, walk, receiver, reception_m, plane, settings, own)
        for i, (found, own) in enumerate(zip(walk.found, rng.spawn(len(walk.found)), strict=True))
    ]
    return Shown(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _display_one(
    i: int,
    found: Found,
    walk: Walk,
    receiver: Receiver,
    reception_m: float,
    plane: SlopePlane,
    settings: ReadingSettings,
    rng: np.random.Generator,
) -> tuple[FloatArray, ...]:
    # One stream a thing: what is drawn for a reading does not hang on how many there are.
    at, lost, relative, plain, thrown, turned = rng.spawn(6)
    begin_s = float(at.uniform(0.0, settings.interval_s))
    count = int((found.fine.hit_s - found.shown_s) / settings.interval_s * 1.3) + 10
    spread = np.clip(at.normal(0.0, settings.jitter_s, count), -0.4 * settings.interval_s, 0.4 * settings.interval_s)
    times = found.shown_s + begin_s + settings.interval_s * np.arange(count) + spread
    times = times[(times < found.fine.hit_s) & (times > found.shown_s)]
    rows = np.minimum(np.round(times / STEP_S).astype(int), len(walk.states) - 1)
    clean = true_readings(walk, found.source, receiver)
    if settings.lag_s > 0.0:
        keep = np.exp(-STEP_S / settings.lag_s)
        begin = int(found.shown_s / STEP_S)
        lagged, _ = lfilter(
            [1.0 - keep], [1.0, -keep], np.minimum(clean[begin:], 200.0), zi=[keep * min(clean[begin], 200.0)]
        )
        clean = np.concatenate([clean[:begin], lagged])
    reading = clean[rows]
    inside = (reading <= reception_m * 1.02) & (lost.uniform(size=len(rows)) >= settings.dropout)
    noisy = reading * np.exp(settings.relative_noise * relative.standard_normal(len(rows)))
    noisy = noisy + settings.noise_m * plain.standard_normal(len(rows))
    luck = thrown.uniform(size=(len(rows), 3))
    odd = luck[:, 0] < settings.outlier
    factor = np.where(luck[:, 1] < 0.5, 0.5 + 0.25 * luck[:, 2], 1.4 + 0.8 * luck[:, 2])
    noisy = np.maximum(np.where(odd, noisy * factor, noisy), 0.1)
    steer, heading = _directions(walk, found.source, rows, plane, turned)
    columns = (np.round(times, 3), _stepped(noisy, settings), np.full(len(rows), float(i)), steer, heading)
    return tuple(c[inside] for c in columns)


def _stepped(reading: FloatArray, settings: ReadingSettings) -> FloatArray:
    """Return readings rounded to the display's steps."""
    shown = reading.copy()
    for begin, step in settings.steps:
        far = reading >= begin
        shown[far] = np.round(reading[far] / step) * step
    return np.round(shown, 3)


def _directions(
    walk: Walk, source: Source, rows: np.ndarray, plane: SlopePlane, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return the direction shown, folded into -90..90 (its sign is not known), and the receiver's bearing, degrees."""
    xyh = np.array([(s.x, s.y, s.height, s.hx, s.hy) for s in walk.states])[rows]
    offset = offsets(xyh[:, :2], xyh[:, 2], np.array([source.x, source.y]), source.depth_m)
    field = dipole_field(offset, np.array(source.axis))[:, :2]
    heading = np.array(plane.bearing_deg(xyh[:, 3:])).reshape(-1)
    # On the display angles are those of the receiver's plane: bearing differences would be stretched by the slope.
    turn = np.degrees(np.arctan2(field[:, 0], field[:, 1]) - np.arctan2(xyh[:, 3], xyh[:, 4]))
    off = rng.standard_normal((len(rows), 2))
    folded = (turn + 8.0 * off[:, 0] + 90.0) % 180.0 - 90.0
    return np.round(folded / 5.0) * 5.0, np.round((heading + 5.0 * off[:, 1]) % 360.0)


def first_of_two(shown: Shown, i: int) -> float:
    """Return the time of the first of two consecutive readings of a transmitter."""
    times = shown.time_s[shown.found == i]
    if len(times) < 2:
        raise InputError(
            where="simulated run",
            what="fewer than two readings of a transmitter were shown",
            do="lower the dropout or take another seed",
        )
    return float(times[0])


def as_logged(
    shown: Shown, walk: Walk, settings: ReadingSettings, *, clock_offset_s: float, rng: np.random.Generator
) -> Readings | None:
    """Return what ends up in the log, on the log's clock; None for the kind "none".

    By hand: the first two of each transmitter, then one every few seconds, times to a tenth or a second, a little off.
    """
    if settings.kind not in KINDS:
        raise InputError(
            where="readings", what=f"{quoted(settings.kind)} is not known", do=f"use one of {', '.join(KINDS)}"
        )
    if settings.kind == "none":
        return None
    rows = np.arange(len(shown.time_s))
    times = shown.time_s
    if settings.kind == "by_hand":
        rows = _noted(shown, settings, rng)
        written = times[rows] - clock_offset_s + rng.normal(0.0, 0.2, len(rows))
        times = np.maximum.accumulate(np.round(written, 0 if settings.whole_seconds else 1)) + clock_offset_s
        fresh = np.concatenate([[True], np.diff(times) > 0.05])
        rows, times = rows[fresh], times[fresh]
    labelled = len(walk.found) > 1 if settings.labelled is None else settings.labelled
    names = tuple(walk.found[int(i)].source.id if labelled else None for i in shown.found[rows])
    blank = np.full(len(rows), np.nan)
    return Readings(
        np.round(times - clock_offset_s, 3),
        shown.reading_m[rows],
        names,
        shown.steer_deg[rows] if settings.directions else blank,
        shown.heading_deg[rows] if settings.directions else blank,
        by_hand=settings.kind == "by_hand",
    )


def _noted(shown: Shown, settings: ReadingSettings, rng: np.random.Generator) -> np.ndarray:
    """Return the rows a person writes down from a video."""
    rows: list[int] = []
    for i in np.unique(shown.found):
        mine = np.flatnonzero(shown.found == i)
        rows += mine[:2].tolist()
        due = shown.time_s[mine[min(1, len(mine) - 1)]] + rng.uniform(*settings.by_hand_interval_s)
        for row in mine[2:]:
            if shown.time_s[row] >= due:
                rows.append(int(row))
                due = shown.time_s[row] + rng.uniform(*settings.by_hand_interval_s)
    return np.array(rows, dtype=int)
