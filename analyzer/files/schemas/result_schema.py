"""The JSON Schema of a result file, made from the codec that writes it: the two cannot drift.

`python -m analyzer.files.schemas.result_schema` writes `result.json` anew.
"""

import json
from pathlib import Path

from analyzer.files.json_codec import Json
from analyzer.files.results import RESULT_FORMAT
from analyzer.files.results.format_2 import CODEC, NONE, Area, ResultFile
from analyzer.files.schemas import DIALECT
from analyzer.files.schemas.of_codec import FIGURES, NUMBER, schema_of
from analyzer.files.source import write_atomic
from analyzer.model.account import (
    ACTIVITIES,
    FAULT_CAUSES,
    OTHER_CAUSES,
    PHASE_KEYS,
    AccountRow,
    Finding,
    PointLoss,
    TimelineRow,
)
from analyzer.model.path import Evidence
from analyzer.model.phases import PHASES
from analyzer.model.recording import SPLIT_MARKS, InputFile
from analyzer.model.result import AXES, PLACES, Phase, PlanLine, RunResult, SharedFit, SharedRun, Split
from analyzer.model.rules import ReferenceRules

TEXT: Json = {"type": "string"}
SHA256: Json = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
POINTS: Json = {"type": "array", "items": {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}}


def _one_of(words: tuple[str, ...]) -> Json:
    return {"enum": list(words)}


def _rows(**keys: Json) -> Json:
    return {"type": "array", "items": _item(**keys)}


def _item(**keys: Json) -> Json:
    return {"type": "object", "properties": keys, "required": list(keys), "additionalProperties": False}


def _told() -> dict[tuple[type, str], Json]:
    """Return what the types of a result do not say of its file."""
    causes = _one_of((*FAULT_CAUSES, *OTHER_CAUSES))
    told: dict[tuple[type, str], Json] = {
        (kind, "phase"): _one_of(PHASES) for kind in (Phase, TimelineRow, AccountRow, Finding)
    }
    area = schema_of(CODEC, Area, {(Area, "corners_m"): POINTS})
    shared = schema_of(CODEC, SharedFit, {(SharedRun, "sha256"): SHA256, (SharedFit, "estimated"): _estimated()})
    return told | {
        (ResultFile, "format"): {"const": RESULT_FORMAT},
        (InputFile, "sha256"): SHA256,
        (InputFile, "dropped"): _rows(reason=TEXT, count={"type": "integer"}),
        (Evidence, "axis_source"): _one_of(("given", "estimated", "unknown")),
        (Evidence, "tier"): _one_of(("track", "track+readings", "survey", "survey+readings")),
        (Split, "mark"): _one_of(SPLIT_MARKS),
        (TimelineRow, "activity"): _one_of(ACTIVITIES),
        (AccountRow, "cause"): causes,
        (PointLoss, "phase"): _one_of(PHASE_KEYS),
        (PointLoss, "cause"): causes,
        (PlanLine, "points_m"): POINTS,
        (PlanLine, "kind"): _one_of(("strips", "field_line", "bracket", "lowest")),
        (ReferenceRules, "pace"): POINTS,
        (RunResult, "shared"): {"anyOf": [{"const": NONE}, shared]},
        (RunResult, "slope"): _item(angle_deg=NUMBER, aspect_deg=NUMBER),
        (RunResult, "corners_m"): {"anyOf": [{"type": "null"}, area]},
        (RunResult, "readings"): {"type": "null"},  # that of ResultFile stands in its place
        (RunResult, "probe_hits_s"): _rows(transmitter=TEXT, at_s=NUMBER),
    }


def _estimated() -> Json:
    return {"type": "array", "items": _one_of((PLACES, AXES))}


def result_schema() -> Json:
    """Return the JSON Schema of a result file."""
    body = schema_of(CODEC, ResultFile, _told())
    head = {"$schema": DIALECT, "title": RESULT_FORMAT, "description": "One run as it was measured."}
    return head | body | {"$defs": FIGURES}


def schema_bytes() -> bytes:
    """Return the schema as its file."""
    return (json.dumps(result_schema(), indent=1, ensure_ascii=False) + "\n").encode()


if __name__ == "__main__":
    write_atomic(Path(__file__).with_name("result.json"), schema_bytes())
