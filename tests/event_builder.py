"""A small workspace with an invented event that is scored, for the tests of pages. Nothing in it was measured."""

from dataclasses import replace
from pathlib import Path

from analyzer import __version__
from analyzer.events.decisions_log import append_log
from analyzer.events.files.folder import read_event_folder
from analyzer.events.files.scored_json import SCORED_FILE, Sampling, Scored, parse_scored, scored_bytes
from analyzer.events.model import FoundFault, RunFacts
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores
from analyzer.files.source import sha256_hex

DRILL = """[drill]
name = "Bowl"
origin = {latitude = 46.0, longitude = 7.0}
[[transmitter]]
id = "A"
east_m = 12
north_m = 0
depth_m = 1
[[transmitter]]
id = "B"
east_m = -12
north_m = 0
depth_m = 1
"""
EVENT = """[event]
name = "Invented cup"
date = 2026-02-14
rules = "fastest"

[[class]]
id = "open"
name = "Open"
[[class]]
id = "young"
name = "First season"

[[field]]
drill = "lower_bowl"
name = "Lower bowl"
[[field]]
drill = "gully"
name = "Gully"
"""
# bib: name, class, probe hits on both fields, on which of them probing was beside the lowest reading.
PEOPLE = {
    "1": ("Mara Lind", "open", ((102.0, 231.4), (130.0, 300.0)), ()),
    "2": ("Ilo Brandt", "open", ((88.0, 230.2), (140.0, 302.0)), (1,)),
    "3": ("Runa Holm", "young", ((95.2, 190.9), (120.0, 310.0)), (0, 1)),
    "4": ("=cmd()|<img src=x onerror=window.harmed=1>", "young", ((118.0,), (100.0, 210.0)), ()),
    "5": ("Keno Aas", "young", None, ()),
}


def make_event(root: Path) -> Path:
    """Write the workspace into `root` and return the event's folder."""
    event = root / "events" / "cup"
    event.mkdir(parents=True)
    for drill in ("lower_bowl", "gully"):
        (root / "drills" / drill / "runs").mkdir(parents=True)
        (root / "drills" / drill / "drill.toml").write_text(DRILL)
    text, facts, results = EVENT, {}, {}
    for bib, (name, class_id, hits, beside) in PEOPLE.items():
        runs = {drill: "mara-1" if bib == "1" else f"run-{bib}" for drill in ("lower_bowl", "gully") if hits}
        given = ", ".join(f'{drill} = "{run}"' for drill, run in runs.items())
        status = "" if hits else 'status = "absent"\n'
        text += f'\n[[entry]]\nbib = {bib}\nname = "{name}"\nclass = "{class_id}"\nruns = {{{given}}}\n{status}'
        for number, (drill, run) in enumerate(runs.items()):
            folder = root / "drills" / drill / "runs" / run
            folder.mkdir()
            (folder / "track.csv").write_text(f"time,east_m,north_m\n2026-02-14T09:00:00Z,{bib},{number}\n")
            result = event / "results" / drill / f"{run}.json"
            result.parent.mkdir(parents=True, exist_ok=True)
            result.write_text(f"{{}} {bib}")
            results[f"{drill}/{run}.json"] = sha256_hex(result.read_bytes())
            strikes = tuple(("AB"[i], hit, f"probe_hits[{i}]") for i, hit in enumerate(hits[number]))
            fault = FoundFault("off_lowest", "A", "Probed beside the lowest reading.", 90.0, "findings[0]", 0.93)
            if len(strikes) == 1:
                strikes = (("B", *strikes[0][1:]),)
            faults = (fault,) if number in beside else ()
            facts[drill, run] = RunFacts(f"{drill}/{run}.json", 400.0, strikes, faults, (), (100.0, 400.0))
    text += (
        '\n[[judge]]\nbib = 3\nfield = "lower_bowl"\npenalty_s = 20\nreason = "left the area"\nby = "A judge"\n'
        "at = 2026-02-14T10:12:00+01:00\n"
        '[[judge]]\nbib = 3\nfield = "lower_bowl"\nconfirms = "off_lowest"\nreason = "seen"\nby = "A judge"\n'
        "at = 2026-02-14T10:14:00+01:00\n"
    )
    (event / "event.toml").write_text(text)
    (root / "events" / "later").mkdir()
    (root / "events" / "later" / "event.toml").write_text(
        EVENT + '[[entry]]\nbib = 1\nname = "M"\nclass = "open"\n[[entry]]\nbib = 2\nname = "I"\nclass = "young"\n'
    )
    (root / "events" / "wrong").mkdir()
    (root / "events" / "wrong" / "event.toml").write_text("[event]\n")
    folder = read_event_folder(event)
    read = folder.event
    scored = Scored(
        name=read.name,
        date="2026-02-14",
        engine=__version__,
        rules=read.rules,
        measuring=folder.measuring.sheet,
        settings=Sampling(64, 0),
        inputs=folder.inputs,
        results=results,
        notes=(),
        classes=tuple((c.id, c.name) for c in read.classes),
        fields=tuple((f.drill, f.name) for f in read.fields),
        standings=all_standings(read, field_scores(read, facts, {}), facts),
    )
    head = append_log(event, action="scored", integrity=parse_scored(scored_bytes(scored)).integrity)
    (event / SCORED_FILE).write_bytes(scored_bytes(replace(scored, log_head=head)))
    return event
