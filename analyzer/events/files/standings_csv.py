"""Standings as CSV for a spreadsheet: no text can run as a formula, numbers stay numbers."""

import csv
import io

from analyzer.events.decisions_log import shown_head
from analyzer.events.files.scored_json import Scored
from analyzer.events.model import Place
from analyzer.events.shown import ShownRow
from analyzer.events.words import shown_rows
from analyzer.files.csv_cells import harmless

COLUMNS = (
    "field",
    "class",
    "ranking",
    "place",
    "place_low",
    "place_high",
    "bib",
    "name",
    "entry_class",
    "status",
    "targets",
    "seconds",
    "low_s",
    "high_s",
    "fields_done",
    "parts",
    "penalties",
    "proposals_open",
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
    classes = dict(scored.classes)
    for table in scored.standings:
        ranking = "intermediate" if table.waiting else "final"
        rows = {
            row.bib: row
            for row in shown_rows(
                table, scored.rules.kind, classes, scored.fields, scored.standings, step_s=scored.rules.resolution_s
            )
        }
        for place in table.places:
            writer.writerow(
                [
                    harmless(table.scope),
                    harmless(table.class_id),
                    ranking,
                    *_cells(place, rows[place.score.bib]),
                    harmless("; ".join(stale.get(place.score.bib, []))),
                    scored.engine,
                    shown_head(scored.log_head),
                ]
            )
    return out.getvalue().encode("utf-8-sig")


def _cells(place: Place, row: ShownRow) -> list[str | int | float]:
    score = place.score
    numbers: list[str | int | float] = ["", "", ""]
    if score.seconds is not None:
        numbers = [round(value, 3) for value in (score.seconds.value, score.seconds.low, score.seconds.high)]
    return [
        *("" if value is None else value for value in (place.rank, place.low, place.high)),
        *(harmless(t) for t in (score.bib, place.name, place.class_id)),
        score.status,
        score.targets if score.seconds is not None else "",
        *numbers,
        score.done if score.seconds is not None else "",
        harmless("; ".join(f"{name} {text}" for name, text in row.parts)),
        harmless("; ".join(row.penalties)),
        score.open,
        harmless(" ".join(u.bib for u in place.unclear)),
        harmless(score.why),
    ]
