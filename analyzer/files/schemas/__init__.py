"""JSON Schemas (draft 2020-12) of the project's files, shipped with the program.

That of a result is made from the codec that writes it (`result_schema`). Those of input files are written by hand: TOML
as the values that it holds, dates and times as texts; a CSV as the list of its rows, numbers as numbers, empty
cells left out. They say which keys and ranges there are; what holds between values, the readers check.
"""

import json
from importlib import resources
from typing import Any

DIALECT = "https://json-schema.org/draft/2020-12/schema"
NAMES = ("result", "drill", "run", "readings", "marks", "track", "rules", "event", "event_rules", "people", "checks")


def schema(name: str) -> dict[str, Any]:
    """Return the schema of a file; `name`: one of NAMES.

    Raises
    ------
    KeyError
        Where there is no such schema.
    """
    if name not in NAMES:
        raise KeyError(name)
    found: dict[str, Any] = json.loads(resources.files("analyzer.files.schemas").joinpath(f"{name}.json").read_bytes())
    return found
