"""A run's line as plain dicts, and back: what a database or a file keeps of it."""

from typing import Any

from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.run_line import RunLine

Json = dict[str, Any]


def to_json(line: RunLine) -> Json:
    """Return the line as dicts, texts and numbers that `json.dumps` takes; `from_json` gives it back exactly."""
    return {
        "searcher": line.searcher,
        "drill": line.drill,
        "run": line.run,
        "time_zero": line.time_zero,
        "duration_s": float(line.duration_s),
        "reference_s": float(line.reference_s),
        "measures": {name: figure.as_json() for name, figure in line.measures},
        "causes": {cause: float(seconds) for cause, seconds in line.causes},
    }


def from_json(values: Json) -> RunLine:
    """Return the line from what `to_json` made.

    Raises
    ------
    KeyError, TypeError, ValueError
        Where a part is missing or of another kind: the reader of the store says which row it was.
    """
    return RunLine(
        searcher=str(values["searcher"]),
        drill=str(values["drill"]),
        run=str(values["run"]),
        time_zero=str(values["time_zero"]),
        duration_s=float(values["duration_s"]),
        reference_s=float(values["reference_s"]),
        measures=tuple((name, _measured(value)) for name, value in values["measures"].items()),
        causes=tuple((cause, float(seconds)) for cause, seconds in values["causes"].items()),
    )


def _measured(value: Json) -> Measured:
    if "value" not in value:
        return NotAssessable(str(value["why"]))
    return Figure(float(value["value"]), float(value["low"]), float(value["high"]), str(value["unit"]))
