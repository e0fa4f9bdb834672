"""Taking files in: their bytes are kept first, then each is recognised, and a zip is opened into its files."""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Protocol

from analyzer.errors import InputError
from analyzer.files.source import MAX_BYTES
from analyzer.files.tracks.packed import is_kmz
from analyzer.files.workbook import SPREADSHEET_ENDINGS, is_workbook
from analyzer.workspace.intake.archive import ROOM, Room, is_zip, members
from analyzer.workspace.intake.model import MARKS, OTHER, READINGS, TRACK, Basket, IncomingFile
from analyzer.workspace.intake.originals import Original, keep, original_path
from analyzer.workspace.intake.recognise import recognise
from analyzer.workspace.intake.recognised import Recognised
from analyzer.workspace.intake.split import split_tracks
from analyzer.workspace.intake.split_sheets import split_sheets
from analyzer.workspace.unforeseen import unforeseen_error

MAX_UPLOAD = 100_000_000
"""Our own limit on one file or zip as it comes."""
MAX_FILES = 2500
"""Our own limit on the files of one basket."""


class Recognise(Protocol):
    """Says what a file is, as `recognise` does."""

    def __call__(self, data: bytes, *, name: str) -> Recognised:
        """Return what a file is."""


def take_in(
    workspace: Path, path: str, chunks: Iterable[bytes], *, recognised_by: Recognise = recognise, room: Room = ROOM
) -> tuple[tuple[IncomingFile, ...], tuple[str, ...]]:
    """Keep a file, and return what it is, or what is in it, and a line for each part that was not opened.

    Parameters
    ----------
    workspace : Path
    path : str
        Name as given, with the folders that came with it.
    chunks : iterable of bytes
        Its content.
    recognised_by : Recognise
        Says what each file is.
    room : Room
        How much may come out of it, where it is a zip.

    Raises
    ------
    InputError
        Where the file is too large, or the workspace is full or cannot be written to: nothing was kept then.
    """
    name = clean_path(path)
    original = keep(workspace, name, chunks, most=MAX_UPLOAD)
    place = original_path(workspace, original.sha256)
    with place.open("rb") as stream:
        zipped = is_zip(stream.read(4))
    if zipped and not _is_one_file(place, original):
        return _unpacked(workspace, place, original, recognised_by, room)
    if original.size > MAX_BYTES:
        what = f"{name}: the file has {original.size / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB are read"
        problem = f"{what}; cut the recording to this run and export it again"
        return (IncomingFile(0, name, original.sha256, original.size, OTHER, problem=problem),), ()
    return _opened(workspace, original, place.read_bytes(), recognised_by)


def _is_one_file(place: Path, original: Original) -> bool:
    """Return whether an archive is a track in its usual packing or a spreadsheet, and not the files of a drill."""
    if original.size > MAX_BYTES:
        return False
    data = place.read_bytes()
    return is_kmz(data) or is_workbook(data) or original.name.lower().endswith(SPREADSHEET_ENDINGS)


def with_files(basket: Basket, files: Iterable[IncomingFile], refused: Iterable[str], *, source: str = "") -> Basket:
    """Return a basket with further files; one that is in it already, by name and bytes, is not added again.

    Where one of them is called as another file that is there, all that came in the zip `source` get its name as a
    folder, and a loose file gets a number: files of two zips, or of two folders, are told apart then.

    Raises
    ------
    InputError
        Where the basket holds too many files.
    """
    known = {(f.path, f.sha256) for f in basket.files}
    new: list[IncomingFile] = []
    lines = [line for line in refused if line not in basket.refused]
    for file in _told_apart(list(files), basket.files, clean_path(source) if source else ""):
        if (file.path, file.sha256) not in known:
            known.add((file.path, file.sha256))
            new.append(dataclasses.replace(file, id=basket.next_id + len(new)))
    if len(basket.files) + len(new) > MAX_FILES:
        raise InputError(
            where="this load", what=f"it would hold more than {MAX_FILES} files", do="load the drill in parts"
        )
    return dataclasses.replace(basket, files=(*basket.files, *new), refused=(*basket.refused, *lines))


def _told_apart(files: list[IncomingFile], there: Sequence[IncomingFile], source: str) -> list[IncomingFile]:
    """Return files of one upload under paths that no other file of the load has."""
    have = {f.path.casefold(): f.sha256 for f in there}
    if all(have.get(f.path.casefold(), f.sha256) == f.sha256 for f in files):
        return files
    zipped = [f for f in files if f.path != source and not f.path.startswith(f"{source}/")]
    if source and zipped:
        return _in_folder(files, have, source.removesuffix(".zip"))
    return [dataclasses.replace(f, path=_numbered(f, have)) for f in files]


