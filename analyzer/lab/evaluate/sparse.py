"""Recordings with a fix every 11 to 30 s: a track thinned, its truth kept, and how near its fixes lie to the path.

Watches and phones that save power store a fix now and then. What a gap is has to follow from the file's own rhythm,
and the path between far fixes has to be as uncertain as it is.
"""

from dataclasses import replace

import numpy as np

from analyzer.geometry.slope_plane import SlopePlane
from analyzer.geometry.timed_path import place_at
from analyzer.model.path import FusedPath
from analyzer.model.recording import Recording, Track
from analyzer.physics.recorder_noise import fix_noise

SHORTEST_S, LONGEST_S = 11.0, 30.0
UNSTEADY = 0.3
"""Steps differ from the recording's own rhythm by up to this share, as those of recorders that save power do."""
LEAST_FIXES = 12
"""So many are kept at least: with fewer than ten a run is refused."""
NEAR_SIGMAS = 2.45
"""A normal error over a plane is smaller than so many standard deviations of one axis in 95 % of cases."""


def thinned(recording: Recording, *, seed: int) -> Recording:
    """Return the recording with a fix every 11 to 30 s: steps about a rhythm of its own, the first and the last kept.

    The marks, the log and the errors of the fixes that are left stay as they are.
    """
    rng, time_s = np.random.default_rng([seed, 11]), recording.track.time_s
    longest = float(np.clip(np.ptp(time_s) / LEAST_FIXES, SHORTEST_S, LONGEST_S))
    rhythm_s = float(rng.uniform(SHORTEST_S, longest))
    kept, due_s = [0], -np.inf
    for i, t in enumerate(time_s):
        if t >= due_s:
            kept.append(i)
            due_s = t + np.clip(rhythm_s * (1.0 + UNSTEADY * rng.uniform(-1.0, 1.0)), SHORTEST_S, longest)
    return replace(recording, track=_only(recording.track, sorted({*kept, len(time_s) - 1})))


def _only(track: Track, kept: list[int]) -> Track:
    arrays = ("time_s", "east_m", "north_m", "elevation_m", "sigma_m", "hdop")
    return replace(track, **{name: getattr(track, name)[kept] for name in arrays})


def fixes_near(fused: FusedPath, track: Track, plane: SlopePlane) -> dict[str, float]:
    """Return how many fixes were used, and how many of these lie within NEAR_SIGMAS of their sigma of the path.

    The sigma is the one that the recorder states, else the one that is assumed of such a recorder.
    """
    assumed = fix_noise(track, survey_grade=fused.survey_grade).total_m
    sigma = np.where(np.isfinite(track.sigma_m) & (track.sigma_m > 0.0), track.sigma_m, assumed)
    seen = plane.to_plane(np.column_stack([track.east_m, track.north_m]))
    off = np.linalg.norm(seen - place_at(fused.time_s, fused.draws.path_m[0], track.time_s), axis=1)
    used = ~np.isin(track.time_s, fused.fixes.without_weight_s)
    return {"fixes_used": float(np.sum(used)), "fixes_near": float(np.sum(used & (off <= NEAR_SIGMAS * sigma)))}
