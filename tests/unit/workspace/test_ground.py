"""The picture of a drill's ground: placed, drawn, taken and refused.

References: rasterio (GDAL) writes the GeoTIFFs and says where their pixels lie; shapely turns points; what is drawn is
looked at by its dark spots.
"""

import io
import math
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
import rasterio
import rasterio.transform
import rasterio.warp
from PIL import Image, ImageDraw, TiffImagePlugin
from shapely import affinity
from shapely.geometry import Point

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.ground_toml import GROUND_FILE, parse_ground, write_ground
from analyzer.files.writers import write_drill_toml
from analyzer.geometry.placement import inverse_of, misfit_m, placement_of_pins
from analyzer.geometry.slope_plane import LocalFrame
from analyzer.model.drill import Drill, Origin, Slope, Transmitter
from analyzer.model.ground import Ground, Pin
from analyzer.workspace.ground import picture, store
from analyzer.workspace.layout import ORIGINALS

ORIGIN = Origin(47.0, 11.0, 2000.0)


def a_drill(**changes):
    keys = {
        "name": "Slope",
        "date": None,
        "origin": ORIGIN,
        "slope": Slope(20.0, 180.0),
        "transmitters": (Transmitter("1", 20.0, 30.0, 1.0),),
    }
    return Drill(**(keys | changes))


def folder_of(workspace: Path, drill: Drill) -> Path:
    folder = workspace / "drills" / "slope"
    folder.mkdir(parents=True)
    (folder / "drill.toml").write_bytes(write_drill_toml(drill))
    return folder


def with_spots(size, spots, radius=6):
    """Return a white picture with a black disc round each of the points, in pixels."""
    image = Image.new("RGB", size, "white")
    pen = ImageDraw.Draw(image)
    for x, y in spots:
        pen.ellipse([x - radius, y - radius, x + radius, y + radius], fill="black")
    return image


def as_file(image, kind="JPEG", **how):
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def dark_spots(found):
    """Return the middle of everything dark in a drawn picture, in metres."""
    grey = 255.0 - np.asarray(Image.open(io.BytesIO(found.jpeg)).convert("L"), float)
    grey[grey < 60.0] = 0.0
    rows, columns = np.indices(grey.shape)
    x, y = ((grid + 0.5) * grey for grid in (columns, rows))
    west, east, south, north = found.box
    height, width = grey.shape
    return (
        west + x.sum() / grey.sum() / width * (east - west),
        north - y.sum() / grey.sum() / height * (north - south),
    )


def geotiff(path: Path, spot_at, *, epsg=32632, turn_deg=0.0, point=False, side=600, step=0.5, centre=(47.0, 11.0)):
    """Write a GeoTIFF with a black disc at a latitude and longitude; rasterio says which pixel that is."""
    (x,), (y,) = rasterio.warp.transform("EPSG:4326", f"EPSG:{epsg}", [centre[1]], [centre[0]])
    turn = math.radians(turn_deg)
    axes = step * np.array([[math.cos(turn), math.sin(turn)], [math.sin(turn), -math.cos(turn)]])
    corner = np.array([x, y]) - axes @ [side / 2, side / 2]
    affine = rasterio.transform.Affine(axes[0, 0], axes[0, 1], corner[0], axes[1, 0], axes[1, 1], corner[1])
    (e,), (n,) = rasterio.warp.transform("EPSG:4326", f"EPSG:{epsg}", [spot_at[1]], [spot_at[0]])
    pixel = rasterio.transform.rowcol(affine, e, n, op=float)[::-1]
    data = np.moveaxis(np.asarray(with_spots((side, side), [pixel])), 2, 0)
    options = {"AREA_OR_POINT": "Point"} if point else {}
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=3, dtype="uint8", crs=f"EPSG:{epsg}", transform=affine
    ) as out:
        out.update_tags(**options)
        out.write(data)
    return path.read_bytes()


def test_two_pins_turn_scale_and_shift():
    turn, scale, shift = 33.0, 0.27, (140.0, -60.0)
    pixels = [(10.0, 40.0), (700.0, 310.0), (400.0, 5.0)]
    ground = []
    for x, y in pixels:
        spot = affinity.scale(affinity.rotate(Point(x, -y), turn, origin=(0, 0)), scale, scale, origin=(0, 0))
        ground.append((spot.x + shift[0], spot.y + shift[1]))
    pins = tuple(Pin(*pixel, *metres) for pixel, metres in zip(pixels, ground, strict=True))
    placed = placement_of_pins(pins[:2])
    assert placed @ [*pixels[2], 1.0] == pytest.approx(ground[2], abs=1e-9)
    assert inverse_of(placed) @ [*ground[2], 1.0] == pytest.approx(pixels[2], abs=1e-9)
    assert misfit_m(pins[:2], placed) is None
    moved = (*pins[:2], Pin(*pixels[2], ground[2][0] + 3.0, ground[2][1]))
    misfit = misfit_m(moved, placement_of_pins(moved))
    assert 0.5 < misfit < 3.0