def _in_folder(files: list[IncomingFile], have: Mapping[str, str], wanted: str) -> list[IncomingFile]:
    """Return files in a folder, whose name gets a number where other files lie in one of that name."""
    folder, number = wanted, 1
    while any(have.get(f"{folder}/{f.path}".casefold(), f.sha256) != f.sha256 for f in files):
        number += 1
        folder = f"{wanted}-{number}"
    return [dataclasses.replace(f, path=f"{folder}/{f.path}") for f in files]


def _numbered(file: IncomingFile, have: Mapping[str, str]) -> str:
    """Return the path of a file, with a number in brackets where another file is called so."""
    path, number = file.path, 1
    stem, dot, ending = file.name.rpartition(".")
    while have.get(path.casefold(), file.sha256) != file.sha256:
        number += 1
        name = f"{stem} ({number}){dot}{ending}" if stem else f"{file.name} ({number})"
        path = f"{file.folder}/{name}" if file.folder else name
    return path


def clean_path(path: str) -> str:
    """Return a path as it is shown and compared: "/" between folders, no empty or dotted parts, at most 300 signs."""
    parts = [p.strip() for p in path.replace("\\", "/").split("/")]
    plain = "/".join(p for p in parts if p not in ("", ".", ".."))
    printable = "".join(c if c.isprintable() else "\ufffd" for c in plain)
    return printable[-300:].lstrip("/") or "file without a name"


def _unpacked(
    workspace: Path, place: Path, archive: Original, recognised_by: Recognise, room: Room
) -> tuple[tuple[IncomingFile, ...], tuple[str, ...]]:
    """Return the files in an archive, each kept under its own hash; the folder they share is theirs alone."""
    files, lines, name = list[IncomingFile](), list[str](), archive.name
    try:
        for member in members(place, name=name, room=room):
            if member.problem is not None:
                lines.append(str(member.problem))
                continue
            inside = clean_path(member.path)
            kept = keep(workspace, inside, (member.data,), most=MAX_BYTES, source=archive.sha256)
            own, told = _opened(workspace, kept, member.data, recognised_by)
            files += own
            lines += told
    except InputError as error:  # what came out before it is kept: it is not what is wrong
        return tuple(files), (*lines, str(error))
    if not files and not lines:
        lines.append(f"{name}: the zip holds no file; zip the folder of the drill or of the runs")
    return tuple(files), tuple(lines)


def _opened(
    workspace: Path, original: Original, data: bytes, recognised_by: Recognise
) -> tuple[tuple[IncomingFile, ...], tuple[str, ...]]:
    """Return what a file is; of a recording with several tracks each track, kept as a table of its own."""
    whole = _recognised(original, data, recognised_by)
    if whole.kind in (READINGS, MARKS) and whole.problem and is_workbook(data):
        return _sheets(whole, data), ()
    if whole.kind != TRACK or not whole.problem or not whole.ending:
        return (whole,), ()
    try:
        tables, lines = split_tracks(data, name=original.name, ending=whole.ending)
    except Exception as error:  # that file's alone: what is loaded with it goes on
        known = isinstance(error, InputError)
        told = error if known else unforeseen_error(original.name, "opening its tracks", error)
        return (dataclasses.replace(whole, problem=str(told)),), ()
    parts = []
    for path, title, table in tables:
        kept = keep(workspace, clean_path(path), (table,), most=MAX_BYTES, source=original.sha256)
        found = _recognised(kept, table, recognised_by)
        parts.append(dataclasses.replace(found, title=title))
    return (tuple(parts), lines) if parts else ((whole,), ())


def _sheets(whole: IncomingFile, data: bytes) -> tuple[IncomingFile, ...]:
    """Return the logs in a workbook of several runs, each with the bytes of the whole; else the workbook as it is."""
    try:
        sheets = split_sheets(data, name=whole.path)
    except Exception as error:  # that file's alone: what is loaded with it goes on
        told = error if isinstance(error, InputError) else unforeseen_error(whole.path, "opening its sheets", error)
        return (dataclasses.replace(whole, problem=str(told)),)
    logs = []
    for sheet, found in sheets:
        values = {f.name: getattr(found, f.name) for f in dataclasses.fields(found)}
        path = clean_path(f"{whole.path}/{sheet.replace('/', ' ')}")
        logs.append(IncomingFile(0, path, whole.sha256, whole.size, sheet=sheet, **values))
    return tuple(logs) or (whole,)


def _recognised(original: Original, data: bytes, recognised_by: Recognise) -> IncomingFile:
    found = recognised_by(data, name=original.name)
    values = {f.name: getattr(found, f.name) for f in dataclasses.fields(found)}
    return IncomingFile(0, original.name, original.sha256, original.size, **values)
