"""Stretches of a log that fit no place on the path, in words: when, how, and what may be behind it."""

from analyzer.model.path import ERRATIC, FARTHER, NEARER, OTHER, ReadingDoubt
from dashboard.wording import clock

HOW = {
    NEARER: (
        "show less than the path allows anywhere",
        "Another transmitter may have been nearer: a receiver switched to transmit, or one left on.",
    ),
    FARTHER: (
        "show more than the path allows anywhere",
        "The receiver may have been covered or turned away, or have shown another transmitter.",
    ),
    ERRATIC: (
        "jump to and fro by more than a receiver does",
        "A phone, watch, camera or recorder nearer than 50 cm may have disturbed it (common practice), or figures were "
        "mistyped.",
    ),
    OTHER: ("fit transmitter {named}, and not {transmitter} as the log says", "The log may name the wrong one."),
}
"""How they do not fit, and what may be behind it: common practice, no source; nothing in the log proves it."""
TRACK = "Or the positions are off there, and the readings are not: look at the plan."
"""What else may be behind readings that fit no place: nothing tells it from what is wrong with the log."""
ASIDE = "They are set aside: the path does not rest on them."


def doubt_line(doubt: ReadingDoubt) -> str:
    """Return one stretch in words."""
    how, cause = HOW[doubt.kind]
    track = "" if doubt.kind == OTHER else f" {TRACK}"
    shown = how.format(named=doubt.named, transmitter=doubt.transmitter)
    return f"{clock(doubt.start_s)} to {clock(doubt.end_s)}: {doubt.count} readings {shown}. {cause}{track} {ASIDE}"
