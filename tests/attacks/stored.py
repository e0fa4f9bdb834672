"""A small workspace with one of everything that a dashboard reads; all of it is invented, nothing was measured."""

import dataclasses
import datetime as dt
import importlib.util
import io
import shutil
import sys
from pathlib import Path
from types import ModuleType

from analyzer.files.names import RUN_FILE
from analyzer.files.results.result_json import write_result
from analyzer.files.rules_toml import default_rules_bytes
from analyzer.workspace.layout import (
    BIN,
    DATABASE_FILE,
    DEVICES_FILE,
    EVENTS,
    INCOMING,
    PEOPLE_FILE,
    RESULTS,
    RULE_SHEETS,
)
from analyzer.workspace.runs.changes import delete_run
from tests.support.phones import with_track

HERE = Path(__file__).resolve().parents[1]
SAMPLES = HERE.parent / "sample_tracks" / "lower_bowl"
BASKET = "an-invented-load"
PEOPLE = """[[person]]
name = "Mara Fennick"
group = "Own"
consent = true
consent_date = 2026-01-17
spellings = ["mf"]

[[person]]
name = "Ilo Brandt"
group = "Own"
consent = true
consent_date = 2026-01-17
"""
RUN_TOML = """searcher = "{}"
antennas = 3
title = "Morning, wind"
note = "Turned late."
praised = "The pace"

"""
RUNS = (("mara-1", "Mara Fennick"), ("ilo-1", "Ilo Brandt"), ("runa-1", "Runa Holm"), ("mara-2", "Mara Fennick"))


def make_workspace(root: Path) -> Path:
    """Fill a folder with a workspace and return it."""
    _beside("event_builder").make_event(root)
    make_result = _beside("unit/dashboard/result_builder").make_result
    for number, (run, searcher) in enumerate(RUNS):
        result = make_result(run_id=run, searcher=searcher, with_readings=number != 1, findings=4 - number, step_s=5.0)
        later = result.time_zero + dt.timedelta(days=7 * number)
        if run == "mara-1":
            result = with_track(result, (SAMPLES / "runs" / "mara-1" / "track.gpx").read_bytes())
        for drill in ("lower_bowl", "gully")[: 2 if run == "mara-1" else 1]:
            write_result(root / RESULTS / drill / f"{run}.json", dataclasses.replace(result, time_zero=later))
    (root / RULE_SHEETS).mkdir()
    (root / RULE_SHEETS / "own.toml").write_bytes(default_rules_bytes().replace(b'version = "1"', b'version = "9"'))
    (root / PEOPLE_FILE).write_text(PEOPLE)
    _fill_basket(root)
    _fill_runs(root)
    return root


def _fill_runs(root: Path) -> None:
    """Give runs their particulars, put one into the bin, and lay a picture under a drill."""
    from PIL import Image

    from analyzer.workspace.ground.store import take_picture

    runs = root / "drills" / "lower_bowl" / "runs"
    for run in ("ilo-1", "gone-1"):
        shutil.copytree(SAMPLES / "runs" / "mara-1", runs / run)
    for run, searcher in (("mara-1", "Mara Fennick"), ("ilo-1", "Ilo Brandt")):
        text = RUN_TOML.format(searcher)
        (runs / run / RUN_FILE).write_text(text)
    delete_run(root, root / RESULTS, "lower_bowl", "gone-1")
    picture = io.BytesIO()
    Image.new("RGB", (160, 120), "white").save(picture, "JPEG")
    take_picture(root, root / "drills" / "lower_bowl", "bowl.jpg", picture.getvalue(), credit="Own", seen="")


def _fill_basket(root: Path) -> None:
    from dashboard.services.intake import Intake

    intake = Intake(root, root / RESULTS)
    for name in ("drill.toml", "runs/mara-1/track.gpx", "runs/mara-1/readings.csv"):
        intake.take(BASKET, name, 0, [(SAMPLES / name).read_bytes()])
    intake.take(BASKET, "video.csv", 0, [b"elapsed,reading_m\n10,30\n20,25\n"])


def damageable(root: Path) -> list[Path]:
    """Return the stored files that are read for a page."""
    found = [*(root / RESULTS).glob("*/*.json"), *(root / RULE_SHEETS).glob("*.toml"), root / PEOPLE_FILE]
    found += [*(root / "drills").glob("*/drill.toml"), *(root / EVENTS).glob("cup/event.toml")]
    found += [*(root / EVENTS).glob("cup/*.json"), *(root / EVENTS).glob("cup/results/*/run-2.json")]
    found += [*(root / INCOMING).glob("*/basket.json")]
    found += [*(root / "drills").glob("*/runs/*/*.toml"), *(root / "drills").glob("*/ground*")]
    found += [*(root / BIN).glob("*/*.json"), *(root / BIN).glob("*/*.toml"), root / INCOMING / DEVICES_FILE]
    found += [root / DATABASE_FILE] if (root / DATABASE_FILE).is_file() else []
    return sorted({path for path in found if path.is_file()})


def put_damaged(path: Path, data: bytes, how: str) -> None:
    """Put bytes where a file was, or `how` "folder", "link" or "gone": what is no file at all."""
    _clear(path)
    if how == "folder":
        path.mkdir()
    elif how == "link":
        path.symlink_to(path.name)  # leads to itself
    elif how != "gone":
        path.write_bytes(data)


def put_back(path: Path, data: bytes) -> None:
    """Put a file back as it was."""
    _clear(path)
    path.write_bytes(data)


def _clear(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _beside(name: str) -> ModuleType:
    """Return a module of the tests, which are no packages, by its path."""
    key = f"attacked_{name.replace('/', '_')}"
    if key not in sys.modules:
        spec = importlib.util.spec_from_file_location(key, HERE / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[key] = module
        spec.loader.exec_module(module)
    return sys.modules[key]
