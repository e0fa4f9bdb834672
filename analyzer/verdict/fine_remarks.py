"""Remarks on the fine search and the probing."""

from analyzer.model.phases import FINE, PINPOINT
from analyzer.verdict.remark import Case, Remark, clock, remark, saving_of, untimed

# Limits below are our own choice, set so that a run without a fault draws none of them; see docs/methods/score.md.
RUSHED = 1.9
NARROW_M = 0.6
OBLIQUE_DEG = 65.0
EXTRA_SHARE = 0.35
EXTRA_S = 10.0
OFF_LOWEST_M = 0.3
OFF_PLACE_M = 0.6


def rushed(case: Case) -> Remark | None:
    """Remark on bracketing too fast for the display."""
    pace, span = case.figure("fine", "pace_mps"), case.span(FINE)
    if pace is None or span is None:
        return None
    limit = case.rules.bracket_pace_mps
    if pace.value < RUSHED * limit or pace.low < 1.5 * limit:
        return None
    text = (
        f"You bracketed at {pace.value:.1f} m/s. The transmitter is heard about once a second, so the display "
        f"lags by half a "
        f"metre at that pace. Move at about {limit:.1f} m/s, a hand's breadth a second, and rest a second at "
        f"each turn."
    )
    return remark(
        case,
        "rushed_bracketing",
        FINE,
        (span.start_s, span.end_s),
        text,
        untimed(),
        (("pace_mps", pace), ("duration_s", case.figure("fine", "duration_s"))),
        points=max(case.points(FINE, "fine.pace_mps"), 1.0),
    )


def narrow(case: Case) -> Remark | None:
    """Remark on brackets that end before the reading has clearly risen."""
    reach, span = case.figure("fine", "reach_m"), case.span(FINE)
    rise = case.figure("fine", "overshoot_m")
    if reach is None or span is None or reach.value > NARROW_M * case.rules.bracket_arm_m:
        return None
    if reach.high > 0.9 * case.rules.bracket_arm_m:
        return None
    text = (
        f"Your brackets went {reach.value:.1f} m to either side of the lowest reading. That is before the "
        f"reading has clearly "
        f"risen, so the true lowest may lie outside. Go on about {case.rules.bracket_arm_m:.1f} m, until it has "
        f"risen for "
        "certain, then come back."
    )
    return remark(
        case,
        "narrow_bracketing",
        FINE,
        (span.start_s, span.end_s),
        text,
        untimed(),
        (("reach_m", reach), ("overshoot_m", rise)),
        points=max(case.points(FINE, "fine.reach_m"), 1.0),
    )


def oblique(case: Case) -> Remark | None:
    """Remark on a crossing line far from a right angle."""
    # The bounds speak for themselves even where they are too wide for a figure.
    angle, span = case.figure("fine", "crossing_bounds_deg"), case.span(FINE)
    if angle is None or span is None or angle.value > OBLIQUE_DEG or angle.high > 78.0:
        return None
    text = (
        f"Your second line crossed the first at {angle.value:.0f} degrees. Along a slanting line the lowest "
        f"reading is off to one "
        "side. Turn your body a quarter before you cross: lay the probe on the snow as the first line if that helps."
    )
    return remark(
        case,
        "oblique_bracketing",
        FINE,
        (span.start_s, span.end_s),
        text,
        untimed(),
        (("crossing_angle_deg", angle),),
        points=max(case.points(FINE, "fine.crossing_angle_deg"), 1.0),
    )


def extra(case: Case) -> Remark | None:
    """Remark on more brackets than a cross."""
    cost, span = case.seconds(FINE, "extra_bracketing"), case.span(FINE)
    duration = case.figure("fine", "duration_s")
    if span is None or duration is None or cost < EXTRA_S:
        return None
    if cost < EXTRA_SHARE * max(duration.value - cost, 1.0):
        return None
    legs = len(case.search.legs)
    seen = f" ({legs} lines seen)" if legs else ""
    text = (
        f"The fine search took {duration.value:.0f} s, {cost:.0f} s of it on lines beyond one cross{seen}. One "
        f"line along, one "
        "across, then to the lowest and probe: a further cross rarely finds a lower reading than the probe "
        "finds faster."
    )
    return remark(
        case,
        "extra_bracketing",
        FINE,
        (span.end_s - cost, span.end_s),
        text,
        saving_of(cost),
        (("duration_s", duration),),
    )


def off_lowest(case: Case) -> Remark | None:
    """Remark on probing away from the lowest reading."""
    ended, span = case.figure("fine", "ended_on_lowest_m"), case.span(PINPOINT)
    if ended is None or span is None or ended.value < OFF_LOWEST_M or ended.low < OFF_LOWEST_M / 2.0:
        return None
    lowest = case.figure("fine", "lowest_reading_m")
    was = "" if lowest is None else f" of {lowest.value:.1f} m"
    cost = case.seconds(PINPOINT, "probing")
    text = (
        f"You began to probe where the reading was {ended.value:.1f} m above the lowest{was} you had seen, at "
        f"{clock(span.start_s)}. Go back to the lowest, mark it with a glove or a ski pole, and set the first "
        f"probe there."
    )
    return remark(
        case,
        "off_minimum_probing",
        PINPOINT,
        (span.start_s - 5.0, span.end_s),
        text,
        saving_of(cost) if cost >= 1.0 else untimed(),
        (
            ("ended_on_lowest_m", ended),
            ("final_offset_m", case.figure("fine", "final_offset_m")),
            ("final_offset_physics_m", case.figure("fine", "final_offset_physics_m")),
        ),
        points=max(case.points(FINE, "fine.ended_on_lowest_m"), 1.0),
    )


def long_probing(case: Case) -> Remark | None:
    """Remark on probing that took long although it began on the lowest reading."""
    cost, span = case.seconds(PINPOINT, "probing"), case.span(PINPOINT)
    if span is None or cost < max(15.0, 0.75 * case.rules.pinpoint_reference_s) or off_lowest(case) is not None:
        return None
    duration = case.figure("pinpoint", "duration_s")
    text = (
        f"From {clock(span.start_s)} the probing took {cost:.0f} s longer than the reference. Probe square to "
        f"the snow, in a "
        "spiral of about 25 cm steps round the lowest reading, and leave the probe in when it strikes."
    )
    return remark(
        case,
        "long_probing",
        PINPOINT,
        (span.start_s, span.end_s),
        text,
        saving_of(cost),
        (("duration_s", duration), ("probe_offset_m", case.figure("pinpoint", "probe_offset_m"))),
    )
