"""Writers of input files, as the simulator and tests need them: what is written reads back."""

import csv
import datetime as dt
import io
import math
from collections.abc import Iterable
from typing import Any
from xml.sax.saxutils import escape

from analyzer.files.times import utc_text
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import Drill, Transmitter
from analyzer.model.recording import Mark, Readings, RunInfo, Track
from analyzer.model.rules import Rules

GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
OWN_NAMESPACE = "urn:searchwake:gpx:1"
RULE_NUMBERS = (
    "fine_radius_m",
    "signal_pace_mps",
    "pinpoint_reference_s",
    "marking_s",
    "missed_s",
    "bracket_arm_m",
    "bracket_pace_mps",
)


def write_gpx(
    track: Track, frame: LocalFrame, *, time_zero: dt.datetime, name: str = "run", decimals: int = 8
) -> bytes:
    """Return a track as GPX 1.1.

    Element order as the schema (topografix.com/GPX/1/1/gpx.xsd) sets it: ele, time, hdop, extensions. A stated sigma
    goes into an extension `sigma_m` of our own. `decimals`: of latitude and longitude in degrees.
    """
    zero = time_zero.timestamp()
    degrees = frame.to_degrees(track.east_m, track.north_m)
    points = [
        _gpx_point(f"{lat:.{decimals}f}", f"{lon:.{decimals}f}", elevation, zero + at, hdop, sigma)
        for (lat, lon), elevation, at, hdop, sigma in zip(
            degrees.tolist(),
            track.elevation_m.tolist(),
            track.time_s.tolist(),
            track.hdop.tolist(),
            track.sigma_m.tolist(),
            strict=True,
        )
    ]
    own = f' xmlns:sw="{OWN_NAMESPACE}"' if any(map(math.isfinite, track.sigma_m)) else ""
    label = escape(name)
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<gpx version="1.1" creator="Searchwake" xmlns="{GPX_NAMESPACE}"{own}>',
            f"<metadata><name>{label}</name><time>{utc_text(zero)}</time></metadata>",
            f"<trk><name>{label}</name><trkseg>",
            *points,
            "</trkseg></trk>",
            "</gpx>",
            "",
        ]
    ).encode()


def _gpx_point(latitude: str, longitude: str, elevation_m: float, posix_s: float, hdop: float, sigma_m: float) -> str:
    parts = [f'<trkpt lat="{latitude}" lon="{longitude}">']
    if math.isfinite(elevation_m):
        parts.append(f"<ele>{elevation_m:.3f}</ele>")
    parts.append(f"<time>{utc_text(posix_s)}</time>")
    if math.isfinite(hdop):
        parts.append(f"<hdop>{hdop:.2f}</hdop>")
    if math.isfinite(sigma_m):
        parts.append(f"<extensions><sw:sigma_m>{sigma_m:.4f}</sw:sigma_m></extensions>")
    return "".join([*parts, "</trkpt>"])


def write_track_csv(track: Track, *, time_zero: dt.datetime) -> bytes:
    """Return a track as track.csv in metres, to 0.1 mm."""
    zero = time_zero.timestamp()
    columns = {"elevation_m": track.elevation_m, "sigma_m": track.sigma_m, "hdop": track.hdop}
    stated = {name: values.tolist() for name, values in columns.items() if any(map(math.isfinite, values))}
    rows = [
        [utc_text(zero + at), f"{east:.4f}", f"{north:.4f}", *(_text(v[i], 4) for v in stated.values())]
        for i, (at, east, north) in enumerate(
            zip(track.time_s.tolist(), track.east_m.tolist(), track.north_m.tolist(), strict=True)
        )
    ]
    return _csv(["time", "east_m", "north_m", *stated], rows)


def write_readings_csv(readings: Readings, *, time_zero: dt.datetime) -> bytes:
    """Return readings as readings.csv: elapsed times where they were noted by hand, else times of day."""
    zero = time_zero.timestamp()
    columns: dict[str, list[Any]] = {
        "transmitter": [label or "" for label in readings.transmitter],
        "steer_deg": [_text(v, 1) for v in readings.steer_deg.tolist()],
        "heading_deg": [_text(v, 1) for v in readings.heading_deg.tolist()],
    }
    stated = {name: cells for name, cells in columns.items() if any(cells)}
    times = [f"{at:.3f}" if readings.by_hand else utc_text(zero + at) for at in readings.time_s.tolist()]
    rows = [
        [time, f"{reading:.2f}", *(cells[i] for cells in stated.values())]
        for i, (time, reading) in enumerate(zip(times, readings.reading_m.tolist(), strict=True))
    ]
    return _csv(["elapsed" if readings.by_hand else "time", "reading_m", *stated], rows)


def write_marks_csv(marks: Iterable[Mark], *, time_zero: dt.datetime) -> bytes:
    """Return marks as marks.csv with times of day."""
    zero = time_zero.timestamp()
    return _csv(
        ["time", "mark", "transmitter", "note"],
        [[utc_text(zero + m.time_s), m.mark, m.transmitter or "", m.note] for m in marks],
    )


