"""A pack put into a workspace: a new one is restored, one that has files is joined with it.

What stands here is never overwritten. Of two that differ ours stays, theirs is put into `bin/`, and a line says so; a
recording that is here under another name is left out, and a line says where it is.
"""

from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from analyzer.errors import InputError
from analyzer.files.names import RUNS
from analyzer.files.source import sha256_hex, write_new
from analyzer.files.tracks.formats import is_track_name
from analyzer.workspace.append import append_line
from analyzer.workspace.layout import BIN, DRILLS, LOCK_FILE, LOG_FILE, ORIGINALS, PEOPLE_FILE, RESULTS
from analyzer.workspace.lock import locked
from analyzer.workspace.packing.opened import Pack, opened_pack
from analyzer.workspace.packing.people import join_people


@dataclass(frozen=True, slots=True)
class Unpacked:
    """What became of a pack. `put_in`, `same`: files. `doubts`: a line each, to be looked at by a person."""

    put_in: int
    same: int
    doubts: tuple[str, ...]
    notes: tuple[str, ...] = ()


def unpack(path: Path, workspace: Path) -> Unpacked:
    """Put a pack into a workspace, which is made where it is missing.

    Raises
    ------
    InputError
        As `opened_pack`, and where the workspace cannot be written to; what was put in until then stays, and the same
        call goes on from there.
    """
    with opened_pack(path) as pack:
        try:
            workspace.mkdir(parents=True, exist_ok=True)
            with locked(workspace / LOCK_FILE):
                return _put(pack, workspace)
        except OSError as error:
            do = "make room, or allow writing; then unpack again, it goes on where it stopped"
            raise InputError(where=str(workspace), what=f"it cannot be written ({error.strerror})", do=do) from None


def _put(pack: Pack, workspace: Path) -> Unpacked:
    restoring = not any((workspace / name).exists() for name in (DRILLS, PEOPLE_FILE))
    aside = f"{BIN}/{PurePosixPath(pack.name).stem}-{pack.sha256[:8]}"
    doubts: list[str] = []
    notes: list[str] = []
    left = set() if restoring else _left_out(pack, workspace, doubts)
    counts = {"put": 0, "same": 0}
    for path in pack.files:
        if path in left or (not restoring and path.startswith(f"{RESULTS}/")):
            continue  # results are measured anew from the files
        data = pack.read(path)
        if data is None:
            doubts.append(f"{path}: damaged in the pack; pack again, or do without")
            continue
        target = workspace / path
        if not target.exists():
            write_new(target, data)
            counts["put"] += 1
        elif target.is_file() and sha256_hex(target.read_bytes()) == pack.files[path]:
            counts["same"] += 1
        else:
            _joined(workspace, path, data, aside, doubts)
    if not restoring and any(path.startswith(f"{RESULTS}/") for path in pack.files):
        notes.append("results were left out: searchwake index measures what is new")
    return Unpacked(counts["put"], counts["same"], tuple(doubts), tuple(notes))


def _joined(workspace: Path, path: str, data: bytes, aside: str, doubts: list[str]) -> None:
    """Join a file with the other one that stands under its path."""
    if path == PEOPLE_FILE:
        doubts += join_people(workspace, data)
    elif path == f"{ORIGINALS}/{LOG_FILE}":
        _join_lines(workspace / path, data)
    else:
        _set_aside(workspace, path, data, aside)
        doubts.append(f"{path}: differs from the one here, which stays; the other is {aside}/{path}")


def _set_aside(workspace: Path, path: str, data: bytes, aside: str) -> None:
    target = workspace / aside / path
    if not target.exists():
        write_new(target, data)


def _join_lines(path: Path, data: bytes) -> None:
    """Add those lines of a log that it does not have, as its other writers do."""

    def missing(there: list[bytes]) -> bytes:
        have = set(there)
        return b"\n".join(line for line in data.splitlines() if line not in have)

    append_line(path, missing)


def _left_out(pack: Pack, workspace: Path, doubts: list[str]) -> set[str]:
    """Return the files of runs that stay out: their recording is in another run here, or another one is in theirs."""
    here = {sha256_hex(p.read_bytes()): p for p in _tracks(workspace)}
    left: set[str] = set()
    aside = f"{BIN}/{PurePosixPath(pack.name).stem}-{pack.sha256[:8]}"
    for run in sorted({_run_of(path) for path in pack.files} - {""}):
        own = [path for path in pack.files if path.startswith(f"{run}/")]
        track = next((path for path in own if is_track_name(PurePosixPath(path).name)), None)
        if track is None:
            continue
        found = here.get(pack.files[track])
        there = next((p for p in _tracks(workspace, run)), None)
        if found is not None and found.parent != workspace / run:
            shown = found.parent.relative_to(workspace).as_posix()
            doubts.append(f"{run}: its recording is here as {shown}; left out")
            left.update(own)
        elif there is not None and found is None:
            doubts.append(
                f"{run}: another recording is here under this name, and stays; the other run is {aside}/{run}"
            )
            left.update(own)
            for path in own:
                data = pack.read(path)
                if data is not None:
                    _set_aside(workspace, path, data, aside)
    return left


def _run_of(path: str) -> str:
    parts = path.split("/")
    return "/".join(parts[:4]) if len(parts) > 4 and (parts[0], parts[2]) == (DRILLS, RUNS) else ""


def _tracks(workspace: Path, run: str = "") -> list[Path]:
    pattern = f"{run}/*" if run else f"{DRILLS}/*/{RUNS}/*/*"
    return [p for p in sorted(workspace.glob(pattern)) if is_track_name(p.name) and p.is_file()]
