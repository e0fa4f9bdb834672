"""All of one person's data in one zip, in the forms that the person can read without this program."""

import csv
import io
import itertools
import json
import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.checks_toml import parse_checks_toml, write_checks_toml
from analyzer.files.csv_cells import safe_cell
from analyzer.files.names import DRILL_FILE, RUNS
from analyzer.files.results.run_line_json import to_json
from analyzer.files.source import PART, give_free_name
from analyzer.model.figure import Figure
from analyzer.model.people import name_key
from analyzer.model.run_line import RunLine
from analyzer.workspace.database.connection import opened
from analyzer.workspace.database.queries import run_lines
from analyzer.workspace.people.changes import person_named
from analyzer.workspace.people.people_toml import person_text
from analyzer.workspace.people.personal_data import PersonalData, find_traces
from analyzer.workspace.people.rows import note

COLUMNS = ("drill", "run", "time_zero", "kind", "name", "value", "low", "high", "unit", "why")
ABOUT = """All that this workspace holds of one searcher.

person.toml   the entry in people.toml
runs/         the files of each run as they were recorded, and the drill.toml of each drill
results/      what was measured
originals/    files as they were loaded
checks/       what was checked before each drill
bin/          runs that were deleted, and files that were replaced
events/       of each event they took part in: places, scores line by line, and what was measured there
lines.csv     the figures that the season is made of, one a row; lines.json the same
Times are seconds, lengths metres, moments UTC; low to high is a 90 % interval.
"""


def export_person(
    workspace: Path,
    name: str,
    out: Path,
    *,
    more: Callable[[Path, PersonalData], Iterator[tuple[str, bytes]]] = lambda *_: iter(()),
) -> PersonalData:
    """Write the zip of a person's data and return what there was.

    Parameters
    ----------
    workspace : Path
    name : str
        A name or another spelling, listed in people.toml or not.
    out : Path
        The zip, which must not be there yet.
    more : function
        Workspace, what there is of the person -> (path in the zip, bytes) of what else is theirs, as in events.

    Raises
    ------
    InputError
        Where nothing is known of the name, `out` is there or cannot be written, or the database cannot be used.
    """
    person, listed = person_named(workspace, name)
    with opened(workspace) as store:
        personal_data = find_traces(workspace, person)
        if not (listed or any((personal_data.runs, personal_data.results, personal_data.binned, personal_data.checks))):
            raise InputError(
                where=name, what="there is nothing of this name", do="look at searchwake people WORKSPACE list"
            )
        lines = run_lines(store, person=person.name)
        _write_zip(out, itertools.chain(_entries(workspace, personal_data, lines), more(workspace, personal_data)))
        with store.writing() as session:
            note(session, f"the data of one person were exported: {len(personal_data.runs)} runs")
    return personal_data


def _entries(workspace: Path, personal_data: PersonalData, lines: Sequence[RunLine]) -> Iterator[tuple[str, bytes]]:
    yield "README.txt", ABOUT.encode()
    yield "person.toml", person_text(personal_data.person).encode()
    yield "lines.json", (json.dumps([to_json(line) for line in lines], ensure_ascii=False, indent=1) + "\n").encode()
    yield "lines.csv", lines_csv(lines)
    for drill in sorted({run.parent.parent for run in personal_data.runs}):
        if (drill / DRILL_FILE).is_file():
            yield f"{RUNS}/{drill.name}/{DRILL_FILE}", (drill / DRILL_FILE).read_bytes()
    for run in personal_data.runs:
        for path in sorted(p for p in run.rglob("*") if p.is_file()):
            yield f"{RUNS}/{run.parent.parent.name}/{run.name}/{path.relative_to(run).as_posix()}", path.read_bytes()
    for path in personal_data.results:
        yield path.relative_to(workspace).as_posix(), path.read_bytes()
    for entry in personal_data.binned:
        for path in sorted(p for p in entry.rglob("*") if p.is_file()):
            yield path.relative_to(workspace).as_posix(), path.read_bytes()
    keys = {name_key(name) for name in personal_data.person.names}
    for path in personal_data.checks:
        own = [c for c in parse_checks_toml(path.read_bytes()) if name_key(c.who) in keys]
        yield f"checks/{path.parent.name}/{path.name}", write_checks_toml(own)
    for path in personal_data.originals:
        yield f"originals/{path.name}", path.read_bytes()


def lines_csv(lines: Sequence[RunLine]) -> bytes:
    """Return one row per figure and cause; texts that a spreadsheet would run as a formula are led by an apostrophe."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    for line in lines:
        head = (line.drill, line.run, line.time_zero)
        rows: list[tuple[object, ...]] = [
            (*head, "time", "duration_s", line.duration_s, "", "", "s", ""),
            (*head, "time", "reference_s", line.reference_s, "", "", "s", ""),
        ]
        for name, figure in line.measures:
            if isinstance(figure, Figure):
                rows.append((*head, "measure", name, figure.value, figure.low, figure.high, figure.unit, ""))
            else:
                rows.append((*head, "measure", name, "", "", "", "", figure.why))
        rows += [(*head, "cause", cause, seconds, "", "", "s", "") for cause, seconds in line.causes]
        writer.writerows([safe_cell(value) for value in row] for row in rows)
    return stream.getvalue().encode()


def _write_zip(out: Path, entries: Iterator[tuple[str, bytes]]) -> None:
    """Write a zip under a temporary name, then give it its own, which must be free."""
    taken = InputError(where=str(out), what="there is already such a file", do="give another name with --out")
    if out.exists():
        raise taken
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(dir=out.parent, prefix=".", suffix=PART)
        with os.fdopen(handle, "wb") as stream, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in entries:
                archive.writestr(name, data)
        give_free_name(Path(temporary), out)  # private: the file keeps the rights of a temporary one
    except FileExistsError:  # come in between
        raise taken from None
    except OSError as error:
        raise InputError(
            where=str(out), what=f"the export failed ({error.strerror})", do="make room, or give another --out"
        ) from None
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
