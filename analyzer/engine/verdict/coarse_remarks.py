"""Remarks on the signal search and the coarse search."""

from analyzer.engine.verdict.likelihood import NO_SIGN, Likely, above, all_of
from analyzer.engine.verdict.remark import Case, Remark, remark, saving_of, untimed
from analyzer.model.account import WrongWay
from analyzer.model.clock import clock
from analyzer.model.figure import Figure, total
from analyzer.model.phases import COARSE, FINE, SIGNAL

# Pairs of limits, our own choice: a remark is worth making from the first on, and true from the second on, which a run
# without a fault does not reach; see docs/methods/findings.md.
WRONG_WAY_M = (2.5, 1.3)
MORE_THAN_ANY_LINE_M = (4.0, 4.0)
OFF_LINE_M = (3.5, 3.0)
ASTRAY_M = (4.5, 3.5)
DETOUR_S = (1.0, 0.0)
SIDEWAYS_PART = 0.7
STANDING_S, LEAST_STOP_S = (2.5, 1.5), 0.5
SLOW_SHARE, SLOW_S = 0.3, (6.0, 3.7)
TOO_FAST = (1.7, 1.54)
MISSED_STRIP_S = (10.0, 2.0)
TWICE_S = (10.0, 6.0)


def wrong_way(case: Case) -> Remark | None:
    """Remark on walking away from the transmitter; sideways ones belong to the detour."""
    metres, seconds = case.figure("coarse", "wrong_way_m"), case.figure("coarse", "wrong_way_s")
    events = tuple(e for e in case.search.wrong_way_events if not sideways(case, e))
    if metres is None or not events:
        return None
    out = sum(e.metres for e in events)
    aside = metres.value - out
    longest = max(events, key=lambda e: e.metres)
    cost = case.cost(COARSE, "wrong_way") if len(events) == len(case.search.wrong_way_events) else None
    spent = sum(e.to_s - e.from_s for e in events) if cost is None else cost.value
    often = "" if len(events) == 1 else f", in {len(events)} places"
    text = (
        f"From {clock(longest.from_s)} you walked {out:.0f} m with the distance growing{often}, and turned at "
        f"{clock(longest.turn_s)}; out and back took {spent:.0f} s. When the reading rises over two or three steps, "
        "stop and turn round. To practise: say every reading aloud, and turn at the second one that is higher."
    )
    likely = above(Figure(out, metres.low - aside, metres.high - aside, "m"), *WRONG_WAY_M)
    figures = (("wrong_way_m", metres), ("wrong_way_s", seconds))
    return remark(case, "wrong_way", COARSE, (longest.from_s, longest.to_s), likely, text, saving_of(cost), figures)


def sideways(case: Case, event: WrongWay) -> bool:
    """Return whether the range rose because the searcher left the line to the side."""
    spell, peak = case.search.off_line_spell_s, case.extra("off_line_peak_m")
    if spell is None or peak is None or not spell[0] - 2.0 <= event.turn_s <= spell[1] + 2.0:
        return False
    if not off_line(case).said:
        return False
    # Back along the line, one is as far from it as one walked; to the side, the range rises less than that.
    return event.metres < SIDEWAYS_PART * peak.value


def off_line(case: Case) -> Likely:
    """Return how likely the searcher was well off the line."""
    peak, astray, longer = case.extra("off_line_peak_m"), case.extra("astray_m"), case.extra("longer_m")
    if peak is None or case.search.off_line_spell_s is None:
        return NO_SIGN
    if longer is not None and longer.high < 0.0:
        # Shorter than the ideal line: the searcher followed the other way round a fork of the field.
        return NO_SIGN
    beside = above(peak, *OFF_LINE_M)
    return beside if astray is None else all_of((beside, above(astray, *ASTRAY_M)))


def detour(case: Case) -> Remark | None:
    """Remark on leaving the field line to the side, or, where the line is unknown, on walking much more than it."""
    cost = _detour_seconds(case)
    if cost is None:
        return None
    seen = _seen_off_line(case) or _seen_longer(case)
    if seen is None:
        return None
    words, spell, likely = seen
    text = (
        f"{words}: {cost.value:.0f} s. Keep the arrow in the middle and turn with it at every step. To practise: "
        "follow a transmitter laid across the slope, where the line bends most."
    )
    figures = (
        ("path_ratio", case.figure("coarse", "path_ratio")),
        ("off_line_rms_m", case.figure("coarse", "off_line_rms_m")),
    )
    likely = all_of((likely, above(cost, *DETOUR_S)))  # beside the line at no cost: nothing to tell
    points = case.points(COARSE, "coarse.off_line_rms_m")
    return remark(case, "detour", COARSE, spell, likely, text, saving_of(cost), figures, points=points)


def _detour_seconds(case: Case) -> Figure | None:
    """Return what the way to the side cost; where the range rose because of it, both are one fault."""
    cost, away = case.seconds(COARSE, "detour"), case.seconds(COARSE, "wrong_way")
    events = case.search.wrong_way_events
    if away is not None and events and all(sideways(case, e) for e in events):
        return total([c for c in (cost, away) if c is not None])
    return cost


def _seen_off_line(case: Case) -> tuple[str, tuple[float, float], Likely] | None:
    spell, peak = case.search.off_line_spell_s, case.extra("off_line_peak_m")
    if spell is None or peak is None:
        return None
    words = f"From {clock(spell[0])} to {clock(spell[1])} you were off the line that the arrow shows, up to "
    return f"{words}{peak.value:.0f} m", spell, off_line(case)


