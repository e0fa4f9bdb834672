"""A small invented workspace, what is done to it, and what must hold after an act was broken off; for the attacks.

The measuring is invented (`tests/unit/workspace/tiny_workspace.py`): what is attacked here are the files.
"""

import contextlib
import csv
import importlib.util
import io
import json
import re
import shutil
import sqlite3
import sys
import time
import tomllib
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

# Loaded here, not in each child: a kill hits the work, not the start.
import analyzer.commands.analyze
import analyzer.commands.index
import analyzer.commands.standings
import analyzer.files.folder
import analyzer.files.results.result_json  # noqa: F401
from analyzer import cli
from analyzer.commands.output import complain
from analyzer.errors import AnalyzerError
from analyzer.events.decisions_log import last_log, log_faults
from analyzer.events.files.scored_json import parse_scored
from analyzer.files.hashes import forget_hashes
from analyzer.files.results.result_json import parse_result
from analyzer.files.writers import write_drill_toml
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.workspace.database.connection import opened
from analyzer.workspace.intake.model import NO
from analyzer.workspace.intake.originals import keep
from dashboard.services.drills import Drills, Opened
from dashboard.services.intake import DONE, OPEN, Intake
from tests.attacks.children import done

TINY = Path(__file__).resolve().parents[1] / "unit" / "workspace" / "tiny_workspace.py"
_spec = importlib.util.spec_from_file_location("tiny_workspace", TINY)
tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(tiny)

SECONDS_PER_DRILL = 0.01
TOKEN = "an_invented_load"
EVENT = """[event]
name = "Invented cup"
rules = "fastest"
[[class]]
id = "open"
name = "Open"
[[field]]
drill = "bowl-1"
name = "Bowl"
[[entry]]
bib = 1
name = "Mara Lind"
class = "open"
runs = {bowl-1 = "a-1"}
[[entry]]
bib = 2
name = "Ilo Brandt"
class = "open"
runs = {bowl-1 = "b-1"}
"""
LOADED = tiny.HEAD + "".join(f"2026-01-17T10:00:{i:02d}Z,{i + 0.25},1\n" for i in range(30))


def build(club: Path) -> int:
    """Write the workspace: three drills of which two are measured and indexed, an event, people, a loaded file."""
    for number in (1, 2):
        tiny.add_drill(club, f"bowl-{number}", {"a-1": "Mara Lind", "b-1": "Ilo Brandt"})
    if cli.main(["index", str(club), "--jobs", "1"]) != 0:
        return 1
    tiny.add_drill(club, "bowl-2", {"c-1": "Runa Holm"})
    tiny.add_drill(club, "bowl-3", {"a-1": "Mara Lind"})
    (club / "events" / "cup").mkdir(parents=True)
    (club / "events" / "cup" / "event.toml").write_text(EVENT)
    (club / "people.toml").write_text('[[person]]\nname = "Mara Lind"\n')
    keep(club, "before.csv", [b"kept before"], most=99)
    return 0


def analyze(club: Path) -> int:
    """Measure all drills by the command."""
    drills = sorted(str(path) for path in (club / "drills").iterdir() if path.name.startswith("bowl"))
    return cli.main(["analyze", *drills, "--out", str(club / "results"), "--jobs", "1"])


def index(club: Path) -> int:
    """Bring the database up to date by the command."""
    return cli.main(["index", str(club), "--jobs", "1"])


def score(club: Path) -> int:
    """Score the event by the command."""
    forget_hashes()
    return cli.main(["standings", str(club / "events" / "cup"), "--jobs", "1", "--csv", str(club / "cup.csv")])


def load(club: Path) -> int:
    """Start as `serve` does, which measures what is new, then load a track into a drill as the Load page does.

    After a kill the page may say that these very bytes are a run of the drill already: then nothing is left to do.
    """
    code, intake = analyze(club), Intake(club, club / "results")
    basket = intake.basket(TOKEN)
    if basket is not None and basket.state == DONE and basket.outcome.failures:
        intake.reopen(TOKEN)
    elif basket is None or basket.state == OPEN:
        intake.take(TOKEN, "dora-1/track.csv", len(LOADED), [LOADED.encode()])
    basket = intake.basket(TOKEN)
    while basket is not None and basket.state != DONE:
        if basket.state == OPEN:
            rows = intake.plan(basket, "bowl-1").runs
            put = all(file.placed for file in basket.files)
            if put or (rows and all(row.use == NO and "already the run dora-1" in row.note for row in rows)):
                return code
            intake.settle(TOKEN, {"drill": "old:bowl-1"}, drill="bowl-1")
        time.sleep(0.001)
        basket = intake.basket(TOKEN)
    for line in basket.outcome.failures:
        complain(line)
    return 1 if basket.outcome.failures else code


def save(club: Path) -> int:
    """Save a drill that is opened, and a new one, as the Lay out page does."""
    drills = Drills(workspace=club)
    for key in ("bowl-3", "new_bowl"):
        name = "New bowl" if key == "new_bowl" else "Bowl three"
        drill = Drill(name, None, Origin(46.5, 8.0, 2100.0), Slope(20.0, 180.0), (Transmitter("A", 1.0, 2.0, 1.0),))
        there = drills.opened(key)
        if there is not None and (club / "drills" / key / "drill.toml").read_bytes() == write_drill_toml(drill):
            continue
        drills.save(drill, Opened("", "") if there is None else there[0], sure=True)
    return 0


def told(act: Callable[[Path], int], club: Path) -> int:
    """Do an act with the invented measuring, for good: in a child; an error that a page would show is one line."""
    sys.modules["analyzer.engine.pipeline"], _ = tiny.fake_pipeline(SECONDS_PER_DRILL)
    try:
        return act(club)
    except AnalyzerError as error:
        complain(str(error))
        return 2