@pytest.mark.parametrize(
    "pins",
    [
        (),
        (Pin(1, 1, 0, 0),),
        (Pin(1, 1, 0, 0), Pin(5, 1, 100, 0)),
        (Pin(1, 1, 0, 0), Pin(500, 1, 1, 0)),
        (Pin(1, 1, 0, 0), Pin(1, 1, 0, 0)),
    ],
)
def test_pins_that_place_nothing_are_refused(pins):
    with pytest.raises(InputError, match="apart"):
        placement_of_pins(pins)


@pytest.mark.parametrize(
    ("epsg", "turn_deg", "point"), [(32632, 0.0, False), (32632, 25.0, False), (32633, 0.0, True), (3857, -70.0, False)]
)
def test_a_geotiff_lies_where_gdal_says(tmp_path, epsg, turn_deg, point):
    at = (47.0004, 11.0006)
    data = geotiff(tmp_path / "a.tif", at, epsg=epsg, turn_deg=turn_deg, point=point)
    drill, workspace = a_drill(), tmp_path / "w"
    folder = folder_of(workspace, drill)
    assert store.take_picture(workspace, folder, "ortho.tif", data, credit="Invented survey", seen="").placed
    found = store.picture_of(folder, drill)
    (truth,) = LocalFrame(ORIGIN).to_metres(*at)
    assert dark_spots(found) == pytest.approx(truth, abs=0.3)  # pixels of half a metre
    assert found.credit == "Invented survey"


def test_point_and_area_differ_by_half_a_pixel(tmp_path):
    with rasterio.Env():
        for name in ("area", "point"):
            geotiff(tmp_path / f"{name}.tif", (47.0, 11.0), point=name == "point", side=100)
    matrices = {}
    for name in ("area", "point"):
        with Image.open(tmp_path / f"{name}.tif") as image, rasterio.open(tmp_path / f"{name}.tif") as known:
            _, matrices[name] = picture.own_place(image)
            assert matrices[name].ravel() == pytest.approx(list(known.transform)[:6], abs=1e-6)


def test_two_pins_on_a_photo_put_what_is_on_it_in_its_place(tmp_path):
    drill, workspace = a_drill(), tmp_path
    folder = folder_of(workspace, drill)
    # east grows upwards in this photo: it was taken with its top to the east
    pixel = lambda east, north: (300.0 - north * 2.0, 500.0 - east * 2.0)  # noqa: E731
    image = with_spots((800, 1000), [pixel(-40.0, 35.0)])
    taken = store.take_picture(workspace, folder, "from the ridge.jpg", as_file(image, quality=95), credit="", seen="")
    assert not taken.placed
    assert store.picture_of(folder, drill) is None
    pins = (Pin(*pixel(0.0, 0.0), 0.0, 0.0), Pin(*pixel(20.0, 30.0), 20.0, 30.0))
    mirrored = pytest.approx((-40.0, 35.0), abs=0.3)
    store.save_pins(workspace, folder, pins, seen=taken.seen)
    assert dark_spots(store.picture_of(folder, drill)) == mirrored


def test_a_photo_is_turned_as_its_camera_says(tmp_path):
    image = with_spots((400, 200), [(300, 50)])
    exif = Image.Exif()
    exif[274] = 6  # Exif 2.32: row 0 is the right side, column 0 the top
    with picture.opened(as_file(image, exif=exif), name="a.jpg") as opened:
        turned = picture.upright(opened)
    assert turned.size == (200, 400)
    assert turned.getpixel((200 - 50, 300))[0] < 60


