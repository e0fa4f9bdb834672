"""Read-only arrays for frozen values."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IndexArray = NDArray[Any]
"""Whole numbers or booleans that pick from other arrays."""


def frozen(values: ArrayLike, *, name: str, shape: tuple[int | None, ...]) -> FloatArray:
    """Return a read-only float64 copy of `values`.

    Parameters
    ----------
    values : array_like
    name : str
        Name used in the error.
    shape : tuple
        Wanted shape; None stands for any length.

    Raises
    ------
    ValueError
        Where the shape differs: a programming error, not bad input.
    """
    array = np.array(values, dtype=np.float64)
    fits = array.ndim == len(shape) and all(
        want is None or want == got for want, got in zip(shape, array.shape, strict=True)
    )
    if not fits:
        raise ValueError(f"{name} must have shape {shape}; received {array.shape}")
    array.flags.writeable = False
    return array


def freeze_fields(value: object, **shapes: tuple[int | None, ...]) -> None:
    """Replace array fields of a frozen dataclass by checked read-only copies; None stays None."""
    for name, shape in shapes.items():
        current = getattr(value, name)
        if current is not None:
            object.__setattr__(value, name, frozen(current, name=name, shape=shape))
