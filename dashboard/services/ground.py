"""The door to the pictures of the ground: what lies under a drill's plans, and taking, pinning and turning one off."""

import functools
import threading
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, unquote

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.drill_toml import read_drill_toml
from analyzer.files.ground_toml import GROUND_FILE
from analyzer.files.names import DRILL_FILE
from analyzer.files.source import sha256_hex
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import Drill
from analyzer.model.ground import GroundPicture, Metres, Pin
from analyzer.workspace.ground import store
from analyzer.workspace.ground.picture import MOST_BYTES as MOST_BYTES  # the server knows it from here
from analyzer.workspace.intake.store import drill_paths
from dashboard.view_models.ground import (
    DEGREES,
    TYPED,
    Row,
    Under,
    degrees_of,
    filled_rows,
    number_of,
    rows_of,
    spots_of,
    typed_rows,
)

KEPT = 8
"""Drawn pictures in memory, under half a megabyte each."""
Stamp = tuple[str, int, int, int]
_DRAWING: defaultdict[Path, threading.Lock] = defaultdict(threading.Lock)


@dataclass(frozen=True, slots=True)
class GroundView:
    """What the page of a drill's ground shows. `seen`: hash of its ground.toml, "" for none. `rows`: of the form.
    `picture`: as it lies under plans, None where it does not; `problem`: why it cannot."""

    drill: str
    name: str
    spots: tuple[tuple[str, str, Metres], ...]
    laid: store.Laid | None
    seen: str
    rows: dict[str, Row]
    picture: GroundPicture | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Grounds:
    """The pictures of the drills at hand. `folders`: gives their folders. `workspace`: None where nothing is taken."""

    folders: Callable[[], tuple[Path, ...]]
    workspace: Path | None = None

    def under(self, drill: str) -> Under | None:
        """Return the picture under the plans of a drill with the address that gives it; None where there is none.

        One that cannot be used says nothing here: the page of the drill's ground tells what is wrong with it.
        """
        found = self.picture(drill)
        if found is None:
            return None
        name, stamp = unquote(drill), sha256_hex(found.jpeg)[:12]
        return Under(f"/ground-picture/{quote(name, safe='')}/under.jpg?v={stamp}", found.box, found.credit)

    def picture(self, drill: str) -> GroundPicture | None:
        """Return the picture under the plans of a drill, None where there is none that can be used."""
        folder = self._folder(drill)
        if folder is None:
            return None
        try:
            return _picture(folder, _stamps(folder))
        except (AnalyzerError, OSError):
            return None

    def whole(self, drill: str) -> bytes:
        """Return the whole picture of a drill, small, as JPEG.

        Raises
        ------
        InputError
            Where there is none, or it cannot be read.
        """
        return store.preview_of(self._known(drill)[0])

    def view(self, drill: str) -> GroundView:
        """Return what the page of a drill's ground shows.

        Raises
        ------
        AnalyzerError
            Where there is no such drill, or it cannot be read.
        """
        folder, known = self._known(drill)
        spots = spots_of(known)
        laid, picture, problem, seen = None, None, "", store.seen_of(folder)
        try:
            laid = store.laid(folder)
            picture = _picture(folder, _stamps(folder))
        except AnalyzerError as error:
            problem = str(error)
        rows = rows_of(() if laid is None else laid.ground.pins, spots)
        return GroundView(folder.name, known.name, spots, laid, seen, rows, picture, problem)

    def take(self, drill: str, name: str, data: bytes, *, credit: str, seen: str) -> str:
        """Take a picture for a drill, and return what was done in words.

        Raises
        ------
        AnalyzerError
            Where it cannot be taken; nothing is changed then.
        """
        workspace, folder, _ = self._own(drill)
        taken = store.take_picture(workspace, folder, name, data, credit=credit, seen=seen)
        if taken.own:
            return "Taken. The picture itself says where it lies."
        return "Taken. Now pin it: press on a point in it whose place you know, and on a second one far from the first."

    def pin(self, drill: str, values: Mapping[str, str]) -> str:
        """Pin the picture of a drill by a form, and return what was done in words.

        Raises
        ------
        AnalyzerError
            Where the form does not place it; nothing is changed then.
        """
        workspace, folder, known = self._own(drill)
        rows = typed_rows(values)
        pins = tuple(_pin(number, rows[number], known) for number in filled_rows(rows))
        store.save_pins(workspace, folder, pins, seen=values.get("seen", ""))
        return "Pinned." if pins else "The pins are gone."

    def show(self, drill: str, values: Mapping[str, str]) -> str:
        """Lay the picture of a drill under its plans, or take it from there, and return what was done in words.

        Raises
        ------
        AnalyzerError
            Where it cannot be done.
        """
        workspace, folder, _ = self._own(drill)
        shown = values.get("shown") == "yes"
        store.save_shown(workspace, folder, shown, seen=values.get("seen", ""))
        return "It lies under the plans again." if shown else "It lies under no plan any more; the files stay."

    def _folder(self, drill: str) -> Path | None:
        found = {folder.resolve().name: folder for folder in self.folders()}
        if self.workspace is not None:
            found |= drill_paths(self.workspace)
        return found.get(drill) or found.get(unquote(drill))

    def _known(self, drill: str) -> tuple[Path, Drill]:
        folder = self._folder(drill)
        if folder is None:
            raise InputError(
                where=unquote(drill), what="there is no drill of this name at hand", do="look at the list of runs"
            )
        return folder, read_drill_toml(folder / DRILL_FILE)

    def _own(self, drill: str) -> tuple[Path, Path, Drill]:
        folder, known = self._known(drill)
        if self.workspace is None:
            raise InputError(
                where=folder.name, what="no workspace is open to save in", do="start searchwake serve WORKSPACE"
            )
        return self.workspace, folder, known


