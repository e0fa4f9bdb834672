"""The time window that all views of a run show: from and to the address of the page. No Dash."""

import math
from dataclasses import dataclass
from urllib.parse import urlencode


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of a run, seconds from its time zero; `from_s` < `to_s`."""

    from_s: float
    to_s: float

    def matches(self, from_s: float, to_s: float) -> bool:
        """Return whether the given bounds are this window to the tenth of a second that addresses carry."""
        return round(self.from_s, 1) == round(from_s, 1) and round(self.to_s, 1) == round(to_s, 1)


def widened(from_s: float, to_s: float) -> Window:
    """Return the window of two times; a single moment becomes a second around it, so that it can be seen."""
    low, high = round(min(from_s, to_s), 1), round(max(from_s, to_s), 1)
    return Window(low, high) if high > low else Window(low - 0.5, low + 0.5)


def window_query(window: Window | None) -> str:
    """Return the query part of an address that opens `window`, "" for the whole run."""
    return "" if window is None else "?" + urlencode({"from": f"{window.from_s:.1f}", "to": f"{window.to_s:.1f}"})


def parse_window(query: dict[str, object], *, duration_s: float) -> tuple[Window | None, bool]:
    """Return the window that an address asks for, and whether the address was usable.

    An address without a window is usable and means the whole run. A window that is no pair of numbers, has no
    length or lies outside the run is not usable.
    """
    if "from" not in query and "to" not in query:
        return None, True
    try:
        low, high = float(str(query["from"])), float(str(query["to"]))
    except (KeyError, ValueError):
        return None, False
    usable = math.isfinite(low) and math.isfinite(high) and low < high and low < duration_s and high > 0.0
    return (Window(low, high), True) if usable else (None, False)
