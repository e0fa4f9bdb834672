"""The random streams of a run: one for each thing that is drawn.

A fault draws from streams of its own and every phase begins its own, so that planting a fault leaves person, ground,
noise and recorder, and all that this person does in other phases, as they were without it.
"""

from dataclasses import dataclass

import numpy as np

FIRST_NUMBER = 20
STREAMS = (
    "place",
    "person",
    "receiver",
    "sway",
    "faults",
    "coarse",
    "bracket",
    "probing",
    "aside",
    "track",
    "readings",
)


def stream(seed: int, name: str, which: int = 0) -> np.random.Generator:
    """Return the stream of one thing; `which`: the number of the transmitter that is searched, where there are several.

    Raises
    ------
    ValueError
        Where the name is none of STREAMS.
    """
    return np.random.default_rng([seed, FIRST_NUMBER + STREAMS.index(name), which])


@dataclass(frozen=True, slots=True)
class SearchStreams:
    """What is drawn in the search for one transmitter. `aside`: what a person without a fault never draws."""

    coarse: np.random.Generator
    bracket: np.random.Generator
    probing: np.random.Generator
    aside: np.random.Generator
    sway: np.random.Generator


def search_streams(seed: int, which: int) -> SearchStreams:
    """Return the streams of the search for transmitter number `which` of the drill."""
    return SearchStreams(
        coarse=stream(seed, "coarse", which),
        bracket=stream(seed, "bracket", which),
        probing=stream(seed, "probing", which),
        aside=stream(seed, "aside", which),
        sway=stream(seed, "sway", 1 + which),
    )
