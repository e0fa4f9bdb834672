"""forgotten.json of an event: what a score rests on, of runs whose searchers were forgotten. It names nobody.

Their recordings and results are gone; times, findings and figures stay under the bib, so that the event can still be
ranked and verified.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from cattrs import Converter, ForbiddenExtraKeysError

from analyzer.errors import InputError
from analyzer.events.model import RunFacts
from analyzer.files.json_source import json_values
from analyzer.files.source import read_bytes, write_atomic
from analyzer.workspace.layout import FORGOTTEN_FILE

FORMAT = "searchwake-forgotten/1"
PUT_BACK = "put back the one that was scored; without it the entries that were forgotten have no times"
CONVERTER = Converter(forbid_extra_keys=True, detailed_validation=False)


@dataclass(frozen=True, slots=True)
class ForgottenRun:
    """One run. `run`: the name that stands for it now ("bib-7"). `facts`: what a score rests on, None where the run
    could not be measured, and `problem` says why."""

    bib: str
    drill: str
    run: str
    facts: RunFacts | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class ForgottenFile:
    """The file."""

    format: str
    runs: tuple[ForgottenRun, ...]


def read_forgotten(event: Path) -> tuple[ForgottenRun, ...]:
    """Return the forgotten runs of an event, () where there are none.

    Raises
    ------
    InputError
        Where the file is there and cannot be used.
    """
    path = event / FORGOTTEN_FILE
    if not path.is_file():
        return ()
    values = json_values(read_bytes(path), name=FORGOTTEN_FILE, do=PUT_BACK)
    try:
        file = CONVERTER.structure(values, ForgottenFile)
        if file.format != FORMAT:
            raise ValueError(f"not of the format {FORMAT}")
    except (ValueError, TypeError, KeyError, AttributeError, ForbiddenExtraKeysError) as error:
        why = " ".join(str(error).split())
        raise InputError(where=FORGOTTEN_FILE, what=f"the file is damaged ({why})", do=PUT_BACK) from None
    return file.runs


def write_forgotten(event: Path, runs: Iterable[ForgottenRun]) -> None:
    """Write the forgotten runs of an event, in the order of fields and bibs."""
    told = tuple(
        one if one.facts is None else replace(one, facts=replace(one.facts, source=FORGOTTEN_FILE))
        for one in sorted(runs, key=lambda one: (one.drill, one.bib))
    )
    values = CONVERTER.unstructure(ForgottenFile(FORMAT, told))
    data = json.dumps(values, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    write_atomic(event / FORGOTTEN_FILE, data.encode())
