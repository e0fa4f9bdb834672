"""Remarks on the signal search and the coarse search."""

from analyzer.engine.verdict.remark import Case, Remark, clock, remark, saving_of, untimed
from analyzer.model.account import WrongWay
from analyzer.model.figure import Figure, total
from analyzer.model.phases import COARSE, FINE, SIGNAL

# Limits below are our own choice, set so that a run without a fault draws none of them; see docs/methods/score.md.
WRONG_WAY_M = 2.5
DETOUR_M = 4.0
OFF_LINE_M, OFF_LINE_SURE_M = 4.0, 3.0
ASTRAY_M, ASTRAY_SURE_M = 5.5, 3.5
DETOUR_S = 1.0
SIDEWAYS_PART = 0.7
STANDING_S = 2.5
SLOW_SHARE, SLOW_S = 0.3, 6.0
TOO_FAST, SURELY_FAST = 1.7, 1.5
STRIP_S = 10.0


def wrong_way(case: Case) -> Remark | None:
    """Remark on walking away from the transmitter; sideways ones belong to the detour."""
    metres, seconds = case.figure("coarse", "wrong_way_m"), case.figure("coarse", "wrong_way_s")
    events = tuple(e for e in case.search.wrong_way_events if not sideways(case, e))
    out = sum(e.metres for e in events)
    if metres is None or not events or out < WRONG_WAY_M or metres.low < 1.0:
        return None
    longest = max(events, key=lambda e: e.metres)
    spent = sum(e.to_s - e.from_s for e in events)
    cost = case.cost(COARSE, "wrong_way") if len(events) == len(case.search.wrong_way_events) else None
    often = "" if len(events) == 1 else f", in {len(events)} places"
    text = (
        f"From {clock(longest.from_s)} you walked {out:.0f} m away from the transmitter{often}, and turned at "
        f"{clock(longest.turn_s)}; out and back took {spent:.0f} s. When the reading rises over two or three steps, "
        "stop and turn round. To practise: say every reading aloud, and turn at the second one that is higher."
    )
    figures = (("wrong_way_m", metres), ("wrong_way_s", seconds))
    return remark(case, "wrong_way", COARSE, (longest.from_s, longest.to_s), text, saving_of(cost), figures)


def sideways(case: Case, event: WrongWay) -> bool:
    """Return whether the range rose because the searcher left the line to the side."""
    spell, peak = off_line_spell(case), case.extra("off_line_peak_m")
    if spell is None or peak is None or not spell[0] - 2.0 <= event.turn_s <= spell[1] + 2.0:
        return False
    # Back along the line, one is as far from it as one walked; to the side, the range rises less than that.
    return event.metres < SIDEWAYS_PART * peak.value


def off_line_spell(case: Case) -> tuple[float, float] | None:
    """Return from when to when the searcher was well off the line, None where that is not certain."""
    peak = case.extra("off_line_peak_m")
    astray = case.extra("astray_m")
    if peak is None or peak.value < OFF_LINE_M or peak.low < OFF_LINE_SURE_M:
        return None
    if astray is not None and (astray.value < ASTRAY_M or astray.low < ASTRAY_SURE_M):
        return None
    longer = case.extra("longer_m")
    if longer is not None and longer.high < 0.0:
        # Shorter than the ideal line: the searcher followed the other way round a fork of the field.
        return None
    return case.search.off_line_spell_s


def detour(case: Case) -> Remark | None:
    """Remark on leaving the field line to the side, or, where the line is unknown, on walking much more than it."""
    spell, peak, extra = off_line_spell(case), case.extra("off_line_peak_m"), case.extra("detour_m")
    row, cost = case.row(COARSE, "detour"), case.cost(COARSE, "detour")
    aside = [e for e in case.search.wrong_way_events if sideways(case, e)]
    if aside and len(aside) == len(case.search.wrong_way_events):
        # Where the range rose because of the way to the side, both are one fault.
        away = case.cost(COARSE, "wrong_way")
        cost = total([c for c in (cost, away) if c is not None]) if away is not None else cost
    if cost is None or cost.value < DETOUR_S:
        return None  # beside the line at no cost: nothing to tell
    if spell is not None and peak is not None:
        seen = (
            f"From {clock(spell[0])} to {clock(spell[1])} you were off the line that the arrow shows, up to "
            f"{peak.value:.0f} m"
        )
    elif peak is None and extra is not None and extra.low > DETOUR_M and row is not None and row.windows:
        spell = max(row.windows, key=lambda w: w[1] - w[0])
        seen = (
            f"Between {clock(spell[0])} and {clock(spell[1])} you walked {extra.value:.0f} m more than any line is long"
        )
    else:
        return None
    text = (
        f"{seen}: {cost.value:.0f} s. Keep the arrow in the middle and turn with it at every step. To practise: follow "
        "a transmitter laid across the slope, where the line bends most."
    )
    figures = (
        ("path_ratio", case.figure("coarse", "path_ratio")),
        ("off_line_rms_m", case.figure("coarse", "off_line_rms_m")),
    )
    points = case.points(COARSE, "coarse.off_line_rms_m")
    return remark(case, "detour", COARSE, spell, text, saving_of(cost), figures, points=points)


