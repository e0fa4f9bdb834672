"""summary.csv: one row per run, for a spreadsheet."""

import csv
import io
from typing import Any

from analyzer.files.csv_cells import safe_cell

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


def summary_bytes(rows: list[Row]) -> bytes:
    """Return summary.csv; texts that a spreadsheet would run as a formula are led by an apostrophe."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([[safe_cell(row.get(column)) for column in COLUMNS] for row in rows])
    return stream.getvalue().encode()
