"""The picture of a drill's ground in its folder: `ground.toml` with the picture beside it, taken, pinned, drawn.

The bytes of every picture and of every ground.toml that is replaced stay in `originals`.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.ground_toml import GROUND_FILE, parse_ground, write_ground
from analyzer.files.source import read_bytes, sha256_hex, write_atomic
from analyzer.geometry.placement import latitude_longitude, misfit_m, placement_of_pins, placement_of_points
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.arrays import FloatArray
from analyzer.model.drill import Drill
from analyzer.model.ground import Ground, GroundPicture, Pin
from analyzer.workspace.ground.picture import (
    ENDINGS,
    MOST_BYTES,
    Box,
    drawn,
    edges_px,
    opened,
    own_place,
    preview,
    size_px,
    upright,
)
from analyzer.workspace.intake.names import free_name
from analyzer.workspace.intake.originals import keep, storage_error
from analyzer.workspace.layout import DRILLS
from analyzer.workspace.lock import locked

LOCK = ".ground-lock"
"""In `drills`, held while a ground.toml is looked at and then changed: of two who save at once, one comes second."""
ROUND_M = 150.0
"""How far round a drill its picture is drawn: searchers come from somewhere. Our choice."""
PICTURE = "ground"
OURS = re.compile(rf"{PICTURE}(-\d+)?\.(jpg|png|tif|webp)")
"""Names that pictures get here; other files beside a ground.toml are somebody's own, and stay."""


@dataclass(frozen=True, slots=True)
class Laid:
    """The picture of a drill as it is. `seen`: hash of its ground.toml. `size_px`: of the picture, upright. `own`:
    whether the picture itself says where it lies."""

    ground: Ground
    seen: str
    size_px: tuple[int, int]
    own: bool

    @property
    def placed(self) -> bool:
        """Whether it is known where the picture lies."""
        return self.own or len(self.ground.pins) > 1


def ground_of(folder: Path) -> tuple[Ground, str] | None:
    """Return what ground.toml of a drill's folder says, and its hash; None where there is none.

    Raises
    ------
    AnalyzerError
        Where it cannot be read.
    """
    path = folder / GROUND_FILE
    if not path.is_file():
        return None
    data = read_bytes(path)
    return parse_ground(data), sha256_hex(data)


def seen_of(folder: Path) -> str:
    """Return the hash of the ground.toml of a drill's folder, "" where there is none; it need not be readable."""
    path = folder / GROUND_FILE
    return sha256_hex(read_bytes(path)) if path.is_file() else ""


def laid(folder: Path) -> Laid | None:
    """Return the picture of a drill's folder, None where there is none.

    Raises
    ------
    AnalyzerError
        Where its ground.toml or its picture cannot be read.
    """
    found = ground_of(folder)
    if found is None:
        return None
    with opened(_bytes(folder, found[0]), name=found[0].picture) as image:
        own = own_place(image) is not None
        return Laid(*found, size_px(image), own)


def _bytes(folder: Path, ground: Ground) -> bytes:
    path = folder / ground.picture
    if not path.is_file() or path.is_symlink():
        raise InputError(
            where=GROUND_FILE,
            what=f"there is no file {ground.picture} beside it",
            do="put the picture there, or give one on the page of the drill's ground",
        )
    return read_bytes(path, max_bytes=MOST_BYTES)


def picture_of(folder: Path, drill: Drill) -> GroundPicture | None:
    """Return the picture that lies under plans; None where there is none, it is turned off, or not placed yet.

    Raises
    ------
    AnalyzerError
        Where its files cannot be read, or it does not lie near the drill.
    """
    found = ground_of(folder)
    if found is None or not found[0].shown:
        return None
    ground = found[0]
    with opened(_bytes(folder, ground), name=ground.picture) as image:
        placement = placement_of_pins(ground.pins) if ground.pins else _own_metres(own_place(image), image, drill)
        if placement is None:
            return None
        jpeg, box = drawn(upright(image), placement, near(drill), name=ground.picture)
    return GroundPicture(jpeg, box, ground.credit, misfit_m(ground.pins, placement))


def _own_metres(own: tuple[int, FloatArray] | None, image: object, drill: Drill) -> FloatArray | None:
    """Return (2, 3) from pixels to metres of a picture that says where it lies: met at nine of its points, for over a
    few kilometres the grids of maps and the drill's plane differ by a turn, a scale and centimetres."""
    if own is None:
        return None
    system, matrix = own
    width, height = edges_px(image)[2]  # type: ignore[arg-type]
    pixels = np.array([[x * width, y * height] for y in (0.0, 0.5, 1.0) for x in (0.0, 0.5, 1.0)])
    degrees = latitude_longitude(system, np.column_stack([pixels, np.ones(len(pixels))]) @ matrix.T)
    return placement_of_points(pixels, LocalFrame(drill.origin).to_metres(degrees[:, 0], degrees[:, 1]))


def near(drill: Drill) -> Box:
    """Return west, east, south, north of what plans of a drill may show."""
    spots = [(0.0, 0.0), *((t.east_m, t.north_m) for t in drill.transmitters)]
    corners = np.empty((0, 2)) if drill.corners_m is None else drill.corners_m
    points = np.vstack([np.array(spots), corners])
    (west, south), (east, north) = points.min(axis=0) - ROUND_M, points.max(axis=0) + ROUND_M
    return float(west), float(east), float(south), float(north)


