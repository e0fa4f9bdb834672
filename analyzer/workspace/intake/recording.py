"""A recording that was taken in, as its page needs it: places in metres, a line to draw, and proposals of runs."""

import numpy as np

from analyzer.engine.cutting.proposals import Note, propose
from analyzer.errors import InputError
from analyzer.files.tracks.fixes import METRES_PER_DEGREE, Fixes
from analyzer.files.tracks.formats import read_track
from analyzer.files.tracks.proposed_cuts import GAP_S, MOST_S, Moments, Piece, Recorded, covering, proposed
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill

LINE_POINTS = 1500
"""Of the drawn line; our choice, twice the pixels of a wide page."""
PACE_OVER_S = 30.0


def recorded(data: bytes, *, path: str, ending: str, drill: Drill | None) -> Recorded:
    """Return the fixes of a track that have a time and a place, those of a time that was there before left out.

    `drill`: metres count from its origin; without one from the middle of the track.

    Raises
    ------
    InputError
        Where the track cannot be read, or has no times of day.
    """
    fixes = read_track(data, name=f"track{ending}")
    place = _metres(fixes, drill)
    use = np.isfinite(fixes.time_s) & np.isfinite(place).all(axis=1)
    order = np.argsort(fixes.time_s[use], kind="stable")
    time_s, place = fixes.time_s[use][order], place[use][order]
    later = np.concatenate([[True], np.diff(time_s) > 0.0]) if time_s.size else np.zeros(0, bool)
    if np.count_nonzero(later) < 2 or not fixes.dated or fixes.elapsed:
        what = "its fixes have no times of day that tell when it was"
        raise InputError(where=path, what=what, do="go back to Load and take it whole")
    return Recorded(time_s[later], place[later])


def _metres(fixes: Fixes, drill: Drill | None) -> FloatArray:
    """Return (n, 2) metres, from the drill's origin where one is known."""
    if not fixes.geographic:
        return np.column_stack([fixes.first, fixes.second])
    if drill is not None:
        return LocalFrame(drill.origin).to_metres(fixes.first, fixes.second)
    latitude, longitude = np.nanmedian(fixes.first), np.nanmedian(fixes.second)
    east = (fixes.second - longitude) * METRES_PER_DEGREE * np.cos(np.radians(latitude))
    return np.column_stack([east, (fixes.first - latitude) * METRES_PER_DEGREE])


def pieces(recording: Recorded, moments: Moments, drill: Drill | None) -> tuple[Piece, ...]:
    """Return the proposed pieces of a recording.

    Without a drill and without start marks, ways out from one start and back come first: a halt may lie at the start as
    well as at a transmitter then, and going out and back tells the two apart.
    """
    spots = [] if drill is None else [(t.east_m, t.north_m) for t in drill.transmitters]
    if not spots and not moments.starts and recording.time_s[-1] - recording.time_s[0] <= MOST_S:
        hits = [Note(at, "probe_hit") for at in moments.ends]
        ways = propose(recording.time_s, *recording.place_m.T, marks=hits)
        if len(ways) > 1:
            runs = [Piece(way.from_s, way.to_s, True, f"{way.begins} {way.ends}") for way in ways]
            return tuple(covering(runs, float(recording.time_s[0]), float(recording.time_s[-1])))
    return proposed(recording, moments, np.array(spots, float).reshape(-1, 2))


def line(recording: Recorded) -> tuple[tuple[float | None, float | None, float | None], ...]:
    """Return a line to draw: seconds since the begin, metres from the first fix, metres a second; None in gaps."""
    since = recording.time_s - recording.time_s[0]
    at = np.linspace(0.0, since[-1], min(LINE_POINTS, since.size))
    place = _at(recording, since, at)
    early, late = (np.clip(at + half, 0.0, since[-1]) for half in (-PACE_OVER_S / 2.0, PACE_OVER_S / 2.0))
    pace = np.hypot(*(_at(recording, since, late) - _at(recording, since, early)).T) / np.maximum(late - early, 1e-9)
    away = np.hypot(*(place - recording.place_m[0]).T)
    before = np.clip(np.searchsorted(since, at, side="right") - 1, 0, since.size - 2)
    gap = (np.diff(since)[before] > GAP_S) & (at > since[before]) & (at < since[before + 1])
    rows = zip(at.tolist(), away.tolist(), pace.tolist(), gap.tolist(), strict=True)
    return tuple((t, None, None) if off else (t, round(d, 1), round(v, 2)) for t, d, v, off in rows)


def _at(recording: Recorded, since: FloatArray, at: FloatArray) -> FloatArray:
    return np.column_stack([np.interp(at, since, recording.place_m[:, axis]) for axis in (0, 1)])
