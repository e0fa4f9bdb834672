"""What is wrong with the stored files of an event by the hashes that they hold of themselves and of each other."""

from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.events.decisions_log import last_log, log_faults, log_head, read_log, shown_head
from analyzer.events.files.scored_json import SCORED_FILE, Scored
from analyzer.files.hashes import UNREADABLE, hash_at
from analyzer.workspace.layout import EARLIER_STANDINGS, LOG_FILE, RESULTS


def written_faults(event: Path, scored: Scored) -> list[str]:
    """Return a line for scored.json, every result file and the log where it is not as it was written.

    Parameters
    ----------
    event : Path
        The event's folder.
    scored : Scored
        What stands in its scored.json.
    """
    own = [] if scored.intact else [f"{SCORED_FILE}, integrity: the file was changed after it was written"]
    return [*own, *changed_results(event, scored), *log_and_scored_faults(event, scored), *earlier_faults(event)]


def unread_faults(event: Path, error: AnalyzerError) -> list[str]:
    """Return the lines of `written_faults` that can be told where scored.json cannot be read, and why it cannot."""
    return [str(error), *log_faults(event), *earlier_faults(event)]


def log_and_scored_faults(event: Path, scored: Scored) -> list[str]:
    """Return a line for each break of the log, and where it and scored.json do not tell of the same scoring."""
    lines = log_faults(event)
    if not (event / LOG_FILE).is_file():
        return lines
    noted = last_log(event).get("integrity", "")
    if noted != scored.integrity:
        lines.append(
            f"{SCORED_FILE}, integrity: stored {scored.integrity}, the last line of {LOG_FILE} has {noted or 'none'}"
        )
    head = log_head(event)
    if head != scored.log_head:
        lines.append(
            f"{SCORED_FILE}, log_head: stored {shown_head(scored.log_head) or 'none'}, "
            f"that of {LOG_FILE} is {shown_head(head) or 'none'}"
        )
    return lines


def changed_results(event: Path, scored: Scored) -> list[str]:
    """Return a line for every result file whose bytes are not those that were scored."""
    lines, root = [], str(event / RESULTS)
    for name, sha256 in scored.results.items():
        found = hash_at(f"{root}/{name}")
        if found is None:
            lines.append(f"{RESULTS}/{name}: the file is missing")
        elif found.startswith(UNREADABLE):
            lines.append(f"{RESULTS}/{name}: the file is {found}")
        elif found != sha256:
            lines.append(f"{RESULTS}/{name}: the file was changed after the scoring (SHA-256 differs)")
    return lines


def earlier_faults(event: Path) -> list[str]:
    """Return a line for every earlier standing that is not as the log noted it when it was put away.

    One that nobody could read goes when somebody is forgotten; the log notes it without a hash, and it is not missed.
    """
    noted: dict[str, str] = {}
    for line in read_log(event):
        kept = line.get("kept")
        if isinstance(kept, dict):
            noted |= {f"{EARLIER_STANDINGS}/{Path(name).name}": str(sha256) for name, sha256 in kept.items()}
    lines = []
    for name, sha256 in noted.items():
        found = hash_at(str(event / name))
        if found is None and sha256:
            lines.append(f"{name}: this earlier standing is missing")
        elif found is not None and found != sha256:
            lines.append(f"{name}: this earlier standing was changed after it was put away (SHA-256 differs)")
    return lines