def test_what_is_drawn_is_light_near_and_small(tmp_path):
    drill = a_drill(corners_m=np.array([[-50.0, 0.0], [50.0, 0.0], [50.0, 80.0]]))
    folder = folder_of(tmp_path, drill)
    data = as_file(Image.new("RGB", (4000, 4000), (20, 40, 20)), quality=60)
    seen = store.take_picture(tmp_path, folder, "dark.jpg", data, credit="", seen="").seen
    pins = (Pin(0, 0, -1000.0, 1000.0), Pin(4000, 4000, 1000.0, -1000.0))
    store.save_pins(tmp_path, folder, pins, seen=seen)
    found = store.picture_of(folder, drill)
    assert found.box == pytest.approx((-200.0, 200.0, -150.0, 230.0))
    shown = Image.open(io.BytesIO(found.jpeg))
    assert max(shown.size) <= picture.MOST_SIDE_PX
    assert min(np.asarray(shown).min(axis=(0, 1))) > 120


def test_turned_off_and_on_again(tmp_path):
    drill, folder = a_drill(), folder_of(tmp_path, a_drill())
    data = geotiff(tmp_path / "a.tif", (47.0, 11.0))
    seen = store.take_picture(tmp_path, folder, "a.tif", data, credit="", seen="").seen
    store.save_shown(tmp_path, folder, False, seen=seen)
    assert store.picture_of(folder, drill) is None
    assert (folder / "ground.tif").read_bytes() == data
    store.save_shown(tmp_path, folder, True, seen=store.laid(folder).seen)
    assert store.picture_of(folder, drill) is not None


def test_the_second_of_two_windows_is_told_and_nothing_is_lost(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    first = as_file(with_spots((200, 200), [(50, 50)]))
    second = as_file(with_spots((200, 200), [(150, 50)]), "PNG")
    seen = store.take_picture(tmp_path, folder, "a.jpg", first, credit="", seen="").seen
    with pytest.raises(InputError, match="somebody else"):
        store.take_picture(tmp_path, folder, "b.png", second, credit="", seen="")
    assert (folder / "ground.jpg").read_bytes() == first
    assert not (folder / "ground.png").exists()
    before = (folder / GROUND_FILE).read_bytes()
    store.take_picture(tmp_path, folder, "b.png", second, credit="", seen=seen)
    kept = [path.read_bytes() for path in (tmp_path / ORIGINALS).iterdir() if len(path.name) == 64]
    assert first in kept
    assert second in kept
    assert before in kept


def test_a_picture_of_somebody_that_lies_there_already_is_kept(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    (folder / "ground.jpg").write_bytes(b"somebody's own")
    store.take_picture(tmp_path, folder, "a.jpg", as_file(with_spots((90, 90), [])), credit="", seen="")
    assert (folder / "ground.jpg").read_bytes() == b"somebody's own"


def sixteen_bits():
    return as_file(Image.fromarray(np.full((80, 80), 4000, "uint16")), "PNG")


def bomb():
    """Return a PNG whose head claims 60 000 by 60 000 pixels."""
    data = bytearray(as_file(Image.new("L", (60, 60)), "PNG"))
    data[16:24] = (60_000).to_bytes(4, "big") * 2
    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    return bytes(data)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no picture"),
        (b"<gpx></gpx>", "no picture"),
        (b"%PDF-1.4", "no picture"),
        (as_file(with_spots((400, 400), []))[:900], "damaged or cut off|no picture"),
        (as_file(with_spots((400, 400), [(50, 60)]), "PNG")[:-400], "damaged or cut off"),
        (as_file(with_spots((20, 400), [])), "20 by 400"),
        (sixteen_bits(), "8 bits"),
        (bomb(), "million pixels"),
        (as_file(Image.new("RGB", (80, 80)), "GIF"), "no picture"),
    ],
)
def test_what_is_no_usable_picture_is_refused_and_changes_nothing(tmp_path, data, words):
    folder = folder_of(tmp_path, a_drill())
    with pytest.raises(InputError, match=words):
        store.take_picture(tmp_path, folder, "x.jpg", data, credit="", seen="")
    assert sorted(path.name for path in folder.iterdir()) == ["drill.toml"]