def _pin(number: str, row: Row, drill: Drill) -> Pin:
    where = f"point {number}"
    if not row["x_px"] or not row["y_px"]:
        raise InputError(where=where, what="it is not marked in the picture", do="press on it in the picture")
    x, y = (number_of(row[key], f"{where}, in the picture") for key in ("x_px", "y_px"))
    if row["spot"] == DEGREES:
        latitude, longitude = degrees_of(row["degrees"], where)
        east, north = LocalFrame(drill.origin).to_metres(latitude, longitude)[0].tolist()
    elif row["spot"] in (TYPED, ""):
        east, north = (number_of(row[key], f"{where}, {key[:-2]}") for key in ("east_m", "north_m"))
    else:
        places = {key: place for key, _, place in spots_of(drill)}
        if row["spot"] not in places:
            raise InputError(where=where, what="the drill has no such point (any more)", do="choose another one")
        east, north = places[row["spot"]]
    return Pin(x, y, east, north)


def _stamps(folder: Path) -> tuple[Stamp, ...]:
    """Return what tells that a picture has to be drawn anew."""
    found = store.ground_of(folder)
    names = (DRILL_FILE, GROUND_FILE, *(() if found is None else (found[0].picture,)))
    stats = [(name, (folder / name).stat()) for name in names if (folder / name).is_file()]
    return tuple((name, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_size) for name, stat in stats)


def _picture(folder: Path, stamps: tuple[Stamp, ...]) -> GroundPicture | None:
    """Return the picture of a folder; of several who ask at once one draws it, and the others wait for that."""
    with _DRAWING[folder]:
        found = _drawn(folder, stamps)
    if isinstance(found, AnalyzerError):
        raise found.with_traceback(None)
    return found


@functools.lru_cache(maxsize=KEPT)
def _drawn(folder: Path, stamps: tuple[Stamp, ...]) -> GroundPicture | AnalyzerError | None:
    """Return the picture, or why there is none, which is not looked for again at each view of a page."""
    try:
        return store.picture_of(folder, read_drill_toml(folder / DRILL_FILE)) if len(stamps) > 1 else None
    except AnalyzerError as error:
        return error


def forget_drawn() -> None:
    """Let all pictures be drawn anew."""
    _drawn.cache_clear()
