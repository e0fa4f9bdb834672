"""The measures of a run as CSV for a spreadsheet, and as JSON."""

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import asdict

from analyzer.files.csv_cells import harmless
from analyzer.model.figure import Figure, Measured
from analyzer.model.result import RunResult
from dashboard.wording import GROUPS, SAFETY, measure_name

HEADER = ("drill", "run", "searcher", "transmitter", "part", "measure", "key", "value", "low", "high", "unit", "why")


def measures_csv(result: RunResult) -> bytes:
    """Return one row per measure of every search, and one per score; UTF-8 with a mark that spreadsheets know."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    head = [harmless(text) for text in (result.drill, result.run_id, result.searcher)]
    for transmitter, part, name, key, measured in _rows(result):
        writer.writerow([*head, *(harmless(text) for text in (transmitter, part, name, key)), *_cells(measured)])
    return out.getvalue().encode("utf-8-sig")


def _rows(result: RunResult) -> Iterator[tuple[str, str, str, str, Measured]]:
    for search in result.searches:
        for group, part in GROUPS.items():
            for key, measured in getattr(search, group):
                yield search.transmitter, part, measure_name(group, key), f"{group}.{key}", measured
    for key, measured in result.scores.by_phase:
        yield "", "Score", key.replace("_", " "), f"scores.{key}", measured


def _cells(measured: Measured) -> list[str]:
    """Return value, low, high, unit and reason; numbers are numbers, so a minus before them is no formula."""
    if isinstance(measured, Figure):
        unit = "" if measured.unit == "1" else harmless(measured.unit)
        return [f"{measured.value:.6g}", f"{measured.low:.6g}", f"{measured.high:.6g}", unit, ""]
    return ["", "", "", "", harmless(measured.why)]


def measures_json(result: RunResult) -> bytes:
    """Return measures, timeline, account, scores and findings of a run in the form of the result file."""
    searches = [
        {"transmitter": s.transmitter, "found": s.found}
        | {group: {key: measured.as_json() for key, measured in getattr(s, group)} for group in GROUPS}
        for s in result.searches
    ]
    rules = {"name": result.rules.name, "version": result.rules.version, "sha256": result.rules.sha256}
    values = {
        "run": {
            "id": result.run_id,
            "searcher": result.searcher,
            "drill": result.drill,
            "time_zero": result.time_zero.isoformat().replace("+00:00", "Z"),
            "duration_s": result.duration_s,
        },
        "searches": searches,
        "timeline": [asdict(row) for row in result.timeline],
        "account": [asdict(row) | {"seconds": row.seconds.as_json()} for row in result.account],
        "scores": {key: measured.as_json() for key, measured in result.scores.by_phase} | {"rules": rules},
        "findings": [
            {"from_s": f.from_s, "to_s": f.to_s, "probability": f.probability, "text": f.text}
            | {"saving_s": f.saving_s.as_json()}
            for f in result.findings
        ],
        "possible": [
            {"from_s": f.from_s, "to_s": f.to_s, "probability": f.probability, "text": f.text} for f in result.possible
        ],
        "safety": list(SAFETY),
    }
    return (json.dumps(values, ensure_ascii=False, indent=1) + "\n").encode()
