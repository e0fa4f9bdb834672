"""A run's row of summary.csv. Apart from the table, which is written again without any numerical library."""

import math

from analyzer.files.results.summary_csv import Row
from analyzer.model.figure import Figure, usable, value_of
from analyzer.model.phases import PHASES
from analyzer.model.result import RunResult


def summary_row(drill_folder: str, result: RunResult) -> Row:
    """Return the row of a run from its result, as it was read from its file or as `write_result` gives it: rounded.

    Seconds and metres are summed over the transmitters; a sum is empty where one of them is not assessable.
    `path_ratio` is walked over field line, both summed.
    """
    walked, line = _sum(result, "coarse", "walked_m"), _sum(result, "coarse", "field_line_m")
    scores = dict(result.scores.by_phase)
    overall = scores.get("overall")
    row: Row = {
        "drill": drill_folder,
        "run": result.run_id,
        "searcher": result.searcher,
        "evidence": result.evidence.tier,
        "duration_s": round(result.duration_s, 1),
        "found": sum(search.found for search in result.searches),
        "transmitters": len(result.transmitters),
        "walked_m": _rounded(sum(p.walked_m for p in result.phases if math.isfinite(p.walked_m)), 1),
        "path_ratio": _rounded(walked / line, 3) if walked is not None and line else None,
        "wrong_way_m": _rounded(_sum(result, "coarse", "wrong_way_m"), 1),
        "standing_s": _rounded(_sum(result, "coarse", "standing_s"), 1),
        "fine_position_sigma_m": value_of(result.evidence.position_sigma_fine_m),
        "score": value_of(overall) if overall else None,
        "score_low": overall.low if isinstance(overall, Figure) else None,
        "score_high": overall.high if isinstance(overall, Figure) else None,
        "first_finding": result.findings[0].text if result.findings else None,
    }
    for phase in PHASES:
        spans = [p.end_s - p.start_s for p in result.phases if p.phase == phase]
        row[f"{phase}_s"] = _rounded(sum(spans), 1) if spans else None
        row[f"score_{phase}"] = value_of(scores[phase]) if phase in scores else None
    return row


def _sum(result: RunResult, group: str, name: str) -> float | None:
    found = [search.figure(group, name) for search in result.searches]
    known = [figure.value for figure in usable(found)]
    return sum(known) if known and len(known) == len(found) else None


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
