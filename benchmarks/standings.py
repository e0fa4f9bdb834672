"""How long standings take: 200 invented entries on three fields, ranked, read back, and answered as a page; and what a
judge's entry costs once everything is measured.

`OPENBLAS_NUM_THREADS=1 python -m benchmarks.standings`. The runs are invented and not measured: timed is all that
comes after the measuring. Medians of 9 rounds; the page is asked for as a browser does, over the server's test client.
For the judge's entry, event.toml, drills, runs and results are real files: results as large as a run of the sample day
(its own, written under 600 names), and an index that says they are measured. The first scoring reads them all.
"""

import dataclasses
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analyzer import __version__
from analyzer.events import draw
from analyzer.events.files.folder import read_event_folder
from analyzer.events.files.kept_facts import read_kept_facts
from analyzer.events.files.rules_toml import built_in_rules
from analyzer.events.files.scored_json import Sampling, Scored, read_scored, scored_bytes
from analyzer.events.measured import measured_runs
from analyzer.events.model import (
    OVERALL,
    Entry,
    Event,
    EventClass,
    EventField,
    FieldScore,
    FoundFault,
    JudgeEntry,
    RunFacts,
)
from analyzer.events.rank import all_standings
from analyzer.events.score import field_scores
from analyzer.events.store import score_event
from analyzer.files.rules_toml import default_rules
from analyzer.files.source import sha256_hex
from analyzer.model.settings import DRAWS, SEED
from analyzer.workspace.batch import Batch, analyze_drills
from analyzer.workspace.drill_key import keep_entry, read_index, result_key

ENTRIES, FIELDS, ROUNDS = 200, ("north", "gully", "ridge"), 9
WANTED_MS = 100.0
FILES = {"track.gpx": 60_000, "readings.csv": 8_000, "marks.csv": 200, "run.toml": 100}


def invented(entries: int = ENTRIES) -> tuple[Event, dict[tuple[str, str], RunFacts]]:
    """Return an event and the facts of its runs."""
    rng = np.random.default_rng(4)
    fields = tuple(EventField(name, name.capitalize(), ("A", "B", "C")) for name in FIELDS)
    people = tuple(
        Entry(str(i), f"Entry {i}", ("open", "young")[i % 2], tuple((field, f"run-{i}") for field in FIELDS))
        for i in range(1, entries + 1)
    )
    facts = {}
    for person in people:
        for drill, run in person.runs:
            hits = np.sort(rng.uniform(60.0, 420.0, 3)).round(1)
            fault = FoundFault("off_lowest", "A", "Probed beside the lowest reading.", 60.0, "findings[0]", 0.95)
            strikes = tuple(("ABC"[i], float(hit), f"probe_hits[{i}]") for i, hit in enumerate(hits))
            faults = (fault,) if rng.random() < 0.3 else ()
            ends_s = tuple(np.linspace(10.0, 500.0, 50).tolist())
            facts[drill, run] = RunFacts(f"{drill}/{run}.json", 500.0, strikes, faults, (), ends_s)
    classes = (EventClass("open", "Open"), EventClass("young", "Young"))
    return Event("Invented cup", None, built_in_rules("fastest"), classes, fields, people), facts


def scored_of(event: Event, facts: dict[tuple[str, str], RunFacts]) -> Scored:
    """Return the event scored, without any file."""
    return Scored(
        name=event.name,
        date="2026-02-14",
        engine="0.1.0",
        rules=event.rules,
        measuring=default_rules().sheet,
        settings=Sampling(DRAWS, SEED),
        inputs={},
        results={},
        notes=(),
        classes=tuple((c.id, c.name) for c in event.classes),
        fields=tuple((f.drill, f.name) for f in event.fields),
        standings=all_standings(event, field_scores(event, facts, {}), facts),
    )


def confirmed(event: Event, scores: Sequence[FieldScore]) -> tuple[JudgeEntry, ...]:
    """Return a judge's confirmation of the first proposal."""
    first = next(s for s in scores if s.proposals and s.drill != OVERALL)
    about = first.proposals[0].about
    return (JudgeEntry(1, first.bib, first.drill, "confirms", 0.0, "", "invented", "a judge", "2026-02-14Z", about),)


def drawn_anew(event: Event, facts: dict[tuple[str, str], RunFacts]) -> None:
    """Score and rank the event as a new process does: no error of a mark has been drawn before."""
    draw.forget()
    scored_of(event, facts)