def write_run_toml(info: RunInfo) -> bytes:
    """Return run.toml."""
    return "".join(
        [
            f"searcher = {toml_text(info.searcher)}\n",
            f"bib = {toml_text(info.bib)}\n",
            f"antennas = {info.antennas}\n",
            f"carry_height_m = {float(info.carry_height_m)!r}\n",
            f"fine_height_m = {float(info.fine_height_m)!r}\n",
            f"recorder = {toml_text(info.recorder)}\n",
            *_stated(info),
        ]
    ).encode()


def _stated(info: RunInfo) -> list[str]:
    """Return the lines of the keys of run.toml that are left out where nothing is said."""
    lines = [
        f"{key} = {toml_text(getattr(info, key))}\n"
        for key in ("zone", "receiver", "readings_sheet", "marks_sheet", "title", "note")
        if getattr(info, key)
    ]
    added = ("weeks", "track_hours", "readings_hours", "marks_hours")
    lines += [f"{key} = {getattr(info, key)!r}\n" for key in added if getattr(info, key)]
    if info.clock != RunInfo().clock:
        lines.append(f"clock = {toml_text(info.clock)}\n")
    if info.window is not None:
        ends = [_exact(b.at_s) if b.elapsed else utc_text(b.at_s) for b in info.window]
        lines.append(f"window = [{', '.join(ends)}]\n")
    for key in ("praised", "set_aside"):
        value = getattr(info, key)
        if isinstance(value, tuple):
            lines.append(f"{key} = [{', '.join(toml_text(item) for item in value)}]\n")
        elif value:
            lines.append(f"{key} = {'true' if value is True else toml_text(value)}\n")
    return lines


def write_drill_toml(drill: Drill) -> bytes:
    """Return drill.toml with positions in metres."""
    origin, slope = drill.origin, drill.slope
    lines = ["[drill]", f"name = {toml_text(drill.name)}"]
    if drill.date is not None:
        lines.append(f"date = {drill.date.isoformat()}")
    lines += [
        f"origin = {{latitude = {float(origin.latitude)!r}, longitude = {float(origin.longitude)!r}, "
        f"elevation_m = {float(origin.elevation_m)!r}}}",
        f"slope = {{angle_deg = {float(slope.angle_deg)!r}, aspect_deg = {float(slope.aspect_deg)!r}}}",
    ]
    if drill.start is not None:
        lines.append(f"start = {drill.start.isoformat()}")
    if drill.time_limit_s is not None:
        lines.append(f"time_limit_s = {float(drill.time_limit_s)!r}")
    lines.append(f"strip_width_m = {float(drill.strip_width_m)!r}")
    if drill.team:
        lines.append("team = true")
    if drill.corners_m is not None or drill.start_m is not None:
        lines += ["", "[area]"]
    if drill.corners_m is not None:
        lines.append(f"corners_m = {drill.corners_m.tolist()!r}")
    if drill.start_m is not None:
        lines.append(f"start_m = {[float(value) for value in drill.start_m]!r}")
    for transmitter in drill.transmitters:
        lines += ["", *_transmitter_lines(transmitter)]
    for receiver in drill.receivers:
        lines += ["", "[[receiver]]", f"name = {toml_text(receiver.name)}"]
        stated = {key: getattr(receiver, key) for key in ("scale", "scale_sigma", "strip_width_m")}
        lines += [f"{key} = {_exact(value)}" for key, value in stated.items() if value is not None]
    return ("\n".join(lines) + "\n").encode()


def write_rules_toml(rules: Rules) -> bytes:
    """Return a rule sheet; read back it gives the same rules, but for the hash, which is of these bytes."""
    lines = ["[rules]", f"name = {toml_text(rules.name)}", f"version = {toml_text(rules.version)}", "", "[reference]"]
    lines += [f"{key} = {_exact(getattr(rules, key))}" for key in RULE_NUMBERS]
    knots = [f"    {{ range_m = {_exact(k.range_m)}, pace_mps = {_exact(k.pace_mps)} }}," for k in rules.pace]
    lines += ["pace = [", *knots, "]"]
    for item in rules.deductions:
        lines += ["", "[[deduction]]", f"phase = {toml_text(item.phase)}", f"measure = {toml_text(item.measure)}"]
        lines += [f"{key} = {_exact(getattr(item, key))}" for key in ("free", "points_per_unit", "at_most")]
    return ("\n".join(lines) + "\n").encode()


def _exact(value: float) -> str:
    """Return the shortest text that TOML reads back as the same float."""
    return repr(float(value))


def _transmitter_lines(item: Transmitter) -> list[str]:
    lines = ["[[transmitter]]", f"id = {toml_text(item.id)}"]
    for key in ("east_m", "north_m", "depth_m", "axis_bearing_deg", "axis_tilt_deg", "position_sigma_m"):
        value = getattr(item, key)
        if value is not None:
            lines.append(f"{key} = {float(value)!r}")
    return lines


def toml_text(text: str) -> str:
    """Return a TOML basic string: quotation marks, backslashes and control characters escaped."""
    escaped = "".join(
        f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else {"\\": "\\\\", '"': '\\"'}.get(c, c) for c in text
    )
    return f'"{escaped}"'


def _text(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if math.isfinite(value) else ""


def _csv(header: list[str], rows: list[list[Any]]) -> bytes:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return stream.getvalue().encode()
