"""Pictures from files: opening one within bounds, what a GeoTIFF says of its place, and the light part near a drill.

Sources: OGC GeoTIFF 1.1 (19-008r4) for tags 33550, 33922, 34264, 34735 and their keys; Exif 2.32 for orientation, which
Pillow applies. Only the four kinds that are named here are ever handed to a decoder.
"""

import io
import math
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from PIL import Image, ImageEnhance, ImageOps, UnidentifiedImageError

from analyzer.errors import InputError
from analyzer.geometry.placement import inverse_of, metres_a_pixel
from analyzer.model.arrays import FloatArray

KINDS = ("JPEG", "PNG", "TIFF", "WEBP")
ENDINGS = {"JPEG": ".jpg", "PNG": ".png", "TIFF": ".tif", "WEBP": ".webp"}
MOST_BYTES = 100_000_000
MOST_PIXELS = 60_000_000
"""Of a picture: measured, 290 to 520 MB while it is drawn. Our choice; 1 km at 13 cm a pixel."""
LEAST_SIDE_PX = 50
MOST_SIDE_PX = 1600
"""Of what is drawn: twice the width of a plan on a wide screen."""
LIGHT, COLOUR = 0.5, 0.45
"""Share of white over the picture, and of its colour that is left: paths keep their own colours on it. Our choice."""
QUALITY = 72
STRIP_PX = 256
"""Rows that are put on white at once."""
TILE_TAGS = (322, 323)
ORIENTATION_TAG, SIDEWAYS = 274, (5, 6, 7, 8)
EIGHT_BITS = ("1", "L", "LA", "P", "PA", "RGB", "RGBA", "RGBX", "CMYK", "YCbCr", "LAB", "HSV")
SCALE_TAG, TIE_TAG, MATRIX_TAG, KEYS_TAG = 33550, 33922, 34264, 34735
RASTER_KEY, GEOGRAPHIC_KEY, PROJECTED_KEY = 1025, 2048, 3072
POINT_RASTER, OWN_SYSTEM = 2, 32767

Box = tuple[float, float, float, float]
_ONE_AT_A_TIME = threading.Lock()  # a picture may take 520 MB, and Pillow's warnings are those of all threads


@contextmanager
def opened(data: bytes, *, name: str) -> Iterator[Image.Image]:
    """Open a picture, turned as its camera says, with one reader at a time.

    Raises
    ------
    InputError
        Where it is no picture of one of the four kinds, too large or small, cut off, or has other than 8 bits a colour.
    """
    with _ONE_AT_A_TIME, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of sizes, which are looked at below, and of odd tags
        try:
            with Image.open(io.BytesIO(data), formats=KINDS) as image:
                _check(image, name)
                image.load()
                yield image
        except InputError:  # told already; it is a ValueError too
            raise
        except Image.DecompressionBombError:
            raise _too_large(name) from None
        except UnidentifiedImageError:
            raise InputError(
                where=name,
                what="this is no picture that can be read",
                do="give a JPEG, PNG, WebP or TIFF (a GeoTIFF is placed by itself)",
            ) from None
        except (OSError, SyntaxError, ValueError, ArithmeticError, LookupError, TypeError) as error:
            raise InputError(
                where=name, what=f"the picture is damaged or cut off ({error})", do="export or copy it once more"
            ) from None


def _check(image: Image.Image, name: str) -> None:
    width, height = image.size
    if max(width * height, _tile_pixels(image)) > MOST_PIXELS:
        raise _too_large(name)
    if min(width, height) < LEAST_SIDE_PX:
        raise InputError(
            where=name,
            what=f"the picture has {width} by {height} pixels",
            do=f"give one of at least {LEAST_SIDE_PX} both ways",
        )
    if image.mode not in EIGHT_BITS:
        raise InputError(
            where=name,
            what=f"its colours are not of 8 bits ({image.mode})",
            do="export the picture in red, green and blue of 8 bits each",
        )


def _tile_pixels(image: Image.Image) -> int:
    """Return how large the tiles of a TIFF say that they are: each is held whole, however small the picture is."""
    tags = getattr(image, "tag_v2", {})
    sides = [tags.get(tag, 0) for tag in TILE_TAGS]
    return int(sides[0]) * int(sides[1])


def _too_large(name: str) -> InputError:
    return InputError(
        where=name,
        what=f"the picture has more than {MOST_PIXELS // 1_000_000} million pixels",
        do="cut it to the site, or export it smaller",
    )


def upright(image: Image.Image) -> Image.Image:
    """Return a picture as people see it: turned as its camera says, in red, green and blue, on white, without what its
    camera wrote into it. The one that is given is turned too: a large one is in memory twice at most.
    """
    ImageOps.exif_transpose(image, in_place=True)
    clear = image.mode in ("P", "PA", "LA", "RGBA") or "transparency" in image.info
    plain = image
    if clear or image.mode != "RGB":
        plain = Image.new("RGB", image.size, "white")
        for top in range(0, image.height, STRIP_PX):
            strip = image.crop((0, top, image.width, min(top + STRIP_PX, image.height)))
            strip = strip.convert("RGBA" if clear else "RGB")
            plain.paste(strip, (0, top), strip if clear else None)
    plain.info.clear()
    return plain