def workspace_of(root: Path, scored: Scored) -> None:
    """Write a workspace whose files look like those of a real event, filled with noise, and the scored event."""
    inputs, results = {}, {}
    rng = np.random.default_rng(5)
    event = root / "events" / "cup"
    event.mkdir(parents=True)
    (event / "event.toml").write_text('[event]\nname = "Invented cup"\n')
    inputs["events/cup/event.toml"] = sha256_hex((event / "event.toml").read_bytes())
    for drill in FIELDS:
        for number in range(ENTRIES):
            folder = root / "drills" / drill / "runs" / f"run-{number + 1}"
            folder.mkdir(parents=True)
            for name, size in FILES.items():
                data = rng.bytes(size)
                (folder / name).write_bytes(data)
                inputs[(folder / name).relative_to(root).as_posix()] = sha256_hex(data)
            result = event / "results" / drill / f"run-{number + 1}.json"
            result.parent.mkdir(parents=True, exist_ok=True)
            data = rng.bytes(60_000)
            result.write_bytes(data)
            results[f"{drill}/{result.name}"] = sha256_hex(data)
    kept = dataclasses.replace(scored, inputs=dict(sorted(inputs.items())), results=results, engine=__version__)
    (event / "scored.json").write_bytes(scored_bytes(kept))


def median_ms(work, rounds: int = ROUNDS) -> float:
    """Return the median time of some work in milliseconds."""
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        work()
        times.append(1000.0 * (time.perf_counter() - begin))
    return statistics.median(times)


def page_ms(root: Path) -> tuple[float, float, float, int]:
    """Return the first answer, the median of later ones, that of an unfolded entry, and the page's bytes."""
    from dashboard.app import create_app
    from dashboard.config import Config

    client = create_app(Config(root / "results", workspace=root)).server.test_client()

    def ask(body: dict) -> bytes:
        answer = client.post("/_dash-update-component", json=body)
        assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
        return answer.data

    places = [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}]
    page = {
        "output": ".._pages_content.children..._pages_store.data..",
        "outputs": places,
        "inputs": [
            {"id": "_pages_location", "property": "pathname", "value": "/standings/cup"},
            {"id": "_pages_location", "property": "search", "value": ""},
        ],
        "changedPropIds": ["_pages_location.pathname"],
        "state": [],
    }
    lines = {"type": "entry-lines", "bib": "7"}
    entry = {
        "output": '{"bib":["MATCH"],"type":"entry-lines"}.children',
        "outputs": {"id": lines, "property": "children"},
        "inputs": [{"id": {"type": "entry-fold", "bib": "7"}, "property": "n_clicks", "value": 1}],
        "changedPropIds": ['{"bib":"7","type":"entry-fold"}.n_clicks'],
        "state": [
            {"id": lines, "property": "children", "value": None},
            {"id": "event-ref", "property": "data", "value": ["cup", "overall"]},
        ],
    }
    begin = time.perf_counter()
    size = len(ask(page))
    first = 1000.0 * (time.perf_counter() - begin)
    assert b"Sum" in ask(entry)
    return first, median_ms(lambda: ask(page)), median_ms(lambda: ask(entry)), size


def judged_workspace(root: Path) -> Path:
    """Write a workspace in which all runs are measured, and return its event: each result is the sample run's."""
    sample = Path(__file__).resolve().parents[1] / "sample_tracks" / "lower_bowl"
    cut = root / "cut" / "drills" / "lower_bowl"
    shutil.copytree(sample / "runs" / "runa-1", cut / "runs" / "runa-1")
    shutil.copy(sample / "drill.toml", cut)
    batch = Batch(out=root / "cut" / "out", rules=default_rules(), draws=DRAWS, seed=SEED, alone=True)
    analyze_drills([cut], batch)
    result = (batch.out / "lower_bowl" / "runa-1.json").read_bytes()
    old_key, entry = json.loads(result)["drill_key"], read_index(batch.out)["lower_bowl"]
    event = root / "events" / "cup"
    out = dataclasses.replace(batch, out=event / "results")
    for field in FIELDS:
        drill = root / "drills" / field
        for number in range(1, ENTRIES + 1):
            run = drill / "runs" / f"run-{number}"
            shutil.copytree(cut / "runs" / "runa-1", run)
            (run / "run.toml").write_text(f'bib = "{number}"\n')
            with (run / "track.gpx").open("a") as track:
                track.write(f"<!-- {field} {number} -->\n")
        shutil.copy(sample / "drill.toml", drill)
        _measured(drill, out, result, old_key, entry)
    names = "".join(f'[[entry]]\nbib = {i}\nname = "Entry {i}"\nclass = "open"\n' for i in range(1, ENTRIES + 1))
    fields = "".join(f'[[field]]\ndrill = "{field}"\n' for field in FIELDS)
    head = '[event]\nname = "Invented cup"\nrules = "fastest"\n[[class]]\nid = "open"\n'
    (event / "event.toml").write_text(head + fields + names)
    return event


