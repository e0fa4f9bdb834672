"""Position errors of several kinds; every function returns metres with shape (n, 2)."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np

KINDS = ("smooth", "ou", "white-ou", "double", "file")


def matern(t: np.ndarray, sigma: float, b: float, rng: np.random.Generator) -> np.ndarray:
    """Smooth error, correlation (1 + t/b) exp(-t/b), drawn with the Cholesky factor."""
    lag = np.abs(t[:, None] - t[None, :]) / b
    cov = (1 + lag) * np.exp(-lag)
    cov[np.diag_indices_from(cov)] += 1e-9
    return sigma * np.linalg.cholesky(cov) @ rng.standard_normal((len(t), 2))


def gauss_markov(t: np.ndarray, sigma: float, tau: float, rng: np.random.Generator) -> np.ndarray:
    """First-order process, started in its steady state."""
    draw = rng.standard_normal((len(t), 2))
    keep = np.exp(-np.diff(t) / tau)
    out = np.empty_like(draw)
    out[0] = sigma * draw[0]
    for i, a in enumerate(keep):
        out[i + 1] = a * out[i] + sigma * math.sqrt(1 - a * a) * draw[i + 1]
    return out


def draw(
    kind: str, t: np.ndarray, rng: np.random.Generator, path: str | None = None, series: str = "psr"
) -> tuple[np.ndarray, dict[str, float]]:
    """Errors at the times ``t`` and the levels behind them. Levels differ from run to run."""
    if kind == "file":
        if path is None:
            raise ValueError("noise kind 'file' needs a file of recorded errors")
        return recorded(Path(path), series, t, rng)
    white = {"white": float(rng.uniform(0.3, 1.0) if kind == "white-ou" else rng.uniform(0.005, 0.05))}
    noise = white["white"] * rng.standard_normal((len(t), 2))
    if kind in ("smooth", "double"):
        times = 2.0 if kind == "double" else 1.0
        lv = {
            "fast": times * float(np.exp(rng.uniform(np.log(0.55), np.log(1.3)))),
            "fast_b": float(rng.uniform(10.0, 22.0)),
            "slow": times * float(np.exp(rng.uniform(np.log(0.8), np.log(2.6)))),
            "slow_tau": float(rng.uniform(400.0, 1300.0)),
        }
        noise += matern(t, lv["fast"], lv["fast_b"], rng) + gauss_markov(t, lv["slow"], lv["slow_tau"], rng)
    else:
        lv = {"slow": float(rng.uniform(1.2, 3.0)), "slow_tau": float(rng.uniform(60.0, 600.0))}
        noise += gauss_markov(t, lv["slow"], lv["slow_tau"], rng)
    return noise, white | lv


def survey(t: np.ndarray, sigma: float, rng: np.random.Generator) -> np.ndarray:
    """Survey-grade error: part white, part wandering over half a minute, ``sigma`` in all."""
    share = rng.uniform(0.3, 0.9)
    slow = gauss_markov(t, sigma * math.sqrt(1 - share**2), rng.uniform(10.0, 60.0), rng)
    return slow + sigma * share * rng.standard_normal((len(t), 2))


def recorded(path: Path, series: str, t: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, dict[str, float]]:
    """A stretch of a recorded error series, turned by a random angle, perhaps mirrored.

    Where the run is longer than the record, the record is walked back and forth, which keeps
    it continuous. Epochs in between are the nearest for the single-epoch fix, which jumps
    from second to second, and interpolated for the carrier-smoothed one.
    """
    pieces = [p for p in _pieces(path, series) if p[0][-1] >= 60.0]
    if not pieces:
        raise ValueError(f"{path}: no stretch of a minute without a gap in series '{series}'")
    weights = np.array([p[0][-1] for p in pieces])
    number = int(rng.choice(len(pieces), p=weights / weights.sum()))
    epoch, error = pieces[number]
    span = float(epoch[-1])
    at = rng.uniform(0.0, span) + (t - t[0])
    at = span - np.abs(at % (2 * span) - span)
    if series == "psr":
        out = error[np.abs(epoch[None, :] - at[:, None]).argmin(axis=1)]
    else:
        out = np.column_stack([np.interp(at, epoch, error[:, i]) for i in (0, 1)])
    turn = rng.uniform(0, 2 * math.pi)
    rot = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    if rng.random() < 0.5:
        rot[:, 0] *= -1
    return out @ rot.T, {"piece": float(number), "piece_s": span}


def _pieces(path: Path, series: str, gap: float = 5.0) -> list[tuple[np.ndarray, np.ndarray]]:
    """Stretches without a gap of the walking unit: fix minus survey reference, east and north.

    A missing value is 0.0 and the clock is HH.MM.SS, as the recording's own notes say.
    """
    fix = "raw_psr_UTM11_{}_meters_uut1" if series == "psr" else "adr_UTM11_{}_approx_meters_uut1"
    ref = "rtk_reference_UTM11_{}_meters_uut1"
    columns = [fix.format("easting"), fix.format("northing"), ref.format("easting"), ref.format("northing")]
    with path.open(newline="") as handle:
        rows = [(r["test_run"], r["timestamp"], [float(r[c]) for c in columns]) for r in csv.DictReader(handle)]
    out: list[tuple[np.ndarray, np.ndarray]] = []
    for run in sorted({r[0] for r in rows}):
        good = [r for r in rows if r[0] == run and all(v != 0.0 for v in r[2])]
        clock = np.array([sum(float(v) * m for v, m in zip(r[1].split("."), (3600, 60, 1), strict=True)) for r in good])
        value = np.array([(v[0] - v[2], v[1] - v[3]) for _, _, v in good])
        cuts = np.flatnonzero(np.diff(clock) > gap) + 1
        parts = zip(np.split(clock, cuts), np.split(value, cuts), strict=True)
        out += [(c - c[0], v) for c, v in parts if len(c) > 1]
    return out
