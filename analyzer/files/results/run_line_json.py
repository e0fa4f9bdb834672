"""A run's line as plain dicts, and back: what a database or a file keeps of it."""

from typing import Any

from analyzer.files.json_codec import Json, codec, structured
from analyzer.model.run_line import RunLine

CODEC = codec()
"""Nothing is rounded: the line comes back exactly."""


def to_json(line: RunLine) -> Json:
    """Return the line as dicts, texts and numbers that `json.dumps` takes; `from_json` gives it back exactly."""
    values: Json = CODEC.unstructure(line)
    return values


def from_json(values: Any) -> RunLine:
    """Return the line from what `to_json` made.

    Raises
    ------
    InputError
        Where a part is missing, not known or of another kind: the reader of the store says which row it was.
    """
    return structured(CODEC, values, RunLine, name="line", noun="the line", do="make it again from its result file")
