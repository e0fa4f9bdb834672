"""Remarks on the fine search and the probing."""

from analyzer.engine.verdict.remark import Case, Remark, clock, remark, saving_of, untimed
from analyzer.model.account import CROSS_LINES, began_beside_lowest
from analyzer.model.figure import Figure
from analyzer.model.phases import FINE, PINPOINT

# Limits below are our own choice, set so that a run without a fault draws none of them; see docs/methods/score.md.
RUSHED, SURELY_RUSHED = 1.9, 1.5
NARROW, SURELY_NARROW = 0.63, 0.9
OBLIQUE_SHARE = 0.9
LONG_ENOUGH_M, HURRIED_REACH_M = 0.75, 0.5
OBLIQUE_POINTS = 4.0  # for the order of the remarks, where the angle is known too poorly to cost points
EXTRA_S = 12.0
SHIFT_M, SHIFT_SURE_M, SHIFT_S = 0.55, 0.15, 15.0
FIRST_WALK_M, WANDER_M, WANDER_MPS = 1.0, 4.0, 0.18
WIDE_SPIRAL_S, WIDE_SPIRAL_M, SETTLED_FOR_SURE_S = 35.0, 0.3, 6.0
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
    reach = case.figure("fine", "reach_m")
    if reach is not None and reach.value > HURRIED_REACH_M:
        # Who hurries turns a little early as well: the cause comes before its effect.
        points = max(points, case.points(FINE, "fine.reach_m") + 0.1)
    return remark(case, "rushed_bracketing", FINE, (span.start_s, span.end_s), text, untimed(), figures, points=points)


def narrow(case: Case) -> Remark | None:
    """Remark on brackets that end before the reading has clearly risen; what it cost is a long probing."""
    reach, span, arm = case.figure("fine", "reach_m"), case.span(FINE), case.rules.bracket_arm_m
    if reach is None or span is None or reach.value > NARROW * arm or reach.high > SURELY_NARROW * arm:
        return None
    hurried = reach.value > HURRIED_REACH_M and rushed(case) is not None
    cost = probing_cost(case) if probing_was_long(case) and not hurried else None
    then = f" The probing then took {cost.value:.0f} s longer than it needs." if cost else ""
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
    # Nothing is said of an angle that the same result calls not assessable.
    angle, likely = case.figure("fine", "crossing_angle_deg"), case.figure("fine", "oblique_share")
    span = case.span(FINE)
    if angle is None or likely is None or span is None or likely.value < OBLIQUE_SHARE:
        return None
    reach, lines = case.figure("fine", "reach_m"), case.figure("fine", "lines_seen")
    if reach is not None and reach.value < LONG_ENOUGH_M:
        return None  # the direction of a short line is anybody's guess
    if lines is not None and lines.value > CROSS_LINES:
        return None  # with further lines it is a guess which two were meant as the cross
    text = (
        f"Your second line crossed the first at about {angle.value:.0f} degrees instead of a right angle (somewhere "
        f"from {angle.low:.0f} to {angle.high:.0f}). Along a slanting line the lowest reading is off to one side. "
        "From the lowest, move the receiver sideways, square to the first line: on the snow, and pointing the same way "
        "throughout. To practise: lay the probe on the snow as the first line and cross it square."
    )
    figures = (("crossing_angle_deg", angle), ("oblique_share", likely))
    points = max(case.points(FINE, "fine.crossing_angle_deg"), OBLIQUE_POINTS)
    return remark(case, "oblique_bracketing", FINE, (span.start_s, span.end_s), text, untimed(), figures, points=points)


def extra_lines(case: Case) -> Remark | None:
    """Remark on more brackets than a cross."""
    row, cost, duration = (
        case.row(FINE, "extra_lines"),
        case.cost(FINE, "extra_lines"),
        case.figure("fine", "duration_s"),
    )
    if row is None or cost is None or duration is None or not row.windows:
        return None
    if cost.value < EXTRA_S or cost.low < EXTRA_S / 2.0:
        return None
    text = (
        f"The fine search took {duration.value:.0f} s, {cost.value:.0f} s of it on lines beyond one cross. One line "
        "along, one across, then to the lowest and probe: what a further cross may gain, the probe finds faster."
    )
    window = (row.windows[0][0], row.windows[-1][1])
    return remark(case, "extra_lines", FINE, window, text, saving_of(cost), (("duration_s", duration),))


