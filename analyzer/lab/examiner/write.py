"""Files of a drill as texts, in the formats a user hands in, with the truth beside them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from analyzer.lab.examiner.field import geodetic
from analyzer.lab.examiner.recorder import Fixes, Log, bearing
from analyzer.lab.examiner.scene import Choices, Scene
from analyzer.lab.examiner.truth import Run

NAMES = ("ansa", "bero", "cilla", "doran", "edda", "fenn", "gitta", "hale", "iven", "jorun", "kess", "lio")


class Clock:
    """True seconds to ISO 8601."""

    def __init__(self, rng: np.random.Generator) -> None:
        day = datetime(2024, 1, 5, tzinfo=UTC) + timedelta(days=int(rng.integers(0, 90)))
        self.base = day + timedelta(seconds=int(rng.integers(8 * 3600, 15 * 3600)))

    def __call__(self, seconds: float) -> str:
        t = self.base + timedelta(milliseconds=round(seconds * 1000))
        text = t.strftime("%Y-%m-%dT%H:%M:%S")
        return f"{text}.{t.microsecond // 1000:03d}Z" if t.microsecond else f"{text}Z"


def drill_toml(scene: Scene, ask: Choices, date: str, rng: np.random.Generator) -> str:
    """The text of drill.toml; places stated in metres, or in degrees where a phone surveyed them."""
    s = scene.slope
    corners = [s.surface_enu(np.array([c]), np.array([u]))[0] for c, u in scene.area]
    lines = [
        "[drill]",
        f'name = "{scene.place} (invented)"',
        f"date = {date}",
        f"origin = {{latitude = {scene.latitude}, longitude = {scene.longitude}, elevation_m = {scene.elevation_m}}}",
    ]
    if s.angle_deg:
        lines.append(f"slope = {{angle_deg = {s.angle_deg}, aspect_deg = {s.aspect_deg}}}")
    lines.append(f"strip_width_m = {scene.strip_width_m}")
    if rng.random() < 0.8:
        lines += ["", "[area]", "corners_m = [" + ", ".join(f"[{p[0]:.1f}, {p[1]:.1f}]" for p in corners) + "]"]
    in_degrees = ask.position_off_m > 0 and rng.random() < 0.5
    for tx, (e, n) in zip(scene.transmitters, scene.stated, strict=True):
        lines += ["", "[[transmitter]]", f'id = "{tx.name}"']
        if in_degrees:
            up = s.surface_enu(np.array([tx.c]), np.array([tx.u]))[0, 2]
            lat, lon, _ = geodetic(np.array([[e, n, up]]), scene.latitude, scene.longitude, scene.elevation_m)[0]
            lines += [f"latitude = {lat:.7f}", f"longitude = {lon:.7f}"]
        else:
            lines += [f"east_m = {e:.2f}", f"north_m = {n:.2f}"]
            if ask.position_off_m > 0:
                lines.append(f"position_sigma_m = {max(ask.position_off_m / 1.25, 0.2):.1f}")
            elif ask.survey:
                lines[-2:] = [f"east_m = {e:.3f}", f"north_m = {n:.3f}"]
        lines.append(f"depth_m = {tx.depth:.2f}")
        if ask.axis_given:
            lines += [f"axis_bearing_deg = {tx.bearing_deg:.0f}", f"axis_tilt_deg = {tx.tilt_deg:.0f}"]
    return "\n".join(lines) + "\n"


def track(fixes: Fixes, scene: Scene, ask: Choices, clock: Clock, rng: np.random.Generator) -> tuple[str, str, str]:
    """track.gpx for a phone or watch, track.csv for survey grade: name, text and the style chosen."""
    where = geodetic(fixes.enu, scene.latitude, scene.longitude, scene.elevation_m)
    stamps = [clock(t) for t in fixes.time]
    if ask.survey:
        metres, sigma = rng.random() < 0.6, rng.random() < 0.7
        head = ["time", *(["east_m", "north_m"] if metres else ["latitude", "longitude"]), "elevation_m"]
        out = [",".join(head + ["sigma_m"] * sigma)]
        for stamp, p, w in zip(stamps, fixes.enu, where, strict=True):
            place = f"{p[0]:.3f},{p[1]:.3f}" if metres else f"{w[0]:.9f},{w[1]:.9f}"
            out.append(f"{stamp},{place},{w[2]:.3f}" + ",0.02" * sigma)
        return "track.csv", "\n".join(out) + "\n", "csv metres" if metres else "csv degrees"
    q = ask.quantum_deg
    digits = max(0, round(-np.log10(q)))
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="invented recorder" xmlns="http://www.topografix.com/GPX/1/1">',
        "<trk><name>search</name><trkseg>",
    ]
    for i, (stamp, w) in enumerate(zip(stamps, where, strict=True)):
        extra = f"<hdop>{fixes.hdop[i]:.1f}</hdop>" if fixes.hdop is not None else ""
        lat, lon = round(w[0] / q) * q, round(w[1] / q) * q
        place = f'lat="{lat:.{digits}f}" lon="{lon:.{digits}f}"'
        out.append(f"<trkpt {place}><ele>{w[2]:.1f}</ele><time>{stamp}</time>{extra}</trkpt>")
    out.append("</trkseg></trk></gpx>")
    return "track.gpx", "\n".join(out) + "\n", "gpx"


def readings(log: Log) -> str:
    """The text of readings.csv."""
    return "\n".join(",".join(r) for r in [log.header, *log.rows]) + "\n"


def marks(rows: list[tuple[float, str, str]], many: bool, clock: Clock) -> str:
    """The text of marks.csv on the clock of the track."""
    out = ["time,mark,transmitter" if many else "time,mark"]
    for t, mark, name in sorted(rows):
        out.append(f"{clock(t)},{mark},{name}" if many else f"{clock(t)},{mark}")
    return "\n".join(out) + "\n"


def run_toml(run: Run, ask: Choices, number: int, rng: np.random.Generator) -> tuple[str, str]:
    """The searcher's name and the text of run.toml. Heights, where stated, are the intended ones, rounded."""
    name = NAMES[number % len(NAMES)]
    lines = [f'searcher = "{name}"', f'bib = "{number + 1}"']
    if ask.antennas != 3 or rng.random() < 0.5:
        lines.append(f"antennas = {ask.antennas}")
    if rng.random() < 0.5:
        lines += [f"carry_height_m = {run.habits.carry_m:.1f}", f"fine_height_m = {run.habits.fine_m:.2f}"]
    if rng.random() < 0.5:
        lines.append(f'recorder = "{"survey rover" if ask.survey else "phone"}"')
    return name, "\n".join(lines) + "\n"


