"""The words that the pages show, and how figures are put into words. No Dash."""

import math

from analyzer.model import measures
from analyzer.model.figure import Figure, Measured, NotAssessable

NAME = "Searchwake"
SAFETY = (
    "A training aid. Never for a real rescue.",
    "Phones, watches and GPS recorders disturb transceivers. Common practice: keep them 20 cm away when "
    "transmitting, 50 cm when searching.",
    "Practise on safe ground. Your avalanche service and qualified instructors come first.",
)

PHASES = {
    "signal_search": "Signal search",
    "coarse_search": "Coarse search",
    "fine_search": "Fine search",
    "pinpoint": "Pinpoint",
    "overall": "Overall",
}
PHASES_SHORT = {"signal_search": "signal", "coarse_search": "coarse", "fine_search": "fine", "pinpoint": "probe"}

CAUSES = {
    "on_reference": ("R", "On reference", "what the reference searcher would also have spent"),
    "standing": ("S", "Standing", "stops of a second and more"),
    "wrong_way": ("W", "Wrong way", "away from the transmitter, out and back"),
    "off_line": ("F", "Off the line", "ground beyond the field line or the search strips"),
    "slow_pace": ("P", "Slow pace", "slower than the rule sheet's pace at that range"),
    "extra_bracketing": ("B", "Extra bracketing", "fine search beyond one cross"),
    "searching_uncovered_twice": ("C", "Covered twice", "signal search over ground already covered"),
    "probing": ("N", "Probing", "needing longer than the reference to strike"),
    "unexplained": ("?", "Unexplained", "what the evidence does not attribute to a cause"),
}

GROUPS = {group: PHASES[phase] for group, phase in measures.GROUPS.items()}

TIERS = {
    "track": "Track only: no reading log",
    "track+readings": "Track and reading log",
    "survey": "Survey-grade track: no reading log",
    "survey+readings": "Survey-grade track and reading log",
}
AXIS_SOURCES = {"given": "given in the drill", "estimated": "estimated from the readings", "unknown": "unknown"}
SEVERITIES = {"note": "worth a look", "costly": "costly", "severe": "severe"}

_UNITS = {"": "", "1": "", "m": " m", "s": " s", "m/s": " m/s", "deg": "°", "%": " %", "points": ""}


def clock(seconds: float) -> str:
    """Return minutes and whole seconds, "2:05"; "-" where the time is not known."""
    if not math.isfinite(seconds):
        return "-"
    whole = round(abs(seconds))
    return f"{'−' if seconds < 0 and whole else ''}{whole // 60}:{whole % 60:02d}"


def span(from_s: float, to_s: float) -> str:
    """Return a stretch of time, "1:33 to 2:01"."""
    return f"{clock(from_s)} to {clock(to_s)}"


def number(value: float) -> str:
    """Return a number with a tenth below 100 and a hundredth below 10, with a true minus sign."""
    if not math.isfinite(value):
        return "-"
    digits = 2 if abs(value) < 9.995 else 1 if abs(value) < 99.95 else 0
    text = f"{value:.{digits}f}"
    return text.replace("-", "−") if float(text) else text.replace("-", "")


def amount(value: float, unit: str) -> str:
    """Return a number with its unit, "41.2 m"."""
    return number(value) + _UNITS.get(unit, f" {unit}")


def figure_text(measured: Measured) -> str:
    """Return the value of a figure in words; "not assessable" where there is none."""
    return amount(measured.value, measured.unit) if isinstance(measured, Figure) else "not assessable"


def interval_text(measured: Measured) -> str:
    """Return the 90 % interval of a figure, or the reason why there is no figure."""
    if isinstance(measured, NotAssessable):
        return measured.why
    return f"{number(measured.low)} to {amount(measured.high, measured.unit)}"


def saving_text(measured: Measured) -> str:
    """Return what a finding cost in whole seconds, "14 s"; "time not assessable" where that is not known."""
    if isinstance(measured, NotAssessable):
        return "time not assessable"
    return f"{max(round(measured.value), 0)} s" if measured.value >= 0.5 else "under 1 s"


def saving_interval(measured: Figure) -> str:
    """Return the 90 % interval of what a finding cost, in whole seconds."""
    return f"{round(measured.low)} to {round(measured.high)} s".replace("-", "−")


def measure_name(group: str, key: str) -> str:
    """Return the title of a measure; one of a result of another version shows its key in plain letters."""
    measure = measures.measure_of(group, key)
    return key.replace("_", " ") if measure is None else measure.title


def as_shown(group: str, key: str, measured: Measured) -> Measured:
    """Return a figure in the unit that pages and sheets show: some shares in per cent."""
    measure = measures.measure_of(group, key)
    if measure is not None and measure.percent and isinstance(measured, Figure):
        return Figure(100.0 * measured.value, 100.0 * measured.low, 100.0 * measured.high, "%")
    return measured


def counted(count: int, word: str) -> str:
    """Return "1 run", "2 runs"."""
    return f"{count} {word}{'' if count == 1 else 's'}"
