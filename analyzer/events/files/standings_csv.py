"""Standings as CSV for a spreadsheet: no text can run as a formula, numbers stay numbers."""

import csv
import io

from analyzer.events.decisions_log import shown_head
from analyzer.events.files.scored_json import Scored
from analyzer.events.model import Place
from analyzer.files.csv_cells import harmless

COLUMNS = (
    "field",
    "class",
    "place",
    "bib",
    "name",
    "entry_class",
    "status",
    "targets",
    "seconds",
    "low_s",
    "high_s",
    "not_clearly_apart_from",
    "why",
    "changed_since",
    "version",
    "log_head",
)


def standings_csv(scored: Scored, stale: dict[str, list[str]]) -> bytes:
    """Return one row per place of every table; `stale`: bib -> lines on files replaced since the scoring."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for table in scored.standings:
        for place in table.places:
            writer.writerow(
                [
                    harmless(table.scope),
                    harmless(table.class_id),
                    *_cells(place),
                    harmless("; ".join(stale.get(place.score.bib, []))),
                    scored.engine,
                    shown_head(scored.log_head),
                ]
            )
    return out.getvalue().encode("utf-8-sig")


def _cells(place: Place) -> list[str | int | float]:
    score = place.score
    numbers: list[str | int | float] = ["", "", ""]
    if score.seconds is not None:
        numbers = [round(value, 3) for value in (score.seconds.value, score.seconds.low, score.seconds.high)]
    return [
        "" if place.rank is None else place.rank,
        *(harmless(t) for t in (score.bib, place.name, place.class_id)),
        score.status,
        score.targets if score.seconds is not None else "",
        *numbers,
        harmless(" ".join(u.bib for u in place.unclear)),
        harmless(score.why),
    ]
