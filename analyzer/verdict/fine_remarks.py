"""Remarks on the fine search and the probing."""

from analyzer.model.phases import FINE, PINPOINT
from analyzer.verdict.remark import Case, Remark, clock, remark, saving_of, untimed

# Limits below are our own choice, set so that a run without a fault draws none of them; see docs/methods/score.md.
RUSHED, SURELY_RUSHED = 1.9, 1.5
NARROW, SURELY_NARROW = 0.6, 0.9
OBLIQUE_DEG, SURELY_OBLIQUE_DEG, PLAINLY_OBLIQUE_DEG = 60.0, 78.0, 50.0
LONG_ENOUGH_M = 0.75
OBLIQUE_POINTS = 4.0  # for the order of the remarks, where the angle is known too poorly to cost points
EXTRA_SHARE, EXTRA_SHARE_SEEN, EXTRA_S = 0.45, 0.25, 12.0
CROSS_LINES = 2
OFF_LOWEST_M, OFF_LOWEST_SURE_M = 0.25, 0.05
SHIFT_M, SHIFT_SURE_M = 0.45, 0.2
FAR_SHIFT_M, SLIGHTLY_OFF_M = 1.1, 0.22
LONG_PROBING_S, LONG_PROBING_SHARE = 18.0, 0.75


def rushed(case: Case) -> Remark | None:
    """Remark on bracketing too fast for the display."""
    pace, span = case.figure("fine", "pace_mps"), case.span(FINE)
    limit = case.rules.bracket_pace_mps
    if pace is None or span is None or pace.value < RUSHED * limit or pace.low < SURELY_RUSHED * limit:
        return None
    text = (
        f"You bracketed at {pace.value:.1f} m/s. The transmitter is heard about once a second, so the display is "
        f"{pace.value:.1f} m behind you. Move at about {limit:.1f} m/s, a hand's length a second, and rest a second "
        "at each turn."
    )
    figures = (("pace_mps", pace), ("duration_s", case.figure("fine", "duration_s")))
    points = max(case.points(FINE, "fine.pace_mps"), 1.0)
    return remark(case, "rushed_bracketing", FINE, (span.start_s, span.end_s), text, untimed(), figures, points=points)


def narrow(case: Case) -> Remark | None:
    """Remark on brackets that end before the reading has clearly risen; what it cost is a long probing."""
    reach, span, arm = case.figure("fine", "reach_m"), case.span(FINE), case.rules.bracket_arm_m
    if reach is None or span is None or reach.value > NARROW * arm or reach.high > SURELY_NARROW * arm:
        return None
    cost = case.seconds(PINPOINT, "probing") if probing_was_long(case) else 0.0
    then = f" The probing then took {cost:.0f} s longer than it needs." if cost else ""
    text = (
        f"Your brackets went {reach.value:.1f} m to either side. The reading has not clearly risen by then, so the "
        f"true lowest may lie outside.{then} Go on about {arm:.1f} m, until it has risen for certain, then come "
        "back."
    )
    figures = (("reach_m", reach), ("overshoot_m", case.figure("fine", "overshoot_m")))
    points = max(case.points(FINE, "fine.reach_m"), 1.0)
    saving = saving_of(cost) if cost else untimed()
    return remark(case, "narrow_bracketing", FINE, (span.start_s, span.end_s), text, saving, figures, points=points)


def oblique(case: Case) -> Remark | None:
    """Remark on a crossing line far from a right angle."""
    # The bounds speak for themselves even where they are too wide for a figure.
    angle, span = case.figure("fine", "crossing_bounds_deg"), case.span(FINE)
    if angle is None or span is None or angle.value > OBLIQUE_DEG:
        return None
    reach = case.figure("fine", "reach_m")
    short = reach is not None and reach.value < LONG_ENOUGH_M  # the direction of a short line is anybody's guess
    if short or (angle.high > SURELY_OBLIQUE_DEG and angle.value > PLAINLY_OBLIQUE_DEG):
        return None
    surely = "crossed" if angle.high <= SURELY_OBLIQUE_DEG - 10.0 else "probably crossed"
    text = (
        f"Your second line {surely} the first at {angle.low:.0f} to {angle.high:.0f} degrees. Along a slanting line "
        "the lowest reading is off to one side. Stand on the lowest, turn your shoulders a quarter, go out along "
        "them. To practise: lay the probe on the snow as the first line and cross it square."
    )
    figures = (("crossing_angle_deg", case.search.figure("fine", "crossing_angle_deg")), ("crossing_bounds_deg", angle))
    points = max(case.points(FINE, "fine.crossing_angle_deg"), OBLIQUE_POINTS)
    return remark(case, "oblique_bracketing", FINE, (span.start_s, span.end_s), text, untimed(), figures, points=points)


