"""Recordings in which several sources of positions take turns: which of them is used."""

from collections import Counter
from collections.abc import Iterable

from analyzer.files.tracks.track import MIN_FIXES

PREFERRED = ("gps", "flp", "fused")
"""The receiver's own fixes first, then those mixed with other sensors; the others (cells, networks) only if alone."""
OTHER_PROVIDER = "of another provider"


def best_provider(providers: Iterable[str]) -> str:
    """Return the first preferred provider, lower case, with fixes enough for a run, else the one with most."""
    counts = Counter(providers)
    return next((p for p in PREFERRED if counts[p] >= MIN_FIXES), counts.most_common(1)[0][0])