def test_a_picture_of_another_place_says_how_far_away_it_is(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    data = geotiff(tmp_path / "a.tif", (47.1, 11.0), centre=(47.1, 11.0))
    store.take_picture(tmp_path, folder, "a.tif", data, credit="", seen="")
    with pytest.raises(InputError, match=r"11 1\d\d m away"):
        store.picture_of(folder, a_drill())


def test_pins_outside_the_picture_are_refused(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    seen = store.take_picture(tmp_path, folder, "a.jpg", as_file(with_spots((90, 90), [])), credit="", seen="").seen
    with pytest.raises(InputError, match=r"pin 2.*outside"):
        store.save_pins(tmp_path, folder, (Pin(1, 1, 0, 0), Pin(91, 50, 50, 50)), seen=seen)


def test_a_link_is_not_followed(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    (tmp_path / "elsewhere.jpg").write_bytes(as_file(with_spots((90, 90), [])))
    (folder / "ground.jpg").symlink_to(tmp_path / "elsewhere.jpg")
    (folder / GROUND_FILE).write_bytes(write_ground(Ground("ground.jpg")))
    with pytest.raises(InputError, match="no file"):
        store.laid(folder)


@pytest.mark.parametrize(
    "line",
    [
        'picture = "../ground.jpg"',
        'picture = "/etc/passwd"',
        'picture = ".hidden"',
        "picture = 3",
        'shown = "no"\npicture = "a.jpg"',
        'picture = "a.jpg"\n[[pin]]\nx_px = -1\ny_px = 2\neast_m = 0\nnorth_m = 0',
        'picture = "a.jpg"\n[[pin]]\nx_px = 1\ny_px = 2\neast_m = 0',
        'picture = "a.jpg"\nother = 1',
        "",
    ],
)
def test_a_wrong_ground_toml_is_told(line):
    with pytest.raises(AnalyzerError, match=r"ground\.toml"):
        parse_ground(line.encode())


def test_ground_toml_reads_back():
    made = Ground("ground.jpg", (Pin(1.5, 2, -3.25, 4), Pin(10, 20, 30, 40)), 'Of "somebody"\n', shown=False)
    assert parse_ground(write_ground(made)) == made
    assert math.isfinite(made.pins[0].x_px)


def test_why_a_picture_is_refused_is_said_once():
    """2026-11-27: a picture that is too small was told to be damaged, with the true reason in brackets."""
    with pytest.raises(InputError) as caught, picture.opened(as_file(with_spots((40, 40), [])), name="a.jpg"):
        pass
    assert str(caught.value) == "a.jpg: the picture has 40 by 40 pixels; give one of at least 50 both ways"


PINS = (Pin(0, 0, -50, 50), Pin(400, 300, 50, -25))


def a_photo(colour, **how):
    return as_file(Image.new("RGB", (400, 300), colour), **how)


def pinned(tmp_path, data=None):
    folder = folder_of(tmp_path, a_drill())
    taken = store.take_picture(tmp_path, folder, "a.jpg", data or a_photo("green"), credit="", seen="")
    store.save_pins(tmp_path, folder, PINS, seen=taken.seen)
    return folder, store.seen_of(folder)


def test_what_is_taken_can_be_drawn_and_replaced_up_to_the_limit(tmp_path):
    large = a_photo("green") + bytes(60_000_000)
    folder, seen = pinned(tmp_path, large)
    assert store.picture_of(folder, a_drill()) is not None
    store.take_picture(tmp_path, folder, "b.jpg", a_photo("red"), credit="", seen=seen)
    assert store.laid(folder).size_px == (400, 300)


def test_a_picture_that_is_not_written_to_its_end_leaves_the_one_before_with_its_pins(tmp_path, monkeypatch):
    folder, seen = pinned(tmp_path)
    before = store.picture_of(folder, a_drill())

    def broken_off(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store, "_write", broken_off)
    with pytest.raises(InputError, match="no room left"):
        store.take_picture(tmp_path, folder, "b.jpg", a_photo("red"), credit="", seen=seen)
    assert store.picture_of(folder, a_drill()) == before


def test_somebodys_own_file_beside_a_picture_of_theirs_stays(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    (folder / "site.jpg").write_bytes(a_photo("blue"))
    (folder / "ground.jpg").write_bytes(b"their own words on the ground")
    (folder / GROUND_FILE).write_bytes(write_ground(Ground("site.jpg")))
    store.take_picture(tmp_path, folder, "b.jpg", a_photo("red"), credit="", seen=store.seen_of(folder))
    assert (folder / "ground.jpg").read_bytes() == b"their own words on the ground"
    assert (folder / "site.jpg").read_bytes() == a_photo("blue")
    taken, _ = store.ground_of(folder)
    assert (folder / taken.picture).read_bytes() == a_photo("red")


def test_pictures_that_were_replaced_do_not_pile_up(tmp_path):
    folder, seen = pinned(tmp_path)
    for colour in ("red", "blue", "white"):
        seen = store.take_picture(tmp_path, folder, "b.jpg", a_photo(colour), credit="", seen=seen).seen
    assert len([p for p in folder.iterdir() if p.suffix == ".jpg"]) == 1
    assert len(list((tmp_path / ORIGINALS).iterdir())) > 4  # each is kept there


def test_a_workspace_that_cannot_be_written_to_is_one_line(tmp_path, monkeypatch):
    folder, seen = pinned(tmp_path)

    def closed(path, _):
        raise OSError(30, "Read-only file system", str(path))

    monkeypatch.setattr(store, "write_atomic", closed)
    with pytest.raises(InputError, match="read-only"):
        store.save_shown(tmp_path, folder, False, seen=seen)


def test_what_a_camera_wrote_into_a_picture_does_not_go_with_it(tmp_path):
    folder, _ = pinned(tmp_path, a_photo("green", comment=b"taken by Mara Lind"))
    assert b"Mara" not in store.picture_of(folder, a_drill()).jpeg
    assert b"Mara" not in store.preview_of(folder)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system does not tell what memory was used")
@pytest.mark.parametrize("mode", ["RGBA", "P", "RGB"])
def test_a_large_picture_is_in_memory_twice_at_most(tmp_path, mode):
    """Its own pixels, and those in red, green and blue: of 20 million, 80 MB each."""
    path = tmp_path / "a.png"
    Image.new("RGBA", (5000, 4000), (10, 120, 30, 200)).convert(mode).save(path, compress_level=1)
    words = (
        "import re, sys; from pathlib import Path; from analyzer.workspace.ground.picture import opened, upright\n"
        "most = lambda: int(re.search(r'VmHWM:\\s+(\\d+)', Path('/proc/self/status').read_text())[1]) / 1e3\n"
        "data, before = Path(sys.argv[1]).read_bytes(), most()\n"
        "with opened(data, name='a') as image: upright(image)\n"
        "print(most() - before)"
    )
    told = subprocess.run([sys.executable, "-c", words, str(path)], capture_output=True, text=True, check=True)
    assert float(told.stdout) < 190.0


def test_what_is_clear_in_a_picture_is_white(tmp_path):
    from analyzer.workspace.ground.picture import opened, upright

    half = Image.new("RGBA", (100, 1100), (200, 0, 0, 128))
    half.paste((0, 0, 250, 0), (0, 600, 100, 1100))
    with opened(as_file(half, "PNG"), name="a") as image:
        found = upright(image)
        assert found.getpixel((50, 20)) == pytest.approx((227, 127, 127), abs=1)
        assert found.getpixel((50, 1050)) == (255, 255, 255)


def tiled(side):
    """Return a TIFF of 100 by 100 pixels in one tile of `side` (TIFF 6.0, sections 2 and 15)."""
    body = zlib.compress(bytes(1000)).ljust(40, b"\0")
    tags = [(256, 4, 100), (257, 4, 100), (258, 3, 8), (259, 3, 8), (262, 3, 1), (277, 3, 1)]
    tags += [(322, 4, side), (323, 4, side), (324, 4, 8), (325, 4, len(body))]
    entries = b"".join(struct.pack("<HHII", tag, kind, 1, value) for tag, kind, value in tags)
    return b"II*\0" + struct.pack("<I", 8 + len(body)) + body + struct.pack("<H", len(tags)) + entries + bytes(4)


def test_a_small_tiff_with_a_huge_tile_is_refused_before_it_is_read(tmp_path):
    folder = folder_of(tmp_path, a_drill())
    with pytest.raises(InputError, match="million pixels"):
        store.take_picture(tmp_path, folder, "a.tif", tiled(20_000), credit="", seen="")


@pytest.mark.parametrize(
    "tags",
    [
        {(34735, 3): (1, 1, 0)},
        {(34735, 2): "1 1 0 1"},
        {(34735, 3): (1, 1, 0, 1, 3072, 0, 1, 32632), (33550, 2): "wide"},
        {(34735, 3): (1, 1, 0, 1, 3072, 0, 1, 32632), (33550, 12): (0.5,)},
    ],
)
def test_a_tiff_whose_words_on_its_place_make_no_sense_is_pinned_as_a_photo_is(tmp_path, tags):
    ifd = TiffImagePlugin.ImageFileDirectory_v2()
    for (tag, kind), value in ({(33550, 12): (0.5, 0.5, 0.0), (33922, 12): (0.0,) * 6} | tags).items():
        ifd.tagtype[tag] = kind
        ifd[tag] = value
    data = as_file(Image.new("RGB", (400, 300), "green"), "TIFF", tiffinfo=ifd)
    folder, _ = pinned(tmp_path, data)
    assert store.laid(folder).own is False
    assert store.picture_of(folder, a_drill()) is not None