def truth(
    run: Run, scene: Scene, ask: Choices, figures: dict[str, Any], phases: list[dict[str, Any]]
) -> dict[str, Any]:
    """What is written into truth.json: the true path at 10 Hz from time zero, and the figures."""
    part = run.trace[round(run.lead_s / 0.05) :: 2]
    enu = scene.slope.surface_enu(part[:, 1], part[:, 2])
    buried = []
    for tx, stated in zip(scene.transmitters, scene.stated, strict=True):
        e, n, _ = scene.slope.surface_enu(np.array([tx.c]), np.array([tx.u]))[0]
        buried.append(
            {
                "id": tx.name,
                "east_m": e,
                "north_m": n,
                "depth_m": tx.depth,
                "axis_bearing_deg": tx.bearing_deg,
                "axis_tilt_deg": tx.tilt_deg,
                "stated_east_m": stated[0],
                "stated_north_m": stated[1],
            }
        )
    for search in figures["searches"]:
        for leg in search["legs"]:
            leg["bearing_deg"] = bearing(scene, leg.pop("angle"))
    return {
        "format": "examiner-truth/1",
        "fault": ask.fault,
        "slope_deg": scene.slope.angle_deg,
        "aspect_deg": scene.slope.aspect_deg,
        "antennas": ask.antennas,
        **figures,
        "transmitters": buried,
        "phases": phases,
        "time_s": np.round(part[:, 0] - run.lead_s, 3).tolist(),
        "east_m": np.round(enu[:, 0], 4).tolist(),
        "north_m": np.round(enu[:, 1], 4).tolist(),
        "height_m": np.round(part[:, 3], 3).tolist(),
    }
