"""Remarks on the fine search and the probing."""

import math

from analyzer.engine.verdict.likelihood import NO_SIGN, Likely, above, any_of, below, explained_by
from analyzer.engine.verdict.remark import Case, Remark, remark, saving_of, untimed, was_said
from analyzer.model.account import CROSS_LINES, OFF_LOWEST_M, SURELY_OFF_LOWEST_M
from analyzer.model.clock import clock
from analyzer.model.figure import Figure, share_above
from analyzer.model.phases import FINE, PINPOINT

# Pairs of limits, our own choice: a remark is worth making from the first on, and true from the second on, which a run
# without a fault does not reach; see docs/methods/findings.md.
RUSHED = (1.9, 1.59)
NARROW = (0.63, 0.7)
LONG_ENOUGH_M, HURRIED_REACH_M = 0.75, 0.5
OBLIQUE_POINTS = 4.0  # for the order of the remarks, where the angle is known too poorly to cost points
EXTRA_S = (12.0, 7.3)
SHIFT_M, SHIFT_S = (0.55, 0.24), 15.0
FIRST_WALK_M, WANDER_M, WANDER_MPS = 1.0, 4.0, 0.18
WIDE_SPIRAL_S, WIDE_SPIRAL_M, SETTLED_FOR_SURE_S = 35.0, 0.3, 6.0
FAR_SHIFT_M, SLIGHTLY_OFF_M = 1.1, 0.15
UNTOLD_AT_MOST = 0.85  # how likely what rests on an uncertain moment of settling can be: possible, no more; our choice
SLANTING_SHARE, SLANTING_SINE = 0.1, 0.64  # how many cross at 40 degrees where no crossing line shows; our choice
HOLE_S, HOLE_M = 2.0, 0.25  # of a spiral of probes: what a quick one takes a hole, and how far holes are apart
LONG_PROBING_S, LONG_PROBING_SHARE, LONG_FOR_SURE_S = 18.0, 0.75, 5.0


def rushed_bracketing(case: Case) -> Remark | None:
    """Remark on bracketing too fast for the display."""
    pace, span = case.figure("fine", "pace_mps"), case.span(FINE)
    limit = case.rules.bracket_pace_mps
    if pace is None or span is None:
        return None
    text = (
        f"You bracketed at {pace.value:.1f} m/s. The transmitter is heard about once a second, so the display is "
        f"{pace.value:.1f} m behind you. Move at about {limit:.1f} m/s, a hand's length a second, and rest a second "
        "at each end of a line."
    )
    figures = (("pace_mps", pace), ("duration_s", case.figure("fine", "duration_s")))
    points = max(case.points(FINE, "fine.pace_mps"), 1.0)
    reach = case.figure("fine", "reach_m")
    if reach is not None and reach.value > HURRIED_REACH_M:
        # Who hurries turns a little early as well: the cause comes before its effect.
        points = max(points, case.points(FINE, "fine.reach_m") + 0.1)
    window, likely = (span.start_s, span.end_s), above(pace, *(factor * limit for factor in RUSHED))
    return remark(case, "rushed_bracketing", FINE, window, likely, text, untimed(), figures, points=points)


def narrow_bracketing(case: Case) -> Remark | None:
    """Remark on brackets that end before the reading has clearly risen; what it cost is a long probing."""
    reach, span, arm = case.figure("fine", "reach_m"), case.span(FINE), case.rules.bracket_arm_m
    if reach is None or span is None:
        return None
    hurried = reach.value > HURRIED_REACH_M and was_said(rushed_bracketing(case))
    # Where the log tells that the probing began beside the lowest, its seconds are that remark's, and counted once.
    beside = case.figure("fine", "ended_on_lowest_m") is not None and was_said(off_lowest(case))
    cost = probing_cost(case) if probing_was_long(case) and not hurried and not beside else None
    then = f" The probing then took {cost.value:.0f} s longer than it needs." if cost else ""
    text = (
        f"Your brackets went {reach.value:.1f} m to either side. The reading has not clearly risen by then, so the "
        f"true lowest may lie outside.{then} Go on about {arm:.1f} m, until it has risen for certain, then come "
        "back."
    )
    figures = (("reach_m", reach), ("overshoot_m", case.figure("fine", "overshoot_m")))
    points = max(case.points(FINE, "fine.reach_m"), 1.0)
    saving = saving_of(cost) if cost else untimed()
    window, likely = (span.start_s, span.end_s), below(reach, *(share * arm for share in NARROW))
    if case.figure("fine", "lines_seen") is None or case.figure("fine", "crossing_bounds_deg") is None:
        likely = _unless_slanting(reach, likely, NARROW[1] * arm)
    return remark(case, "narrow_bracketing", FINE, window, likely, text, saving, figures, points=points)


def _unless_slanting(reach: Figure, likely: Likely, limit_m: float) -> Likely:
    """Return how likely a bracket was narrow whose crossing line cannot be made out: its reach is then that of the
    whole path across the first line, and a slanting line goes less far across than it is long."""
    longer = 1.0 / SLANTING_SINE
    slanting = Figure(reach.value * longer, reach.low * longer, reach.high * longer, reach.unit)
    return explained_by(SLANTING_SHARE * share_above(slanting, limit_m), likely)


