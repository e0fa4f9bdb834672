"""summary.csv: one row per run, for a spreadsheet."""

import csv
import io
from typing import Any

COLUMNS = (
    "drill",
    "run",
    "searcher",
    "evidence",
    "duration_s",
    "found",
    "transmitters",
    "signal_search_s",
    "coarse_search_s",
    "fine_search_s",
    "pinpoint_s",
    "walked_m",
    "path_ratio",
    "wrong_way_m",
    "standing_s",
    "fine_position_sigma_m",
    "score",
    "score_low",
    "score_high",
    "score_signal_search",
    "score_coarse_search",
    "score_fine_search",
    "score_pinpoint",
    "first_finding",
)

Row = dict[str, Any]


def summary_row(drill_folder: str, values: dict[str, Any]) -> Row:
    """Return the row of a run from the values of its result file.

    Seconds and metres are summed over the transmitters; a sum is empty where one of them is not assessable.
    `path_ratio` is walked over field line, both summed.
    """
    searches, phases = values["searches"], values["phases"]
    walked, line = _sum(searches, "coarse", "walked_m"), _sum(searches, "coarse", "field_line_m")
    scores = values["scores"]
    row: Row = {
        "drill": drill_folder,
        "run": values["run"]["id"],
        "searcher": values["run"]["searcher"],
        "evidence": values["evidence"]["tier"],
        "duration_s": round(values["run"]["duration_s"], 1),
        "found": sum(bool(s["found"]) for s in searches),
        "transmitters": len(values["transmitters"]),
        "walked_m": _rounded(sum(p["walked_m"] or 0.0 for p in phases), 1),
        "path_ratio": _rounded(walked / line, 3) if walked is not None and line else None,
        "wrong_way_m": _rounded(_sum(searches, "coarse", "wrong_way_m"), 1),
        "standing_s": _rounded(_sum(searches, "coarse", "standing_s"), 1),
        "fine_position_sigma_m": _value(values["evidence"]["position_sigma_m"]["fine_search"]),
        "score": _value(scores.get("overall")),
        "score_low": (scores.get("overall") or {}).get("low"),
        "score_high": (scores.get("overall") or {}).get("high"),
        "first_finding": values["findings"][0]["text"] if values["findings"] else None,
    }
    for phase in ("signal_search", "coarse_search", "fine_search", "pinpoint"):
        spans = [p["end_s"] - p["start_s"] for p in phases if p["phase"] == phase]
        row[f"{phase}_s"] = _rounded(sum(spans), 1) if spans else None
        row[f"score_{phase}"] = _value(scores.get(phase))
    return row


def summary_bytes(rows: list[Row]) -> bytes:
    """Return summary.csv; texts that a spreadsheet would run as a formula are led by an apostrophe."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([[safe_cell(row.get(column)) for column in COLUMNS] for row in rows])
    return stream.getvalue().encode()


def safe_cell(value: Any) -> Any:
    """Return a value for one cell: nothing for None, no line ends, an apostrophe before what looks like a formula."""
    if isinstance(value, str):
        text = "".join(" " if character in "\r\n\t\x00" else character for character in value)
        return "'" + text if text.lstrip()[:1] in ("=", "+", "-", "@") and text.strip() else text
    return "" if value is None else value


def _value(figure: dict[str, Any] | None) -> float | None:
    return figure.get("value") if figure else None


def _sum(searches: list[dict[str, Any]], group: str, name: str) -> float | None:
    values = [_value(search[group].get(name)) for search in searches]
    known = [value for value in values if value is not None]
    return sum(known) if known and len(known) == len(values) else None


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
