"""Remarks on the signal search and the coarse search."""

from analyzer.model.phases import COARSE, FINE, SIGNAL
from analyzer.verdict.remark import Case, Remark, clock, remark, saving_of

# Limits below are our own choice, set so that a run without a fault draws none of them; see docs/methods/score.md.
WRONG_WAY_M = 2.5
DETOUR_S, DETOUR_M = 3.0, 2.5
STANDING_S = 2.5
SLOW_SHARE, SLOW_S = 0.3, 6.0
TOO_FAST = 1.5
STRIP_SHARE, STRIP_S = 0.4, 15.0


def wrong_way(case: Case) -> Remark | None:
    """Remark on walking away from the transmitter."""
    metres, seconds = case.figure("coarse", "wrong_way_m"), case.figure("coarse", "wrong_way_s")
    events = case.search.wrong_way_events
    if metres is None or not events or metres.value < WRONG_WAY_M or metres.low < 1.0:
        return None
    longest = max(events, key=lambda e: e.metres)
    cost = case.seconds(COARSE, "wrong_way")
    often = "" if len(events) == 1 else f", in {len(events)} places"
    text = (
        f"From {clock(longest.from_s)} you walked {metres.value:.0f} m away from the transmitter{often}, and turned at "
        f"{clock(longest.turn_s)}; out and back took {cost:.0f} s. When the reading rises over two or three steps, "
        "stop and turn round. To practise: say every reading aloud, and turn at the second one that is higher."
    )
    return remark(
        case,
        "wrong_way",
        COARSE,
        (longest.from_s, longest.to_s),
        text,
        saving_of(cost),
        (("wrong_way_m", metres), ("wrong_way_s", seconds)),
    )


def detour(case: Case) -> Remark | None:
    """Remark on leaving the field line."""
    cost, extra = case.seconds(COARSE, "off_line"), case.extra("detour_m")
    episodes = case.episodes(COARSE, "off_line")
    if cost < DETOUR_S or not episodes or extra is None or extra.low < 0.0 or extra.value < DETOUR_M:
        return None
    widest = max(episodes, key=lambda e: e.to_s - e.from_s)
    text = (
        f"Around {clock((widest.from_s + widest.to_s) / 2)} you left the line that the arrow shows and walked about "
        f"{extra.value:.0f} m more than the line is long: {cost:.0f} s. Keep the arrow in the middle and turn with it at "
        "every step. To practise: follow a transmitter laid across the slope, where the line bends most."
    )
    return remark(
        case,
        "detour",
        COARSE,
        (widest.window_from_s, widest.window_to_s),
        text,
        saving_of(cost),
        (
            ("path_ratio", case.figure("coarse", "path_ratio")),
            ("off_line_rms_m", case.figure("coarse", "off_line_rms_m")),
        ),
    )


def hesitation(case: Case) -> Remark | None:
    """Remark on standing still in the coarse search."""
    standing = case.figure("coarse", "standing_s")
    episodes = case.episodes(COARSE, "standing")
    if standing is None or not episodes or standing.value < STANDING_S or standing.low < STANDING_S / 2.0:
        return None
    longest = max(episodes, key=lambda e: e.to_s - e.from_s)
    cost = case.seconds(COARSE, "standing")
    times = "once" if len(episodes) == 1 else f"{len(episodes)} times"
    text = (
        f"You stood still {times} on the way in, {cost:.0f} s in all, the longest at {clock(longest.from_s)}. The reading "
        "goes on updating while you walk: slow down if it is unclear, but keep moving. To practise: follow the line at "
        "half pace without one stop."
    )
    return remark(
        case,
        "standing",
        COARSE,
        (longest.from_s, longest.to_s),
        text,
        saving_of(cost, standing.low, standing.high),
        (("standing_s", standing),),
    )


def slow_pace(case: Case) -> Remark | None:
    """Remark on a pace well under the reference's."""
    span = case.span(COARSE)
    cost = case.seconds(COARSE, "slow_pace")
    if span is None or cost < SLOW_S:
        return None
    spent = sum(r.seconds for r in case.rows if r.phase == COARSE and r.cause in ("on_reference", "slow_pace"))
    reference = max(spent - cost, 1e-9)
    if cost < SLOW_SHARE * reference:
        return None
    longest = max(case.episodes(COARSE, "slow_pace"), key=lambda e: e.to_s - e.from_s)
    text = (
        f"On the way in you took {cost:.0f} s longer than the same ground takes at the reference pace, most of it between "
        f"{clock(longest.window_from_s)} and {clock(longest.window_to_s)}. Far out you can walk fast: the arrow is good "
        "enough; save the care for the last ten metres."
    )
    return remark(
        case,
        "slow_pace",
        COARSE,
        (longest.window_from_s, longest.window_to_s),
        text,
        saving_of(cost),
        (("speed_at_10_m", case.figure("coarse", "speed_at_10_m")),),
    )


def late_slow_down(case: Case) -> Remark | None:
    """Remark on running into the fine search."""
    speed, span = case.figure("coarse", "speed_at_3_m"), case.span(FINE)
    if speed is None or span is None:
        return None
    pace = min(case.rules.pace, key=lambda k: abs(k.range_m - 3.0)).pace_mps
    if speed.value < TOO_FAST * pace or speed.low < 1.25 * pace:
        return None
    overshoot = case.figure("fine", "overshoot_m")
    beyond = (
        ""
        if overshoot is None or overshoot.value < 1.0
        else (f", and ran on until the reading had risen by {overshoot.value:.1f} m")
    )
    cost = (case.seconds(FINE, "extra_bracketing"), case.seconds(FINE, "slow_pace"))
    text = (
        f"At 3 m you were still going {speed.value:.1f} m/s{beyond}. At that pace the display is a metre or two behind you. "
        f"Let the pace fall with the reading: a walk at 10 m, a slow step at 5 m, {pace:.1f} m/s and down on the snow "
        "at 3 m."
    )
    return remark(
        case,
        "late_slow_down",
        FINE,
        (span.start_s - 5.0, span.start_s + 5.0),
        text,
        saving_of(cost[0]) if cost[0] >= 1.0 else saving_of(0.0, 0.0, sum(cost)),
        (("speed_at_3_m", speed), ("speed_at_10_m", case.figure("coarse", "speed_at_10_m"))),
        points=case.points(COARSE, "coarse.speed_at_3_m"),
    )


def missed_strip(case: Case) -> Remark | None:
    """Remark on a signal search much longer than the strips needed."""
    spent, reference = case.figure("signal", "duration_s"), case.figure("signal", "duration_reference_s")
    span, covered = case.span(SIGNAL), case.figure("signal", "covered_fraction")
    if spent is None or reference is None or span is None:
        return None
    lost = sum(case.seconds(SIGNAL, c) for c in ("off_line", "searching_uncovered_twice"))
    if lost < STRIP_S or lost < STRIP_SHARE * reference.value:
        return None
    seen = "" if covered is None else f"; {100 * covered.value:.0f} % of the area had been searched by then"
    text = (
        f"The first signal came after {spent.value:.0f} s; with strips in order it would have come after about "
        f"{reference.value:.0f} s{seen}. Lay the strips side by side from the edge, leave none out, and cover no ground "
        "twice. To practise: fix a mark ahead for every strip before walking it."
    )
    return remark(
        case,
        "missed_strip",
        SIGNAL,
        (span.start_s, span.end_s),
        text,
        saving_of(lost, lost - (spent.value - spent.low), lost + (spent.high - spent.value)),
        (("duration_s", spent), ("duration_reference_s", reference), ("covered_fraction", covered)),
    )