def standing(case: Case) -> Remark | None:
    """Remark on standing still in the coarse search."""
    standing = case.figure("coarse", "standing_s")
    episodes = case.episodes(COARSE, "standing")
    if standing is None or not episodes or standing.value < STANDING_S or standing.low < STANDING_S / 2.0:
        return None
    longest = max(episodes, key=lambda e: e.to_s - e.from_s)
    cost = case.cost(COARSE, "standing")
    times = "once" if len(episodes) == 1 else f"{len(episodes)} times"
    spent = standing.value if cost is None else cost.value
    text = (
        f"You stood still {times} on the way in, {spent:.0f} s in all, the longest at {clock(longest.from_s)}. The "
        "reading goes on updating while you walk: slow down if it is unclear, but keep moving. To practise: follow "
        "the line at half pace without one stop."
    )
    return remark(
        case, "standing", COARSE, (longest.from_s, longest.to_s), text, saving_of(cost), (("standing_s", standing),)
    )


def pace(case: Case) -> Remark | None:
    """Remark on a pace well under the reference's."""
    row, cost, reference = case.row(COARSE, "pace"), case.cost(COARSE, "pace"), case.row(COARSE, "reference")
    if row is None or cost is None or reference is None or not row.windows:
        return None
    if cost.value < SLOW_S or cost.low < SLOW_S / 2.0 or cost.value < SLOW_SHARE * reference.seconds.value:
        return None
    window = max(row.windows, key=lambda w: w[1] - w[0])
    text = (
        f"On the way in you took {cost.value:.0f} s longer than the same ground takes at the reference pace, most of "
        f"it between {clock(window[0])} and {clock(window[1])}. Far out you can walk fast: the arrow is good enough; "
        "save the care for the last ten metres."
    )
    figures = (("speed_at_10_m", case.figure("coarse", "speed_at_10_m")),)
    return remark(case, "pace", COARSE, window, text, saving_of(cost), figures)


def late_slow_down(case: Case) -> Remark | None:
    """Remark on running into the fine search."""
    speed, span = case.figure("coarse", "speed_at_3_m"), case.span(FINE)
    if speed is None or span is None:
        return None
    pace = min(case.rules.pace, key=lambda k: abs(k.range_m - 3.0)).pace_mps
    if speed.value < TOO_FAST * pace or speed.low < SURELY_FAST * pace:
        return None
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
        text,
        untimed(),
        (("speed_at_3_m", speed), ("speed_at_10_m", case.figure("coarse", "speed_at_10_m"))),
        points=case.points(COARSE, "coarse.speed_at_3_m"),
    )


def missed_strip(case: Case) -> Remark | None:
    """Remark on a strip left out before the first signal."""
    row, cost = case.row(SIGNAL, "missed_strip"), case.cost(SIGNAL, "missed_strip")
    if row is None or cost is None or not row.windows or cost.value < STRIP_S:
        return None
    window = row.windows[0]
    text = (
        f"At {clock(window[0])} you left a strip out and came back to it at {clock(window[1])}; the signal was there: "
        f"{cost.value:.0f} s. Lay the strips side by side from one edge, leave none out. To practise: fix a mark "
        "ahead for every strip before walking it."
    )
    return remark(case, "missed_strip", SIGNAL, window, text, saving_of(cost), _signal_figures(case))


def covered_twice(case: Case) -> Remark | None:
    """Remark on ground covered twice before the first signal."""
    row, cost = case.row(SIGNAL, "covered_twice"), case.cost(SIGNAL, "covered_twice")
    if row is None or cost is None or not row.windows or cost.value < STRIP_S or cost.low < STRIP_S / 2.0:
        return None
    window = max(row.windows, key=lambda w: w[1] - w[0])
    text = (
        f"You searched ground that you had already covered for {cost.value:.0f} s, longest from {clock(window[0])} to "
        f"{clock(window[1])}. Lay each strip one strip width beside the last. To practise: pace the width out at each "
        "turn."
    )
    return remark(case, "covered_twice", SIGNAL, window, text, saving_of(cost), _signal_figures(case))


def _signal_figures(case: Case) -> tuple[tuple[str, Figure | None], ...]:
    names = ("duration_s", "duration_reference_s", "covered_fraction")
    return tuple((name, case.figure("signal", name)) for name in names)
