"""How to record a run: the one home of the words of the page and of docs/recording.md.

What is said of practice is common practice without a source; what each piece of evidence lets the analysis tell is held
by tests/laws/test_recording_guide.py against the sample day.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GuidePart:
    """One part of the guide: what it is about, why, and what to do, a line each."""

    title: str
    why: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rung:
    """One more piece of evidence: what it is, what can be told from then on in words, and the measures that it opens.

    `opens`: names of the table of measures that are assessed in most runs with it and in few without.
    """

    title: str
    tells: str
    opens: tuple[str, ...]


LEAD = (
    "One recorder per searcher that writes a fix a second is enough to begin with. Everything else is optional, and "
    "each piece lets more be told."
)
PARTS = (
    GuidePart(
        "The recorder",
        "Any phone, watch or handheld will do that keeps a time and a place for every point.",
        (
            "Take the file that it recorded (GPX, FIT, TCX, KML, NMEA, a table and others), not a picture, a link or a "
            "planned route.",
            "One fix a second. Turn off battery saving, and what snaps tracks to roads or paths or thins them out.",
            "Let it set its clock and find its satellites under open sky for a few minutes before the start, and "
            "let it run on.",
            "One recording a run is simplest. Where it runs all morning, write down when each run began and ended.",
        ),
    ),
    GuidePart(
        "Where to carry it",
        "Recorders disturb transceivers. Common practice: 20 cm apart from one that transmits, 50 cm from one "
        "that searches.",
        (
            "On the back or in the lid of the pack, with the sky in view: not on the wrist or in the hand that "
            "holds the receiver.",
            "The same place for everybody, so that runs can be held against each other; write it into run.toml "
            "as recorder.",
            "The same goes for cameras, radios, heated gloves and power banks.",
        ),
    ),
    GuidePart(
        "The start",
        "Splits count from the start mark. Without one they count from the first fix, and say so.",
        (
            "Somebody says go, and writes down the time of day to the second: that is the mark start.",
            "Set the clock that marks are written by from the same source as the recorder's. A log of readings "
            "may be up to 90 s off: "
            "that is found from the readings themselves.",
        ),
    ),
    GuidePart(
        "The readings",
        "They place the searcher far better than satellites can, and only they show what could be known at each "
        "moment.",
        (
            "Film the display with a camera on the helmet, or let a helper walk behind and write. Helpers keep "
            "their own receivers off.",
            "Afterwards write each change: seconds from the start, and the metres shown. Leave the metres empty "
            "where nothing was shown.",
            "Every second is not needed: one reading every two or three seconds in the fine search, fewer before "
            "it. Do not guess one.",
        ),
    ),
    GuidePart(
        "The hit, and what else is marked",
        "A hit tells where the searcher was at that moment, and when the search ended.",
        (
            "Write when the probe struck (probe_hit). More marks help: first_reading, finish.",
            "Write each probing that did not hit (probe), when the spot was marked (marking_end), when digging began "
            "(dig_begin), and when the airway was free (airway_free): only marks show how those seconds went.",
            "When you hold somebody up, write hold_begin and hold_end: that time is nobody's.",
        ),
    ),
    GuidePart(
        "The transmitter",
        "What a run is held against is computed from where the transmitter lay and how its antenna pointed.",
        (
            "Tape its place from two fixed points, or from the origin along a bearing: a phone's fix is good to "
            "some metres only.",
            "Measure the depth along the probe, square to the surface.",
            "Bearing and tilt of its antenna, with a compass held well away from it, before it is covered. Left "
            "out, they are estimated from the readings.",
            "Use fresh batteries, and check every transmitter and receiver of the group before the day.",
        ),
    ),
)
RUNGS = (
    Rung(
        "A track alone",
        "how fast the searcher was at each range, where they stood, how long the way was",
        ("coarse.standing_s", "coarse.speed_at_10_m", "coarse.path_ratio"),
    ),
    Rung(
        "and the hit marked",
        "how far was walked in the fine search, how long probing took, and how far from the transmitter it struck",
        ("fine.walked_m", "pinpoint.duration_s", "pinpoint.probe_offset_m"),
    ),
    Rung(
        "and a log of readings",
        "when the signal came, ground covered before it, the field line and wrong ways, lines and reach of the "
        "bracket, and whether it "
        "ended on the lowest reading that could be known",
        (
            "signal.covered_fraction",
            "signal.duration_s",
            "coarse.off_line_rms_m",
            "coarse.wrong_way_m",
            "fine.reach_m",
            "fine.lines_seen",
            "fine.ended_on_lowest_m",
        ),
    ),
)
NEVER = (
    "Never judged, whatever is recorded: how high the receiver was held, whether it was turned or swept, and "
    "what a searcher said or thought. "
    "The crossing angle of a bracket needs lines long enough to be seen: with a phone it can be told in some "
    "runs, with survey-grade positions in most."
)
