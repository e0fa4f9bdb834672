"""A sheet of A4 in millimetres from its upper left corner: text that is wrapped to a width, frames, and axes."""

import functools
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.patches import Rectangle
from matplotlib.textpath import text_to_path

from dashboard.figures.theme import INK

WIDTH_MM, HEIGHT_MM, MARGIN_MM = 210.0, 297.0, 12.0
INNER_MM = WIDTH_MM - 2.0 * MARGIN_MM
POINT_MM = 25.4 / 72.0
LEADING = 1.28
FAMILY = "DejaVu Sans"
"""Comes with the drawing library, so that a sheet looks the same on every machine."""

mpl.rcParams["pdf.fonttype"] = 42  # whole letters, which can be searched and copied


@dataclass(frozen=True, slots=True)
class Paper:
    """One page being drawn. `figure` is its own and belongs to no other page."""

    figure: Figure

    def text(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        *,
        size: float = 8.5,
        bold: bool = False,
        colour: str = INK,
        align: str = "left",
    ) -> None:
        """Write one line with its baseline at `y_mm`; signs of markup mean themselves."""
        self.figure.text(
            x_mm / WIDTH_MM,
            1.0 - y_mm / HEIGHT_MM,
            shown(text),
            fontsize=size,
            color=colour,
            ha=align,
            va="baseline",
            fontproperties=_font(size, bold),
            parse_math=False,
        )

    def lines(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        *,
        width_mm: float,
        size: float = 8.5,
        bold: bool = False,
        colour: str = INK,
        most: int = 9,
    ) -> float:
        """Write text wrapped to a width, at most `most` lines, and return the baseline that would follow."""
        for line in wrapped(text, width_mm=width_mm, size=size, bold=bold, most=most):
            self.text(x_mm, y_mm, line, size=size, bold=bold, colour=colour)
            y_mm += size * LEADING * POINT_MM
        return y_mm

    def box(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float, **more: Any) -> None:
        """Draw a rectangle whose upper left corner is given."""
        corner = x_mm / WIDTH_MM, 1.0 - (y_mm + height_mm) / HEIGHT_MM
        size = width_mm / WIDTH_MM, height_mm / HEIGHT_MM
        self.figure.add_artist(Rectangle(corner, *size, transform=self.figure.transFigure, **more))

    def axes(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Axes:
        """Return axes in a rectangle whose upper left corner is given."""
        low_mm = HEIGHT_MM - y_mm - height_mm
        return self.figure.add_axes((x_mm / WIDTH_MM, low_mm / HEIGHT_MM, width_mm / WIDTH_MM, height_mm / HEIGHT_MM))


def new_paper() -> Paper:
    """Return an empty sheet."""
    figure = Figure(figsize=(WIDTH_MM / 25.4, HEIGHT_MM / 25.4))
    FigureCanvasPdf(figure)
    return Paper(figure)


def _font(size: float, bold: bool) -> FontProperties:
    return FontProperties(family=FAMILY, size=size, weight="bold" if bold else "normal")


def shown(text: str) -> str:
    """Return text in one line, with a sign for each letter that the sheet's font does not have."""
    has = _letters()
    return "".join(c if ord(c) in has else "\ufffd" for c in " ".join(text.split()))


@functools.cache
def _letters() -> frozenset[int]:
    return frozenset(get_font(findfont(_font(8.0, False))).get_charmap())


@functools.lru_cache(maxsize=8192)
def width_of(text: str, *, size: float, bold: bool = False) -> float:
    """Return the width of a line in millimetres."""
    return text_to_path.get_text_width_height_descent(shown(text), _font(size, bold), False)[0] * POINT_MM


def wrapped(text: str, *, width_mm: float, size: float, bold: bool = False, most: int = 9) -> list[str]:
    """Return text cut into lines no wider than `width_mm`; what does not fit into `most` lines ends in an ellipsis."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and width_of(longer, size=size, bold=bold) > width_mm:
            lines.append(line)
            line = word
        else:
            line = longer
    lines.append(line)
    kept = lines[:most]
    if len(lines) > most:
        kept[-1] += " …"
    return [_cut(one, width_mm=width_mm, size=size, bold=bold) for one in kept]


def _cut(line: str, *, width_mm: float, size: float, bold: bool) -> str:
    """Return a line that fits: a single word may be wider than the sheet."""
    while len(line) > 1 and width_of(line, size=size, bold=bold) > width_mm:
        line = line.removesuffix("…")[:-1].rstrip() + "…"
    return line
