"""The lots of one run, drawn by name: what one of them decides does not move the others."""

from __future__ import annotations

import numpy as np

NAMES = (
    "habits",
    "gait",
    "hand",
    "display",
    "coarse",
    "bracket",
    "probing",
    "mistake",
    "track",
    "log",
    "marks",
    "files",
)


class Lots:
    """Random generators by name and number; the same key gives the same lots."""

    def __init__(self, *key: int) -> None:
        self.key = key
        self.open: dict[tuple[str, int], np.random.Generator] = {}

    def __call__(self, name: str, number: int = 0) -> np.random.Generator:
        """The generator of this name; asked for again it goes on where it was."""
        at = (name, number)
        if at not in self.open:
            self.open[at] = np.random.default_rng([*self.key, NAMES.index(name), number])
        return self.open[at]