def preview_of(folder: Path) -> bytes:
    """Return the whole picture small, as JPEG, to pin it on.

    Raises
    ------
    AnalyzerError
        Where there is none, or it cannot be read.
    """
    found = ground_of(folder)
    if found is None:
        raise InputError(where=GROUND_FILE, what="this drill has no picture", do="give one first")
    with opened(_bytes(folder, found[0]), name=found[0].picture) as image:
        return preview(upright(image))


def take_picture(workspace: Path, folder: Path, name: str, data: bytes, *, credit: str, seen: str) -> Laid:
    """Take a picture for a drill; the one that was there, and its ground.toml, stay in `originals`.

    `seen`: hash of the ground.toml that was looked at, "" where there was none.

    Raises
    ------
    InputError
        Where it is no picture that can be used, somebody else changed it in the meantime, or it cannot be written.
    """
    if len(data) > MOST_BYTES:
        what = f"the file has {len(data) / 1e6:.0f} MB, at most {MOST_BYTES // 1_000_000} are taken"
        raise InputError(where=name, what=what, do="cut the picture to the site, or export it smaller")
    with opened(data, name=name) as image:
        own, size, kind = own_place(image) is not None, size_px(image), image.format or "PNG"
    with _changing(workspace, folder):
        before = _as_seen(folder, seen)
        keep(workspace, name, [data], most=MOST_BYTES)
        there = {path.stem for path in folder.iterdir()}
        ground = Ground(f"{free_name(PICTURE, there)}{ENDINGS[kind]}", credit=credit.strip())
        parse_ground(write_ground(ground))
        old = None if before is None else folder / before.picture
        if old is not None and old.is_file():
            _keep_file(workspace, folder, old.name)
        _keep_file(workspace, folder, GROUND_FILE)
        write_atomic(folder / ground.picture, data)  # under a name of its own: pins are never those of another picture
        laid_now = Laid(ground, _write(folder, ground), size, own)
        if old is not None and OURS.fullmatch(old.name):
            old.unlink(missing_ok=True)
        return laid_now


@contextmanager
def _changing(workspace: Path, folder: Path) -> Iterator[None]:
    """Hold the lock of all pictures, and tell what a disk complains of in one line."""
    try:
        with locked(workspace / DRILLS / LOCK):
            yield
    except OSError as error:
        raise storage_error(f"{folder.name}/{GROUND_FILE}", error) from None


def save_pins(workspace: Path, folder: Path, pins: tuple[Pin, ...], *, seen: str) -> None:
    """Pin a picture; no pins: by what the picture itself says.

    Raises
    ------
    InputError
        Where they do not place it, or lie outside it, or somebody else changed it in the meantime.
    """
    if pins:
        placement_of_pins(pins)
    now = laid(folder)
    for number, pin in enumerate(pins, start=1):
        if now is not None and not (pin.x_px <= now.size_px[0] and pin.y_px <= now.size_px[1]):
            what = f"{pin.x_px:g}, {pin.y_px:g} lies outside the picture of {now.size_px[0]} by {now.size_px[1]} pixels"
            raise InputError(where=f"pin {number}", what=what, do="press on the point in the picture")
    _change(workspace, folder, seen, pins=pins)


def save_shown(workspace: Path, folder: Path, shown: bool, *, seen: str) -> None:
    """Lay the picture under the plans, or take it from there; its files stay.

    Raises
    ------
    InputError
        Where somebody else changed it in the meantime, or it cannot be written.
    """
    _change(workspace, folder, seen, shown=shown)


def _change(workspace: Path, folder: Path, seen: str, **changes: object) -> None:
    with _changing(workspace, folder):
        before = _as_seen(folder, seen)
        if before is None:
            raise InputError(where=GROUND_FILE, what="this drill has no picture (any more)", do="give one first")
        _keep_file(workspace, folder, GROUND_FILE)
        _write(folder, replace(before, **changes))  # type: ignore[arg-type]


def _as_seen(folder: Path, seen: str) -> Ground | None:
    """Return what ground.toml says where it is still as it was seen. One that cannot be read may be replaced."""
    if seen_of(folder) != seen:
        raise InputError(
            where=GROUND_FILE,
            what="somebody else changed the picture since this page opened it",
            do="look at theirs below, and then do yours again",
        )
    try:
        found = ground_of(folder)
    except AnalyzerError:
        return None
    return None if found is None else found[0]


def _keep_file(workspace: Path, folder: Path, name: str) -> None:
    path = folder / name
    if path.is_file() and not path.is_symlink():
        data = read_bytes(path, max_bytes=MOST_BYTES)
        keep(workspace, f"{folder.name}/{name}", [data], most=len(data))


def _write(folder: Path, ground: Ground) -> str:
    data = write_ground(ground)
    parse_ground(data)  # what its reader would refuse is told before anything is written
    write_atomic(folder / GROUND_FILE, data)
    return sha256_hex(data)
