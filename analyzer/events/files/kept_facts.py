"""What was read from the result files of an event, kept beside them: a judge's entry then reads none of them again.

A result counts as read where its bytes still have the hash under which its facts stand here. The file is a help and no
evidence: where it is missing, damaged or of another version, the results are read, and `verify` does without it.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from cattrs import Converter, ForbiddenExtraKeysError

from analyzer import __version__
from analyzer.events.model import RunFacts
from analyzer.files.json_source import own_values
from analyzer.files.source import write_atomic
from analyzer.workspace.layout import FACTS_FILE

FORMAT = "searchwake-facts/2"
CONVERTER = Converter(forbid_extra_keys=True, detailed_validation=False)


@dataclass(frozen=True, slots=True)
class KeptFacts:
    """The facts of a run. `sha256`: of the result file that they were read from."""

    sha256: str
    facts: RunFacts


@dataclass(frozen=True, slots=True)
class FactsFile:
    """The file. `runs`: path of the result in the event's results -> what was read from it."""

    format: str
    engine: str
    runs: dict[str, KeptFacts]


def read_kept_facts(results: Path) -> dict[str, KeptFacts]:
    """Return what is kept in a folder of results, {} where there is nothing that this version wrote."""
    try:
        file = CONVERTER.structure(own_values(results / FACTS_FILE), FactsFile)
    except (ValueError, TypeError, KeyError, AttributeError, ForbiddenExtraKeysError):
        return {}
    return file.runs if (file.format, file.engine) == (FORMAT, __version__) else {}


def write_kept_facts(results: Path, runs: Mapping[str, KeptFacts]) -> None:
    """Write what was read from the results of a folder."""
    file = FactsFile(FORMAT, __version__, dict(sorted(runs.items())))
    data = json.dumps(CONVERTER.unstructure(file), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    write_atomic(results / FACTS_FILE, data.encode())