def off_lowest(case: Case) -> Remark | None:
    """Remark on probing away from the lowest reading, seen by the reading or by the shift during the probing."""
    ended, span = case.figure("fine", "ended_on_lowest_m"), case.span(PINPOINT)
    if span is None or not stood_to_probe(case):
        return None
    cost = probing_cost(case)
    seconds = 0.0 if cost is None else cost.value
    by_reading = began_beside_lowest(ended)
    shift = case.extra("probing_shift_m")
    if ended is not None and shift is not None and ended.value >= SLIGHTLY_OFF_M and shift.value >= FAR_SHIFT_M:
        by_reading = True  # neither alone is sure, both together are
    by_shift = shift is not None and shift.value >= SHIFT_M and shift.low >= SHIFT_SURE_M and seconds >= SHIFT_S
    by_shift = by_shift or spiral_was_wide(case, seconds)
    if by_reading and ended is not None:
        seen = f"where the reading was {ended.value:.1f} m above the lowest you had seen"
    elif by_shift and shift is not None and narrow(case) is None:
        seen = f"{shift.value:.1f} m from where you ended"
    else:
        return None
    lost = f"; the probing took {seconds:.0f} s longer than it needs" if seconds >= 1.0 else ""
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
    saving = saving_of(cost) if seconds >= 1.0 else untimed()
    window = (span.start_s - 5.0, span.end_s)
    return remark(case, "off_lowest", PINPOINT, window, text, saving, figures, points=points)


def spiral_was_wide(case: Case, cost_s: float) -> bool:
    """Return whether the probing took so long, and ended so far off, that it cannot have begun on the lowest reading.

    In a spiral the number of probes grows with the square of the offset. What the field itself sets the lowest reading
    off is no fault.
    """
    shift, physics = case.extra("probing_shift_m"), case.figure("fine", "final_offset_physics_m")
    span = case.span(PINPOINT)
    if shift is None or span is None or cost_s < WIDE_SPIRAL_S or span.start_sigma_s > SETTLED_FOR_SURE_S:
        return False
    return shift.value - (physics.value if physics is not None else 0.0) >= WIDE_SPIRAL_M


def stood_to_probe(case: Case) -> bool:
    """Return whether the searcher stood where the pinpoint is said to begin.

    Else it was bracketing, and when the searcher settled was misjudged: a remark would blame for that.
    """
    first, wander, span = case.extra("probing_first_walk_m"), case.extra("probing_wander_m"), case.span(PINPOINT)
    seconds = 0.0 if span is None else span.end_s - span.start_s
    return (first is None or first.value < FIRST_WALK_M) and (
        wander is None or wander.value < max(WANDER_M, WANDER_MPS * seconds)
    )


def probing_cost(case: Case) -> Figure | None:
    """Return what the probing took beyond the sheet's time, None where that is not sure or cannot be told apart."""
    return case.cost(PINPOINT, "off_lowest") or case.cost(PINPOINT, "long_probing")


def probing_was_long(case: Case) -> bool:
    """Return whether the probing took much longer than the reference's."""
    least = max(LONG_PROBING_S, LONG_PROBING_SHARE * case.rules.pinpoint_reference_s)
    cost = probing_cost(case)
    return cost is not None and cost.value >= least


def long_probing(case: Case) -> Remark | None:
    """Remark on probing that took long for no reason that another remark names."""
    span, cost = case.span(PINPOINT), probing_cost(case)
    if span is None or cost is None or not probing_was_long(case) or not stood_to_probe(case):
        return None
    if off_lowest(case) is not None or narrow(case) is not None:
        return None
    text = (
        f"From {clock(span.start_s)} the probing took {cost.value:.0f} s longer than the reference. Probe square to "
        "the snow, in a spiral of steps of about 25 cm round the lowest reading, and leave the probe in when it "
        "strikes."
    )
    figures = (
        ("duration_s", case.figure("pinpoint", "duration_s")),
        ("probe_offset_m", case.figure("pinpoint", "probe_offset_m")),
    )
    return remark(case, "long_probing", PINPOINT, (span.start_s, span.end_s), text, saving_of(cost), figures)