def _measured(drill: Path, batch: Batch, result: bytes, old_key: str, entry: dict) -> None:
    """Write the sample's result for every run of a drill, with the key that the run's files have, and the index."""
    keys, rows, runs = batch.keys(drill), [], {}
    (batch.out / drill.name).mkdir(parents=True)
    for run, key in keys.runs.items():
        own = result_key(key, ())
        data = result.replace(old_key.encode(), own.encode())
        (batch.out / drill.name / f"{run}.json").write_bytes(data)
        rows.append(entry["rows"][0] | {"drill": drill.name, "run": run})
        runs[run] = {"key": key, "result": own, "failure": "", "size": len(data)}
    keep_entry(batch.out, drill.name, {"key": keys.whole, "rows": rows, "failures": [], "runs": runs})


def judge(event: Path, number: int) -> None:
    """Write one more judge's entry into the event file."""
    with (event / "event.toml").open("a") as file:
        file.write(
            f'[[judge]]\nbib = {number}\nfield = "{FIELDS[0]}"\npenalty_s = 10\nreason = "invented"\nby = "J"\n'
            "at = 2026-02-14T10:12:00+01:00\n"
        )


def print_judged() -> None:
    """Print what a judge's entry costs, as one process that keeps hashes of files and as a command typed anew."""
    with tempfile.TemporaryDirectory() as temporary:
        event = judged_workspace(Path(temporary))
        begin = time.perf_counter()
        folder = read_event_folder(event)
        score_event(folder)
        first = 1000.0 * (time.perf_counter() - begin)
        judge(event, 1)
        folder = read_event_folder(event)
        runs = measured_runs(folder, event / "results")
        kept = median_ms(lambda: read_kept_facts(event / "results"))
        ranked = median_ms(
            lambda: all_standings(folder.event, field_scores(folder.event, runs.facts, runs.problems), runs.facts), 3
        )
        verdict = "met" if ranked < WANTED_MS else "not met"
        print(f"first scoring, {len(runs.facts)} results read       {first:8.1f}")
        print(f"facts of all runs read back           {kept:8.1f}")
        print(f"a judge's entry: score and rank anew  {ranked:8.1f}   wanted {WANTED_MS:.0f}: {verdict}")
        numbers = iter(range(2, ENTRIES))

        def again() -> None:
            judge(event, next(numbers))
            score_event(read_event_folder(event), again=True)

        print(f"and with all its files, in process    {median_ms(again, 5):8.1f}")
        command = [sys.executable, "-m", "analyzer.cli", "standings", str(event), "--again"]

        def typed() -> None:
            judge(event, next(numbers))
            subprocess.run(command, check=True, capture_output=True)

        print(f"standings --again as typed            {median_ms(typed, 3):8.1f}")


def main() -> None:
    """Print the figures."""
    event, facts = invented()
    scores = field_scores(event, facts, {})
    print(f"{ENTRIES} entries on {len(FIELDS)} fields, {len(event.classes)} classes; medians of {ROUNDS}, ms")
    print(f"score every entry line by line        {median_ms(lambda: field_scores(event, facts, {})):8.1f}")
    ranked = median_ms(lambda: all_standings(event, scores, facts))
    print(f"rank all {len(all_standings(event, scores, facts)):2d} tables                   {ranked:8.1f}")
    whole = median_ms(lambda: scored_of(event, facts))
    print(f"standings (both), drawn before        {whole:8.1f}")
    judged = dataclasses.replace(event, judge=confirmed(event, scores))
    anew = median_ms(lambda: drawn_anew(judged, facts))
    verdict = "met" if anew < WANTED_MS else "not met"
    print(f"a judge's entry: score, draw and rank {anew:8.1f}   wanted {WANTED_MS:.0f}: {verdict}")
    with tempfile.TemporaryDirectory() as temporary:
        root = Path(temporary)
        workspace_of(root, scored_of(event, facts))
        back = median_ms(lambda: read_scored(root / "events" / "cup" / "scored.json"))
        print(f"read them back from scored.json       {back:8.1f}")
        first, later, entry, size = page_ms(root)
        print(f"page, first answer (hashes all files) {first:8.1f}")
        print(f"page, later answers                   {later:8.1f}   {size / 1e3:.0f} kB before packing")
        print(f"an entry unfolded                     {entry:8.1f}")
    print_judged()


if __name__ == "__main__":
    main()
