"""A picture of the ground under a drill's plan: how it lies, and its drawn part. Metres from the drill's origin."""

from dataclasses import dataclass

Metres = tuple[float, float]
"""East, north."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A point that was found both in a picture and on the ground. `x_px`, `y_px`: from the picture's upper left corner,
    right and down, in its own pixels; whole numbers lie between pixels."""

    x_px: float
    y_px: float
    east_m: float
    north_m: float


@dataclass(frozen=True, slots=True)
class Ground:
    """What ground.toml of a drill says. `picture`: name of the file beside it. `pins`: none where the picture itself
    says where it lies. `credit`: whose picture it is, in words for people. `shown`: whether plans have it."""

    picture: str
    pins: tuple[Pin, ...] = ()
    credit: str = ""
    shown: bool = True


@dataclass(frozen=True, slots=True)
class GroundPicture:
    """A picture ready to lie under a plan: north up, light, only what is near the drill.

    `jpeg`: its bytes. `box`: west, east, south, north of its edges. `misfit_m`: how far its pins lie from where it puts
    them (rms), None where two pins or the picture itself say it.
    """

    jpeg: bytes
    box: tuple[float, float, float, float]
    credit: str = ""
    misfit_m: float | None = None
