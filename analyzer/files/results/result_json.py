"""Result files: a run's result as JSON and back, and what every page may rely on."""

import json
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import InputError
from analyzer.files.json_codec import Json, structured
from analyzer.files.json_source import parse_json
from analyzer.files.results import RESULT_FORMAT
from analyzer.files.results.faults import result_faults
from analyzer.files.results.format_2 import CODEC, ResultFile, file_values, result_of
from analyzer.files.source import read_bytes, write_atomic
from analyzer.model.recording import InputFile
from analyzer.model.result import RunResult

AGAIN = "analyze the drill again"
REPORT = "no result was written; please report it with the files"


@dataclass(frozen=True, slots=True)
class RunHead:
    """Whose run a result is of, the files it was made from, and by which engine."""

    searcher: str
    inputs: tuple[InputFile, ...] = ()
    engine: str = ""


def result_values(result: RunResult) -> Json:
    """Return the values of a result's file."""
    return file_values(result)


def result_bytes(result: RunResult) -> bytes:
    """Return the result file of a run; equal results give equal bytes."""
    return _encoded(result_values(result))


def write_result(path: Path, result: RunResult) -> RunResult:
    """Write the result file of a run, whole or not at all, and return the result as it stands there: rounded.

    Raises
    ------
    InputError
        Where no page could show it, for a figure in it is no number: nothing is written then.
    """
    values = result_values(result)
    written = _checked(values, path.name, REPORT)
    write_atomic(path, _encoded(values))
    return written


def _encoded(values: Json) -> bytes:
    return (json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n").encode()


def read_result(path: Path) -> RunResult:
    """Return the result in a file; see `parse_result`."""
    return parse_result(read_bytes(path), name=path.name)


def parse_result(data: bytes, *, name: str = "result.json", do: str = AGAIN) -> RunResult:
    """Return the result in the bytes of a file.

    Parameters
    ----------
    data : bytes
    name, do : str
        The file and what to do about it, for the message.

    Raises
    ------
    InputError
        Where it is not JSON, of another format, or a part is missing, not known, of the wrong kind or cannot be drawn.
    """
    return _checked(_values(data, name, do), name, do)


def _checked(values: Json, name: str, do: str) -> RunResult:
    """Return the result that the values of a file are; see `parse_result`."""
    file = structured(CODEC, values, ResultFile, name=name, noun="the result", do=do)
    try:
        result = result_of(file)
    except ValueError as error:
        raise InputError(where=name, what=f"the result is damaged ({error})", do=do) from None
    for place, what in result_faults(result):
        raise InputError(where=f"{name}, {place}", what=what, do=do)
    return result


def read_head(path: Path) -> RunHead:
    """Return whose run a result file is of, even where the rest of it cannot be used.

    Raises
    ------
    InputError
        Where it is not JSON, of another format, or does not say so.
    """
    values = _values(read_bytes(path), path.name, AGAIN)
    run = values.get("run")
    head = {"searcher": run["searcher"]} if isinstance(run, dict) and "searcher" in run else {}
    head |= {key: values[key] for key in ("inputs", "engine") if key in values}
    return structured(CODEC, head, RunHead, name=path.name, noun="the result", do=AGAIN)


def _values(data: bytes, name: str, do: str) -> Json:
    return parse_json(data, name=name, wanted="a result of the format", format_line=RESULT_FORMAT, do=do)
