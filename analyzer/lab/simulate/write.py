"""Simulated drills and runs as files: what a coach would have, and the truth beside it."""

import shutil
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.names import DRILL_FILE, MARKS_FILE, READINGS_FILE, RUN_FILE, RUNS, TRUTH_FILE
from analyzer.files.source import PART, write_atomic
from analyzer.files.writers import (
    write_drill_toml,
    write_gpx,
    write_marks_csv,
    write_readings_csv,
    write_run_toml,
    write_track_csv,
)
from analyzer.geometry.slope_plane import LocalFrame, SlopePlane
from analyzer.lab.simulate.recorder import as_track
from analyzer.lab.simulate.scenario import SimulatedDrill, SimulatedRun
from analyzer.lab.simulate.truth_json import truth_text


def write_drill(folder: Path, drill: SimulatedDrill) -> None:
    """Write drill.toml into a new drill folder.

    Raises
    ------
    InputError
        Where the folder holds a drill already: nothing is ever overwritten.
    """
    if (folder / DRILL_FILE).exists():
        raise InputError(where=str(folder), what="there is a drill in this folder already", do="give a new folder")
    (folder / RUNS).mkdir(parents=True, exist_ok=True)
    write_atomic(folder / DRILL_FILE, write_drill_toml(drill.drill))


def write_run(folder: Path, drill: SimulatedDrill, simulated: SimulatedRun, *, truth_step_s: float = 0.2) -> None:
    """Write one run into its folder under `folder`/runs, which is there with all of its files or not at all.

    Raises
    ------
    OSError
        Where the place is read-only or full, or there is a run of this name.
    """
    name = simulated.recording.run_id
    building = folder / RUNS / f".{name}{PART}"
    building.mkdir(parents=True)
    try:
        for file, data in run_files(drill, simulated, truth_step_s=truth_step_s).items():
            (building / file).write_bytes(data)
        building.rename(folder / RUNS / name)
    except BaseException:
        shutil.rmtree(building, ignore_errors=True)
        raise


def run_files(drill: SimulatedDrill, simulated: SimulatedRun, *, truth_step_s: float = 0.2) -> dict[str, bytes]:
    """Return the files of a run by name, as bytes."""
    recording, fixes = simulated.recording, simulated.fixes
    zero = recording.time_zero
    track = as_track(fixes, drill.drill, before_start=True)
    files = {
        MARKS_FILE: write_marks_csv(recording.marks, time_zero=zero),
        RUN_FILE: write_run_toml(recording.info),
        TRUTH_FILE: truth_text(simulated.truth, SlopePlane(drill.drill.slope), step_s=truth_step_s).encode(),
    }
    if fixes.metric:
        files["track.csv"] = write_track_csv(track, time_zero=zero)
    else:
        files["track.gpx"] = write_gpx(
            track, LocalFrame(drill.drill.origin), time_zero=zero, name=recording.run_id, decimals=fixes.decimals
        )
    if recording.readings is not None:
        files[READINGS_FILE] = write_readings_csv(recording.readings, time_zero=zero)
    return files