def extra(case: Case) -> Remark | None:
    """Remark on more brackets than a cross."""
    cost, span = case.seconds(FINE, "extra_bracketing"), case.span(FINE)
    duration = case.figure("fine", "duration_s")
    if span is None or duration is None or cost < EXTRA_S:
        return None
    lines = case.figure("fine", "lines_seen")
    share = EXTRA_SHARE_SEEN if lines is not None and lines.value > CROSS_LINES + 1 else EXTRA_SHARE
    if cost < share * max(duration.value - cost, 1.0):
        return None
    legs = len(case.search.legs)
    seen = f" ({legs} legs can be made out)" if legs else ""
    text = (
        f"The fine search took {duration.value:.0f} s, {cost:.0f} s of it on lines beyond one cross{seen}. One line "
        "along, one across, then to the lowest and probe: what a further cross may gain, the probe finds faster."
    )
    window = (span.end_s - cost, span.end_s)
    return remark(case, "extra_bracketing", FINE, window, text, saving_of(cost), (("duration_s", duration),))


def off_lowest(case: Case) -> Remark | None:
    """Remark on probing away from the lowest reading, seen by the reading or by the shift during the probing."""
    ended, span = case.figure("fine", "ended_on_lowest_m"), case.span(PINPOINT)
    if span is None:
        return None
    cost = case.seconds(PINPOINT, "probing")
    by_reading = ended is not None and ended.value >= OFF_LOWEST_M and ended.low >= OFF_LOWEST_SURE_M
    shift = case.extra("probing_shift_m")
    if ended is not None and shift is not None and ended.value >= SLIGHTLY_OFF_M and shift.value >= FAR_SHIFT_M:
        by_reading = True  # neither alone is sure, both together are
    by_shift = shift is not None and shift.value >= SHIFT_M and shift.low >= SHIFT_SURE_M and probing_was_long(case)
    if by_reading and ended is not None:
        seen = f"where the reading was {ended.value:.1f} m above the lowest you had seen"
    elif by_shift and shift is not None and narrow(case) is None:
        seen = f"{shift.value:.1f} m from where you ended"
    else:
        return None
    lost = f"; the probing took {cost:.0f} s longer than it needs" if cost >= 1.0 else ""
    text = (
        f"At {clock(span.start_s)} you began to probe {seen}{lost}. Go back to the lowest reading, mark it with a "
        "glove or a ski pole, and set the first probe there."
    )
    figures = (
        ("ended_on_lowest_m", ended),
        ("lowest_reading_m", case.figure("fine", "lowest_reading_m")),
        ("final_offset_m", case.figure("fine", "final_offset_m")),
        ("final_offset_physics_m", case.figure("fine", "final_offset_physics_m")),
    )
    points = max(case.points(FINE, "fine.ended_on_lowest_m"), 1.0)
    saving = saving_of(cost) if cost >= 1.0 else untimed()
    window = (span.start_s - 5.0, span.end_s)
    return remark(case, "off_minimum_probing", PINPOINT, window, text, saving, figures, points=points)


def probing_was_long(case: Case) -> bool:
    """Return whether the probing took much longer than the reference's."""
    least = max(LONG_PROBING_S, LONG_PROBING_SHARE * case.rules.pinpoint_reference_s)
    return case.seconds(PINPOINT, "probing") >= least


def long_probing(case: Case) -> Remark | None:
    """Remark on probing that took long for no reason that another remark names."""
    span = case.span(PINPOINT)
    if span is None or not probing_was_long(case) or off_lowest(case) is not None or narrow(case) is not None:
        return None
    cost = case.seconds(PINPOINT, "probing")
    text = (
        f"From {clock(span.start_s)} the probing took {cost:.0f} s longer than the reference. Probe square to the "
        "snow, in a spiral of steps of about 25 cm round the lowest reading, and leave the probe in when it "
        "strikes."
    )
    figures = (
        ("duration_s", case.figure("pinpoint", "duration_s")),
        ("probe_offset_m", case.figure("pinpoint", "probe_offset_m")),
    )
    return remark(case, "long_probing", PINPOINT, (span.start_s, span.end_s), text, saving_of(cost), figures)