ACTS = {"analyze": analyze, "index": index, "load": load, "save": save, "score": score}
NOT_COMPARED = ("log.jsonl", "moved.jsonl", "basket.json")
"""They hold the time."""


LOG_HEAD = re.compile(rb'"log_head": "[0-9a-f]{64}"|(?<=,)(?:[0-9a-f]{4} ){3}[0-9a-f]{4}(?=\r\n)')
"""The head of an event's log, in scored.json and in the CSV: its line holds the time."""


def headless(data: bytes | None) -> bytes | None:
    """Return a file without the head of a log, which differs from call to call."""
    return None if data is None else LOG_HEAD.sub(b"", data)


def files(club: Path) -> dict[str, bytes]:
    """Return the files under final names by their path; what is hidden is our own and may be half written."""
    found = {}
    for path in sorted(club.rglob("*")):
        place = path.relative_to(club)
        if path.is_file() and not _our_own(place):
            found[place.as_posix()] = path.read_bytes()
    return found


def _our_own(place: Path) -> bool:
    """Return whether no reader looks at a file: it is hidden, begun and not ended, or the database."""
    hidden = any(part.startswith(".") or part == "building" for part in place.parts)
    return hidden or place.suffix == ".part" or place.name.startswith("searchwake.db")


def half_written(club: Path) -> list[str]:
    """Return a line for each file under a final name that is not whole."""
    lines = []
    for place, data in files(club).items():
        try:
            _parse(place, data)
        except (ValueError, KeyError, AnalyzerError) as error:
            lines.append(f"{place}: it is not whole ({error})")
    runs = (run for run in club.glob("drills/*/runs/*") if not run.name.startswith("."))
    lines += [f"{run}: a run without its track" for run in runs if not (run / "track.csv").is_file()]
    database = club / "searchwake.db"
    if database.exists():
        with contextlib.closing(sqlite3.connect(database)) as connection:
            sound = connection.execute("PRAGMA integrity_check").fetchone()[0]
        lines += [] if sound == "ok" else [f"searchwake.db: {sound}"]
        with opened(club):
            pass
    if (club / "events" / "cup" / "log.jsonl").is_file():
        lines += log_faults(club / "events" / "cup")
    return lines


def _parse(place: str, data: bytes) -> None:
    name, parts = place.rpartition("/")[2], place.split("/")
    if parts[0] == "originals" and name != "log.jsonl":
        if sha256(data).hexdigest() != name:
            raise ValueError("its bytes are not those of its name")
    elif name == "scored.json":
        if not parse_scored(data).intact:
            raise ValueError("it is not what was written")
    elif "results" in parts and name.endswith(".json"):
        parse_result(data, name=name)
    elif name.endswith(".json"):
        json.loads(data)
    elif name.endswith(".jsonl"):
        if not data.endswith(b"\n"):
            raise ValueError("its last line is cut off")
        for line in data.splitlines():
            json.loads(line)
    elif name.endswith(".toml"):
        tomllib.loads(data.decode())
    elif name.endswith(".csv"):
        rows = list(csv.reader(io.StringIO(data.decode(), newline="")))
        if not data.endswith(b"\n") or len({len(row) for row in rows}) != 1:
            raise ValueError("its rows are not of one length")
    else:
        raise ValueError("nobody knows this file")


def lost(before: dict[str, bytes], club: Path, changed: set[str]) -> list[str]:
    """Return a line for each file of before that is gone, or has other bytes and is none that the act writes anew."""
    now = files(club)
    gone = [f"{place}: it is gone" for place in before if place not in now]
    other = [p for p in before if p in now and now[p] != before[p] and p not in changed and not p.endswith(".jsonl")]
    cut = [p for p in before if p.endswith(".jsonl") and not now.get(p, b"").startswith(before[p])]
    return [*gone, *(f"{place}: it is not as it was" for place in (*other, *cut))]


def differing(club: Path, undisturbed: dict[str, bytes]) -> list[str]:
    """Return a line for each file that is not as an undisturbed act leaves it."""
    now = files(club)
    lines = []
    for place in sorted(now.keys() | undisturbed.keys()):
        if place.rpartition("/")[2] in NOT_COMPARED:
            if (place in now) != (place in undisturbed):
                lines.append(f"{place}: it is there in one case only")
        elif headless(now.get(place)) != headless(undisturbed.get(place)):
            lines.append(f"{place}: it is not as an undisturbed act leaves it")
    event = club / "events" / "cup"
    if (event / "scored.json").is_file():
        scored = parse_scored((event / "scored.json").read_bytes())
        if last_log(event).get("integrity") != scored.integrity:
            lines.append("events/cup: the log's last line is of another scoring")
    return lines


class World:
    """The workspace as it is before the acts, and after each of them."""

    def __init__(self, scratch: Path) -> None:
        self.scratch, self.start = scratch, scratch / "start"
        code, printed = done(lambda: told(build, self.start), scratch / "output")
        if code != 0:
            raise RuntimeError(printed)
        self.before = files(self.start)
        self.after: dict[str, dict[str, bytes]] = {}
        self.seconds: dict[str, float] = {}

    def fresh(self) -> Path:
        """Return a new copy of the workspace, in the place of the one before: paths stand in what is written."""
        club = self.scratch / "club"
        shutil.rmtree(club, ignore_errors=True)
        shutil.copytree(self.start, club)
        return club

    def changed(self, name: str) -> set[str]:
        """Return the files that an act writes anew."""
        return {p for p, data in self.before.items() if self.after[name].get(p) != data}