def _seen_longer(case: Case) -> tuple[str, tuple[float, float], Likely] | None:
    row, more = case.row(COARSE, "detour"), case.extra("detour_m")
    if case.extra("off_line_peak_m") is not None or more is None or row is None or not row.windows:
        return None
    spell = max(row.windows, key=lambda w: w[1] - w[0])
    words = f"Between {clock(spell[0])} and {clock(spell[1])} you walked {more.value:.0f} m more than any line is long"
    return words, spell, above(more, *MORE_THAN_ANY_LINE_M)


def standing(case: Case) -> Remark | None:
    """Remark on standing still in the coarse search."""
    standing = case.figure("coarse", "standing_s")
    row = case.row(COARSE, "standing")
    stops = [] if row is None else [w for w in row.windows if w[1] - w[0] >= LEAST_STOP_S]
    if standing is None or not stops:
        return None
    longest = max(stops, key=lambda w: w[1] - w[0])
    cost = case.cost(COARSE, "standing")
    spent = standing.value if cost is None else cost.value
    often = "twice" if len(stops) == 2 else f"{len(stops)} times"
    when = f"{often} on the way in, {spent:.0f} s in all, the longest at {clock(longest[0])}"
    if len(stops) == 1:
        when = f"once on the way in, for {spent:.0f} s at {clock(longest[0])}"
    text = (
        f"You stood still {when}. The "
        "reading goes on updating while you walk: slow down if it is unclear, but keep moving. To practise: follow "
        "the line at half pace without one stop."
    )
    likely, figures = above(standing, *STANDING_S), (("standing_s", standing),)
    return remark(case, "standing", COARSE, longest, likely, text, saving_of(cost), figures)


def pace(case: Case) -> Remark | None:
    """Remark on a pace well under the reference's."""
    row, reference = case.row(COARSE, "pace"), case.row(COARSE, "reference")
    if row is None or reference is None or not row.windows:
        return None
    cost = row.seconds
    window = max(row.windows, key=lambda w: w[1] - w[0])
    text = (
        f"On the way in you took {cost.value:.0f} s longer than the same ground takes at the reference pace, most of "
        f"it between {clock(window[0])} and {clock(window[1])}. Far out you can walk fast: the arrow is good enough; "
        "save the care for the last ten metres."
    )
    figures = (("speed_at_10_m", case.figure("coarse", "speed_at_10_m")),)
    least, limit = SLOW_S
    likely = above(cost, max(least, SLOW_SHARE * reference.seconds.value), limit)
    return remark(case, "pace", COARSE, window, likely, text, saving_of(cost), figures)


def late_slow_down(case: Case) -> Remark | None:
    """Remark on running into the fine search."""
    speed, span = case.figure("coarse", "speed_at_3_m"), case.span(FINE)
    if speed is None or span is None:
        return None
    pace = min(case.rules.pace, key=lambda k: abs(k.range_m - 3.0)).pace_mps
    overshoot = case.figure("fine", "overshoot_m")
    beyond = (
        ""
        if overshoot is None or overshoot.value < 1.0
        else (f", and ran on until the reading had risen by {overshoot.value:.1f} m")
    )
    text = (
        f"At 3 m you were still going {speed.value:.1f} m/s{beyond}. At that pace the display is a metre or two "
        f"behind you. Let the pace fall with the reading: a walk at 10 m, a slow step at 5 m, {pace:.1f} m/s and "
        "down on the snow at 3 m."
    )
    return remark(
        case,
        "late_slow_down",
        FINE,
        (span.start_s - 5.0, span.start_s + 5.0),
        above(speed, *(factor * pace for factor in TOO_FAST)),
        text,
        untimed(),
        (("speed_at_3_m", speed), ("speed_at_10_m", case.figure("coarse", "speed_at_10_m"))),
        points=case.points(COARSE, "coarse.speed_at_3_m"),
    )


def missed_strip(case: Case) -> Remark | None:
    """Remark on a strip left out before the first signal."""
    row = case.row(SIGNAL, "missed_strip")
    if row is None or not row.windows:
        return None
    cost, likely = row.seconds, above(row.seconds, *MISSED_STRIP_S)
    window = row.windows[0]
    text = (
        f"At {clock(window[0])} you left a strip out and came back to it at {clock(window[1])}; the signal was there: "
        f"{cost.value:.0f} s. Lay the strips side by side from one edge, leave none out. To practise: fix a mark "
        "ahead for every strip before walking it."
    )
    return remark(case, "missed_strip", SIGNAL, window, likely, text, saving_of(cost), _signal_figures(case))


def covered_twice(case: Case) -> Remark | None:
    """Remark on ground covered twice before the first signal."""
    row = case.row(SIGNAL, "covered_twice")
    if row is None or not row.windows:
        return None
    cost, likely = row.seconds, above(row.seconds, *TWICE_S)
    window = max(row.windows, key=lambda w: w[1] - w[0])
    text = (
        f"You searched ground that you had already covered for {cost.value:.0f} s, longest from {clock(window[0])} to "
        f"{clock(window[1])}. Lay each strip one strip width beside the last. To practise: pace the width out at each "
        "turn."
    )
    return remark(case, "covered_twice", SIGNAL, window, likely, text, saving_of(cost), _signal_figures(case))


def _signal_figures(case: Case) -> tuple[tuple[str, Figure | None], ...]:
    names = ("duration_s", "duration_reference_s", "covered_fraction")
    return tuple((name, case.figure("signal", name)) for name in names)