def oblique_bracketing(case: Case) -> Remark | None:
    """Remark on a crossing line far from a right angle."""
    # Nothing is said of an angle that the same result calls not assessable.
    angle, likely = case.figure("fine", "crossing_angle_deg"), case.figure("fine", "oblique_share")
    span = case.span(FINE)
    if angle is None or likely is None or span is None:
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
    window, slanting = (span.start_s, span.end_s), Likely(likely.value)
    return remark(case, "oblique_bracketing", FINE, window, slanting, text, untimed(), figures, points=points)


def extra_lines(case: Case) -> Remark | None:
    """Remark on more brackets than a cross."""
    row, duration = case.row(FINE, "extra_lines"), case.figure("fine", "duration_s")
    if row is None or duration is None or not row.windows:
        return None
    cost = row.seconds
    text = (
        f"The fine search took {duration.value:.0f} s, {cost.value:.0f} s of it on lines beyond one cross. One line "
        "along, one across, then to the lowest and probe: what a further cross may gain, the probe finds faster."
    )
    window = (row.windows[0][0], row.windows[-1][1])
    likely = above(cost, *EXTRA_S)
    return remark(case, "extra_lines", FINE, window, likely, text, saving_of(cost), (("duration_s", duration),))


def off_lowest(case: Case) -> Remark | None:
    """Remark on probing away from the lowest reading, seen by the reading or by the shift during the probing."""
    span = case.probing()
    if span is None or not stood_to_probe(case):
        return None
    ended, shift, cost = case.figure("fine", "ended_on_lowest_m"), case.extra("probing_shift_m"), probing_cost(case)
    seconds = 0.0 if cost is None else cost.value
    if ended is not None:
        # The log tells: a probing that is long for another reason wanders about as well.
        likely = _off_by_reading(ended, shift)
        if case.row(PINPOINT, "not_told_apart") is not None:
            # Where the probing began is not known, so neither is what the reading was there.
            likely = Likely(min(likely.probability, UNTOLD_AT_MOST), likely.worth)
        seen = f"where the reading was {ended.value:.1f} m above the lowest you had seen"
    elif shift is not None and not was_said(narrow_bracketing(case)):
        likely, seen = _off_by_shift(case, shift, seconds), f"{shift.value:.1f} m from where you ended"
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
    window = (span.start_s, span.end_s)
    return remark(case, "off_lowest", PINPOINT, window, likely, text, saving, figures, points=points)


def _off_by_reading(ended: Figure, shift: Figure | None) -> Likely:
    """Return how likely the last reading was above the lowest; with a long shift after it a smaller rise will do."""
    plain = above(ended, OFF_LOWEST_M, SURELY_OFF_LOWEST_M)
    if shift is None or shift.value < FAR_SHIFT_M or plain.worth:
        return plain
    return above(ended, SLIGHTLY_OFF_M, SURELY_OFF_LOWEST_M)


def _off_by_shift(case: Case, shift: Figure, seconds: float) -> Likely:
    """Return how likely the searcher shifted during a long probing, by its length or by the spiral it took.

    In a spiral the number of probes grows with the square of the offset: one that took so long, and ended so far off,
    cannot have begun on the lowest reading. What the field itself sets the lowest reading off is no fault.
    """
    physics, span = case.figure("fine", "final_offset_physics_m"), case.probing()
    if span is None:
        return NO_SIGN
    signs = [above(shift, *SHIFT_M)] if seconds >= SHIFT_S else []
    if seconds >= WIDE_SPIRAL_S and span.start_sigma_s <= SETTLED_FOR_SURE_S:
        free = physics.value if physics is not None else 0.0
        signs.append(above(shift, free + WIDE_SPIRAL_M, free))
    return any_of(signs) if signs else NO_SIGN


def stood_to_probe(case: Case) -> bool:
    """Return whether the searcher stood where the pinpoint is said to begin.

    Else it was bracketing, and when the searcher settled was misjudged: a remark would blame for that.
    """
    first, wander, span = case.extra("probing_first_walk_m"), case.extra("probing_wander_m"), case.probing()
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
    span, cost = case.probing(), probing_cost(case)
    if span is None or cost is None or not probing_was_long(case) or not stood_to_probe(case):
        return None
    beside = off_lowest(case)
    if was_said(beside) or was_said(narrow_bracketing(case)):
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
    window, likely = (span.start_s, span.end_s), above(cost, 0.0, LONG_FOR_SURE_S)
    likely = explained_by(_far_share(case, cost.value - LONG_FOR_SURE_S), likely)
    if beside is not None and beside.worth:
        likely = explained_by(beside.finding.probability, likely)
    return remark(case, "long_probing", PINPOINT, window, likely, text, saving_of(cost), figures)


def _far_share(case: Case, seconds: float) -> float:
    """Return how likely so many seconds are those of a spiral alone, which began far from the transmitter: 0..1.

    Over pi r^2 there are as many holes as squares of HOLE_M. Who began so far off probed no longer than it takes.
    """
    offset = case.figure("fine", "final_offset_m")
    far_m = HOLE_M * math.sqrt(max(seconds, 0.0) / (math.pi * HOLE_S))
    return 0.0 if offset is None else share_above(offset, far_m)