def size_px(image: Image.Image) -> tuple[int, int]:
    """Return width and height of a picture as people see it, which need not be read for that."""
    width, height = image.size
    return (height, width) if image.getexif().get(ORIENTATION_TAG, 1) in SIDEWAYS else (width, height)


def own_place(image: Image.Image) -> tuple[int, FloatArray] | None:
    """Return what a GeoTIFF says of its place: the number of its reference system, and (2, 3) from pixels to that.

    None where it says nothing that can be used: no tags, senseless ones, a system of its own making, or a camera's turn
    beside them.
    """
    tags = getattr(image, "tag_v2", None)
    if tags is None or not {KEYS_TAG} <= set(tags) or tags.get(ORIENTATION_TAG, 1) != 1:
        return None
    try:
        keys, matrix = _keys(tags[KEYS_TAG]), _matrix(tags)
    except (LookupError, TypeError, ValueError):  # words where numbers belong, or too few of them
        return None
    system = keys.get(PROJECTED_KEY) or keys.get(GEOGRAPHIC_KEY)
    if system in (None, OWN_SYSTEM) or matrix is None:
        return None
    if keys.get(RASTER_KEY) == POINT_RASTER:  # the point is the middle of the pixel
        matrix = matrix.copy()
        matrix[:, 2] -= matrix[:, :2] @ np.array([0.5, 0.5])
    return int(system), matrix


def _keys(directory: tuple[int, ...]) -> dict[int, int]:
    """Return the keys that hold a number in the directory itself (GeoTIFF 1.1, 7.1.2)."""
    rows = (directory[i : i + 4] for i in range(4, 4 + 4 * directory[3], 4))
    return {row[0]: row[3] for row in rows if len(row) == 4 and row[1] == 0 and row[2] == 1}


def _matrix(tags: dict[int, tuple[float, ...]]) -> FloatArray | None:
    if MATRIX_TAG in tags and len(tags[MATRIX_TAG]) == 16:
        m = np.array(tags[MATRIX_TAG], float).reshape(4, 4)
        found = np.column_stack([m[:2, :2], m[:2, 3]])
    elif SCALE_TAG in tags and TIE_TAG in tags and len(tags[SCALE_TAG]) >= 2 and len(tags[TIE_TAG]) == 6:
        (scale_x, scale_y), (i, j, _, x, y, _) = tags[SCALE_TAG][:2], tags[TIE_TAG]
        found = np.array([[scale_x, 0.0, x - i * scale_x], [0.0, -scale_y, y + j * scale_y]])
    else:
        return None
    usable = np.isfinite(found).all() and abs(np.linalg.det(found[:, :2])) > 0.0
    return found if usable else None


def edges_px(image: Image.Image) -> FloatArray:
    """Return (4, 2) the corners of a picture, in pixels."""
    width, height = image.size
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def drawn(image: Image.Image, placement: FloatArray, near: Box, *, name: str) -> tuple[bytes, Box]:
    """Return the part of an upright picture near a drill, north up, light, as JPEG, and the box of its edges.

    Parameters
    ----------
    image : Image
        As `upright` gives it.
    placement : (2, 3)
        From its pixels to metres.
    near : Box
        West, east, south, north of what plans may show, metres.

    Raises
    ------
    InputError
        Where the picture does not lie there.
    """
    corners = np.column_stack([edges_px(image), np.ones(4)]) @ placement.T
    (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
    box = max(west, near[0]), min(east, near[1]), max(south, near[2]), min(north, near[3])
    if not (box[0] < box[1] and box[2] < box[3]):
        raise InputError(
            where=name,
            what=f"the picture lies {_away(corners, near):,.0f} m away from the drill".replace(",", " "),
            do="check the drill's origin, the pins, or whether it is the right picture",
        )
    step = max(metres_a_pixel(placement), max(box[1] - box[0], box[3] - box[2]) / MOST_SIDE_PX)
    size = max(round((box[1] - box[0]) / step), 1), max(round((box[3] - box[2]) / step), 1)
    to_ground = np.array(
        [[(box[1] - box[0]) / size[0], 0.0, box[0]], [0.0, -(box[3] - box[2]) / size[1], box[3]], [0.0, 0.0, 1.0]]
    )
    back = inverse_of(placement) @ to_ground
    by = max(int(metres_a_pixel(back)), 1)  # made smaller first, so that no pixel of the picture is left out
    small = image if by == 1 else image.reduce(by)
    turned = small.transform(
        size, Image.Transform.AFFINE, tuple((back / by).ravel()), Image.Resampling.BILINEAR, fillcolor="white"
    )
    out = io.BytesIO()
    _light(turned).save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue(), box


def _away(corners_m: FloatArray, near: Box) -> float:
    middle = (near[0] + near[1]) / 2.0, (near[2] + near[3]) / 2.0
    return math.dist(corners_m.mean(axis=0), middle)


def _light(image: Image.Image) -> Image.Image:
    pale = ImageEnhance.Color(image).enhance(COLOUR)
    return Image.blend(pale, Image.new("RGB", image.size, "white"), LIGHT)


def preview(image: Image.Image, *, side_px: int = 1400) -> bytes:
    """Return an upright picture as JPEG of at most `side_px`, to pin it on."""
    small = image.copy()
    small.thumbnail((side_px, side_px))
    out = io.BytesIO()
    small.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
