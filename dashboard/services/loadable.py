"""What Load can take in: the formats of tracks, and which recorders write them."""

from analyzer.files.tracks import formats
from analyzer.files.tracks.format_words import FORMAT_WORDS, RECORDERS, FormatWords, RecorderWords


def track_formats() -> tuple[str, ...]:
    """Return the names of the track formats that are read, as a person knows them."""
    return tuple(form.name for form in formats.FORMATS)


def format_words() -> tuple[FormatWords, ...]:
    """Return what is read of each track format, and how people get it."""
    return FORMAT_WORDS


def recorder_words() -> tuple[RecorderWords, ...]:
    """Return what to take from which kind of recorder."""
    return RECORDERS
