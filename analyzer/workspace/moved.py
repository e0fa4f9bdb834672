"""What moved when a drill was measured anew: per run the score before and after, and the largest change of its account.

One line of JSON a time, in `results/<drill>/moved.jsonl`.
"""

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.errors import AnalyzerError
from analyzer.files.source import regular_bytes
from analyzer.workspace.append import append_line
from analyzer.workspace.layout import MOVED_FILE

if TYPE_CHECKING:  # loads numpy
    from analyzer.model.result import RunResult

Move = dict[str, Any]
"""`run`, `score_before`, `score_after` (None where not assessable), `account`: None or phase, transmitter, cause and
seconds before and after of the row that changed most."""


def earlier_result(path: Path) -> "RunResult | None":
    """Return the result in a file, None where there is none that can be read."""
    from analyzer.files.results.result_json import read_result

    try:
        return read_result(path)
    except AnalyzerError:
        return None


def move_of(before: "RunResult", after: "RunResult") -> Move:
    """Return what moved between two results of one run, both as they stand in files."""
    old, new = _seconds(before), _seconds(after)
    rows = list(dict.fromkeys((*old, *new)))
    row = max(rows, key=lambda r: abs(new.get(r, 0.0) - old.get(r, 0.0)), default=None)
    account = None
    if row is not None and new.get(row, 0.0) != old.get(row, 0.0):
        phase, transmitter, cause = row
        seconds = {"seconds_before": old.get(row, 0.0), "seconds_after": new.get(row, 0.0)}
        account = {"phase": phase, "transmitter": transmitter, "cause": cause, **seconds}
    return {"run": after.run_id, "score_before": _overall(before), "score_after": _overall(after), "account": account}


def _seconds(result: "RunResult") -> dict[tuple[str, str, str], float]:
    return {(r.phase, r.transmitter, r.cause): r.seconds.value for r in result.account}


def _overall(result: "RunResult") -> float | None:
    from analyzer.model.figure import value_of

    overall = dict(result.scores.by_phase).get("overall")
    return None if overall is None else value_of(overall)


def note_moves(out: Path, drill: str, moves: tuple[Move, ...]) -> None:
    """Append what moved to the drill's list, with the time."""
    at = dt.datetime.now(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    line = json.dumps({"at": at, "drill": drill, "runs": moves}, ensure_ascii=False)
    append_line(out / drill / MOVED_FILE, lambda _: line.encode())


def latest_moves(out: Path, drill: str) -> tuple[str, tuple[Move, ...]]:
    """Return when a drill was last measured anew (ISO 8601, UTC) and what moved then; "" and nothing where it never was
    or the list cannot be read."""
    try:
        lines = (regular_bytes(out / drill / MOVED_FILE) or b"").splitlines()
        last = json.loads(lines[-1])
        at, runs = str(last["at"]), tuple(last["runs"])
        for move in runs:
            move_words(move)
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return "", ()
    return at, runs


def has_moved(move: Move) -> bool:
    """Return whether anything of a run is not as it was."""
    return move["account"] is not None or move["score_before"] != move["score_after"]


def move_words(move: Move) -> str:
    """Return one line on what moved."""
    before, after, row = move["score_before"], move["score_after"], move["account"]
    score = f"score {_points(before)} to {_points(after)}" if before != after else f"score {_points(after)} as before"
    if row is None:
        return f"{move['run']}: {score}, account as before"
    where = " ".join(part.replace("_", " ") for part in (row["cause"], "in", row["phase"], row["transmitter"]) if part)
    seconds = f"{row['seconds_before']:.1f} to {row['seconds_after']:.1f} s"
    return f"{move['run']}: {score}; most in the account: {where}, {seconds}"


def _points(score: float | None) -> str:
    return "not assessable" if score is None else f"{score:.1f}"
