"""The words that the pages show, and how figures are put into words. No Dash."""

import math

from analyzer.model import measures
from analyzer.model.account import CAUSE_TITLES, NOBODYS_CAUSES
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
SPLITS = {
    "probe": "Probed, no hit",
    "marking_end": "Marked",
    "dig_begin": "Digging began",
    "airway_free": "Airway free",
}
PHASES_SHORT = {"signal_search": "signal", "coarse_search": "coarse", "fine_search": "fine", "pinpoint": "probe"}

ACTIVITIES = {
    "strips": ("Z", "Search strips", "over the area, before the first reading"),
    "walking": ("G", "Walking", "before the first reading; the drill names no area"),
    "along_line": ("L", "Along the line", "near the field line, with the range falling"),
    "off_line": ("O", "Off the line", "aside of the field line"),
    "wrong_way": ("W", "Wrong way", "away from the transmitter"),
    "way_back": ("B", "Way back", "until the lost range was regained"),
    "standing": ("S", "Standing", "stops of a second and more"),
    "first_line": ("1", "First line", "of the bracket"),
    "crossing_line": ("2", "Crossing line", "of the bracket"),
    "extra_line": ("3", "Further lines", "of the bracket, beyond one cross"),
    "bracketing": ("K", "Close in", "fine search whose lines cannot be told apart"),
    "probing": ("P", "Probing", "from settling on the spot"),
    "marking": ("M", "Marking", "after the probe hit"),
    "not_recorded": ("N", "Not recorded or held", "no position for too long, or held by a mark; nobody's fault"),
    "unexplained": ("?", "Unexplained", "the evidence does not show what was done"),
}
"""Letter, name and meaning of what a searcher does, in the order of the key."""
CAUSES = {
    "reference": "the same search at the rule sheet's pace",
    "wrong_way": "from turning away until the lost range was regained",
    "detour": "metres beyond the field line, at this run's own pace",
    "standing": "stops, less what was walked in them",
    "missed_strip": "from passing the strip by until its start was reached",
    "covered_twice": "ground of the area that was covered before",
    "outside": "metres outside the area",
    "extra_lines": "lines of the bracket after the first cross",
    "longer_lines": "metres beyond those that one cross needs, at this run's own pace",
    "off_lowest": "probing that began beside the lowest spot that could be known",
    "long_probing": "from settling until the probe hit, beyond the sheet's time",
    "pace": "the reference's metres at a slower pace than the rule sheet's",
    "marking": "after the probe hit, beyond the sheet's time",
    "not_recorded": "nobody's fault: no position for too long to say what was done, or a mark says that you were held",
    "not_told_apart": "nobody's fault: the lines, or the moment of settling, are not known well enough to name a cause",
    "not_assessed": "nobody's fault: without readings it is not known where one ended and the other began",
}
"""What each cause of the account means; it is called what `CAUSE_TITLES` says."""
GAINS = {
    "pace": (
        "Time gained by a faster pace than the sheet's",
        "the reference's metres at a faster pace than the rule sheet's",
    ),
    "detour": ("Time gained by a shorter line", "fewer metres than the reference's line"),
    "longer_lines": ("Time gained by shorter lines", "fewer metres than one cross needs"),
}
"""Title and meaning of a cause where it saved time."""
BOTH_WAYS = {
    "pace": "Pace against the sheet's",
    "detour": "Length of the way against the field line",
    "longer_lines": "Length of the lines against one cross",
}
"""Title of a cause where it cost time in some runs and saved it in others."""
REFERENCES = {
    "signal_search": "this run's own way over new ground, at the rule sheet's pace",
    "coarse_search": "the field line at the rule sheet's pace",
    "fine_search": "one cross at the rule sheet's pace",
    "pinpoint": "the rule sheet's time to strike, and to mark what was found",
}
"""What the reference searcher does in each phase."""
PINPOINT_PACE = {
    True: ("Slower than the sheet's time", "probing beyond the rule sheet's time"),
    False: ("Time gained by probing faster than the sheet", "less than the rule sheet's time"),
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


def has_no_spread(measured: Figure) -> bool:
    """Return whether a figure is a count, or a probability: a bare number that carries no interval of its own."""
    return measured.unit == "1" and measured.low == measured.value == measured.high


def spread_shows(measured: Figure) -> bool:
    """Return whether the 90 % interval, as it is written, differs from the value: "0.14 to 0.14" says nothing."""
    if has_no_spread(measured):
        return False
    return not number(measured.low) == number(measured.value) == number(measured.high)


def figure_text(measured: Measured) -> str:
    """Return the value of a figure in words, a count as a whole number; "not assessable" where there is none."""
    if isinstance(measured, NotAssessable):
        return "not assessable"
    if has_no_spread(measured) and measured.value.is_integer():
        return f"{measured.value:.0f}"
    return amount(measured.value, measured.unit)


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


def seconds_interval(measured: Figure) -> str:
    """Return the 90 % interval of a time in whole seconds, rounded outward; the same on card and account."""
    low, high = math.floor(measured.low + 1e-6), math.ceil(measured.high - 1e-6)
    return f"{low} to {high} s".replace("-", "−")


def cause_words(cause: str, phase: str, seconds: float) -> tuple[str, str]:
    """Return title and meaning of a row of the account; `seconds` below 0 were gained."""
    if cause == "pace" and phase == "pinpoint":
        return PINPOINT_PACE[seconds >= 0]
    if cause == "reference":
        return CAUSE_TITLES[cause], REFERENCES.get(phase, CAUSES[cause])
    title, what = CAUSE_TITLES.get(cause, cause.replace("_", " ")), CAUSES.get(cause, "")
    if seconds >= 0 or cause in NOBODYS_CAUSES:
        return title, what
    return GAINS.get(cause, (f"Time gained: {title[0].lower()}{title[1:]}", what))


def signed_clock(seconds: float) -> str:
    """Return a difference of time with its sign, "+0:12"."""
    text = clock(seconds)
    return text if text.startswith("−") or round(seconds) == 0 else f"+{text}"


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
