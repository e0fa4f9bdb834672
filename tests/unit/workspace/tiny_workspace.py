"""Tiny drills, and a pipeline that invents a result for each run. Shared by tests; not a test itself."""

import hashlib
import importlib.util
import time
import types
from dataclasses import replace
from pathlib import Path

from analyzer.errors import EstimationError
from analyzer.model.result import AXES, PLACES, SharedFit, SharedRun, files_sha256

_spec = importlib.util.spec_from_file_location(
    "result_builder", Path(__file__).parents[1] / "files" / "result_builder.py"
)
_builder = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_builder)

DRILL = """[drill]
name = "{name}"
origin = {{ latitude = 46.0, longitude = 7.0 }}
[[transmitter]]
id = "A"
east_m = 12
north_m = 0
depth_m = 1
"""
HEAD = "time,east_m,north_m\n"


def add_drill(club: Path, name: str, runs: dict[str, str]) -> Path:
    """Write a drill with runs: name of the run -> searcher. The tracks of no two runs are the same."""
    folder = club / "drills" / name
    for run, searcher in runs.items():
        place = folder / "runs" / run
        place.mkdir(parents=True)
        shift = int(hashlib.sha256(f"{name}/{run}".encode()).hexdigest()[:6], 16) / 1e6
        rows = [f"2026-01-17T09:30:{i:02d}Z,{i + shift:.6f},0" for i in range(30)]
        (place / "track.csv").write_text(HEAD + "\n".join(rows) + "\n")
        (place / "run.toml").write_text(f'searcher = "{searcher}"\n', encoding="utf-8")
    (folder / "drill.toml").write_text(DRILL.format(name=name.replace('"', '\\"')))
    return folder


def fake_pipeline(seconds: float = 0.0, log: Path | None = None) -> tuple[types.ModuleType, list[str]]:
    """Return an invented `analyzer.engine.pipeline` and the drills that it has measured; `log` gets a line each."""
    calls = []

    def analyze_drill(drill, recordings, rules, *, draws=64, seed=0, told=None):
        calls.append(drill.name)
        if log is not None:
            with log.open("a") as stream:
                stream.write(f"{drill.name}\n")
        time.sleep(seconds)
        runs = tuple(SharedRun(r.run_id, files_sha256(r.inputs)) for r in recordings)
        shared = SharedFit((PLACES, AXES), runs) if len(runs) > 1 else None
        return [
            EstimationError(where=r.run_id, what="no path", do="record longer")
            if r.run_id.startswith("vague")
            else replace(
                _builder.make_result(r.run_id, searcher=r.info.searcher, inputs=r.inputs, rows=3, rules=rules),
                shared=shared,
            )
            for r in recordings
        ]

    module = types.ModuleType("analyzer.engine.pipeline")
    module.analyze_drill = analyze_drill
    return module, calls
