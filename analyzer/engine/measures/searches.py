"""All measures of a run: one `Search` per transmitter, in the order found."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.engine.measures.accounting.activities import (
    coarse_activities,
    fine_activities,
    lines_told_apart,
    off_line_spells,
    pinpoint_activities,
    signal_activities,
)
from analyzer.engine.measures.accounting.coarse import coarse_shares
from analyzer.engine.measures.accounting.fine import fine_shares, marking_shares, pinpoint_shares
from analyzer.engine.measures.accounting.run import contiguous, not_assessed, rows_of
from analyzer.engine.measures.accounting.signal import signal_shares
from analyzer.engine.measures.coarse_search import coarse_figures, longer_metres, off_line_peak
from analyzer.engine.measures.fine_search import fine_figures, pinpoint_figures, probing_shift, probing_walk
from analyzer.engine.measures.line import Progress, progress_of
from analyzer.engine.measures.off_line_walking import off_line_walking_m
from analyzer.engine.measures.signal_search import signal_figures
from analyzer.engine.measures.spells import recorded
from analyzer.engine.measures.standing import Stop, stops
from analyzer.engine.measures.strips_walked import left_out
from analyzer.engine.measures.unfinished import of_unfinished, unfinished_phase
from analyzer.engine.measures.window import MARGIN_S, Window, cut
from analyzer.engine.measures.wrong_way import excursions
from analyzer.geometry.slope_plane import SlopePlane
from analyzer.model.account import CROSS_LINES, AccountRow, Episode, Leg, MeasuredSearch, WrongWay, began_beside_lowest
from analyzer.model.arrays import FloatArray
from analyzer.model.figure import Figure, Measured, NotAssessable
from analyzer.model.measures import of_phase
from analyzer.model.path import FusedPath
from analyzer.model.phases import COARSE, FINE, PHASES, PINPOINT, SIGNAL, PhaseSpan
from analyzer.model.recording import Mark
from analyzer.model.reference_solution import ReferenceSolution
from analyzer.model.rules import Rules

NAMES = {phase: tuple(m.key for m in of_phase(phase) if m.always) for phase in PHASES}
"""The figures of each phase that every result has."""

NOT_REACHED = {
    SIGNAL: "the signal was there at once: no signal search",
    COARSE: "no coarse search in this run",
    FINE: "no fine search in this run",
    PINPOINT: "the run ended before the probing",
}
FINE_STOP_S = 5.0
"""A shorter stop in the fine search is part of bracketing: every turn has one."""
FINE_STOP_MPS = 0.06


@dataclass(frozen=True, slots=True)
class Ground:
    """What the measures need of the drill and the run besides the path: the plane, the strips, the area's corners
    (c, 2) in the slope plane, the carried height, and the holes of the recording."""

    plane: SlopePlane
    strip_width_m: float
    fine_height_m: float
    corners_m: FloatArray | None = None
    holes: tuple[tuple[float, float], ...] = ()
    team: bool = False
    """Several searchers share area and burials: a strip left out, or a transmitter not searched, may be another's."""


@dataclass(frozen=True, slots=True)
class Part:
    """The measures of one phase."""

    figures: tuple[tuple[str, Measured], ...]
    events: tuple[WrongWay, ...] = ()
    legs: tuple[Leg, ...] = ()
    extra: tuple[tuple[str, Measured], ...] = ()
    off_line_spell_s: tuple[float, float] | None = None
    activities: tuple[Episode, ...] = ()
    account: tuple[AccountRow, ...] = ()


def measure_searches(
    fused: FusedPath,
    spans: Sequence[PhaseSpan],
    solutions: Mapping[str, ReferenceSolution],
    rules: Rules,
    *,
    ground: Ground,
    marks: Sequence[Mark] = (),
) -> tuple[MeasuredSearch, ...]:
    """Return the measures of every search of a run.

    Parameters
    ----------
    fused : FusedPath
        All measures are taken in every one of its draws; rows of `solutions` match them.
    spans : sequence of PhaseSpan
        In order; at most one of each phase and transmitter.
    solutions : mapping of transmitter id to ReferenceSolution
        Missing ones make the figures that need them not assessable.
    rules : Rules
    ground : Ground
    marks : sequence of Mark
        Probe hits tell which transmitters were found.

    Returns
    -------
    tuple of MeasuredSearch
        Those searched, in order, then, but for a team, the drill's other transmitters with `found` False.
    """
    spans = contiguous(spans)
    order = list(dict.fromkeys(s.transmitter for s in spans if s.transmitter))
    searches = []
    alone = len(fused.transmitter_ids) == 1
    for name in order:
        own = {s.phase: s for s in spans if s.transmitter == name}
        hit_s = _hit(marks, name, own, alone=alone)
        searches.append(_search(fused, own, solutions.get(name, ReferenceSolution(name)), rules, ground, hit_s))
    # What others of a team looked for is not held against anybody.
    missing = [] if ground.team else [name for name in fused.transmitter_ids if name not in order]
    return (*searches, *(_never(name) for name in missing))


def _hit(marks: Sequence[Mark], name: str, own: Mapping[str, PhaseSpan], *, alone: bool) -> float | None:
    """Return the time of the probe hit on a transmitter: marked with its id, or without id in its pinpoint, or the only
    one of the drill."""
    named = [m.time_s for m in marks if m.mark == "probe_hit" and m.transmitter in ((name, None) if alone else (name,))]
    if named:
        return named[0]
    if PINPOINT not in own:
        return None
    span = own[PINPOINT]
    near = [
        m.time_s
        for m in marks
        if m.mark == "probe_hit" and m.transmitter is None and span.start_s <= m.time_s <= span.end_s + 1.0
    ]
    return near[-1] if near else None


def _search(
    fused: FusedPath,
    own: Mapping[str, PhaseSpan],
    solution: ReferenceSolution,
    rules: Rules,
    ground: Ground,
    hit_s: float | None,
) -> MeasuredSearch:
    parts = {}
    if SIGNAL in own:
        parts[SIGNAL] = _signal(cut(fused, own[SIGNAL]), solution, rules, ground)
    if COARSE in own:
        ended = not {FINE, PINPOINT}.isdisjoint(own)
        parts[COARSE] = _coarse(fused, cut(fused, own[COARSE]), solution, rules, ground, ended=ended)
    if FINE in own:
        parts[FINE] = _fine(fused, own[FINE], own.get(PINPOINT), solution, rules, ground)
    if PINPOINT in own:
        parts[PINPOINT] = _pinpoint(fused, own[PINPOINT], rules, ground, hit_s, parts.get(FINE))
    if last := unfinished_phase(own, hit_s):
        parts[last] = replace(parts[last], figures=of_unfinished(last, parts[last].figures))
    done = {phase: parts.get(phase, Part(_nothing(phase))) for phase in NAMES}
    return MeasuredSearch(
        transmitter=solution.transmitter,
        found=PINPOINT in own or hit_s is not None,
        signal=_in_order(SIGNAL, done[SIGNAL].figures),
        coarse=_in_order(COARSE, done[COARSE].figures),
        wrong_way_events=done[COARSE].events,
        fine=_in_order(FINE, done[FINE].figures),
        legs=done[FINE].legs,
        pinpoint=_in_order(PINPOINT, done[PINPOINT].figures),
        extra=tuple(pair for part in done.values() for pair in part.extra),
        off_line_spell_s=done[COARSE].off_line_spell_s,
        activities=tuple(e for part in done.values() for e in part.activities),
        account=not_assessed(list(own.values()), [row for part in done.values() for row in part.account]),
    )


def _in_order(phase: str, figures: tuple[tuple[str, Measured], ...]) -> tuple[tuple[str, Measured], ...]:
    """Return the figures of a phase in the order of its names; those that not every result has come last."""
    found = dict(figures)
    return tuple(({name: found[name] for name in NAMES[phase]} | found).items())


def _never(name: str) -> MeasuredSearch:
    why = "this transmitter was not searched in the run"
    return MeasuredSearch(
        name, False, _nothing(SIGNAL, why), _nothing(COARSE, why), (), _nothing(FINE, why), (), _nothing(PINPOINT, why)
    )


def _nothing(phase: str, why: str | None = None) -> tuple[tuple[str, Measured], ...]:
    reason = NotAssessable(why or NOT_REACHED[phase])
    return tuple((name, reason) for name in NAMES[phase])


def _signal(window: Window, solution: ReferenceSolution, rules: Rules, ground: Ground) -> Part:
    missed = left_out(window, ground.strip_width_m)
    if missed is not None and (ground.team or not recorded(*missed, ground.holes)):
        missed = None
    halts = _recorded_stops(window, ground)
    shares = signal_shares(
        window, ground.corners_m, ground.strip_width_m, rules.signal_pace_mps, missed, halts, ground.holes
    )
    figures = signal_figures(window, solution, shares)
    done = signal_activities(window, halts, ground.holes, area=ground.corners_m is not None)
    return Part(tuple(figures.items()), activities=done, account=rows_of(window, shares))


def _coarse(
    fused: FusedPath, window: Window, solution: ReferenceSolution, rules: Rules, ground: Ground, *, ended: bool
) -> Part:
    # In a hole of the recording nobody knows whether the searcher stood, or went away and came back.
    events = tuple(e for e in excursions(window) if recorded(e.event.from_s, e.event.to_s, ground.holes))
    halts = _recorded_stops(window, ground)
    figures = coarse_figures(window, solution, events, halts, ended=ended)
    progress = _progress(fused, window, solution, rules)
    line = None if solution.coarse is None or fused.axis_source == "unknown" else solution.coarse.line_m
    extra: tuple[tuple[str, Measured], ...] = (
        ("detour_m", longer_metres(window, solution, events)),
        ("longer_m", longer_metres(window, solution)),
    )
    aside, spell_s = off_line_peak(window, line), None
    if aside is not None:
        peak, spell_s = aside
        lost_stretches = off_line_walking_m(fused, window, spell_s)
        extra += (("off_line_peak_m", peak), ("astray_m", lost_stretches))
    spells = off_line_spells(window, line)
    lengths = None if solution.coarse is None else solution.coarse.length_draws_m
    shares = coarse_shares(window, progress, lengths, events, halts, ground.holes, spells)
    return Part(
        tuple(figures.items()),
        tuple(e.event for e in events),
        extra=extra,
        off_line_spell_s=spell_s,
        activities=coarse_activities(window, events, halts, ground.holes, spells),
        account=rows_of(window, shares),
    )


def _progress(fused: FusedPath, window: Window, solution: ReferenceSolution, rules: Rules) -> Progress | None:
    ideal = solution.coarse
    if ideal is None or len(ideal.line_m) < 2 or np.isnan(window.transmitter_m[0]).any():
        return None
    stretch, length = 1.0, float(ideal.length_draws_m[0])
    if fused.axis_source == "unknown" and isinstance(ideal.length_m, Figure) and length > 0.0:
        # Nobody is blamed for the longer line where the axis is not known.
        stretch = max(ideal.length_m.high / length, 1.0)
    seconds = None
    if solution.reference is not None and solution.reference.coarse_s is not None:
        seconds = solution.reference.coarse_s * stretch
    return progress_of(ideal, window.transmitter_m[0], rules, stretch=stretch, seconds=seconds)


def _fine(
    fused: FusedPath,
    span: PhaseSpan,
    probing: PhaseSpan | None,
    solution: ReferenceSolution,
    rules: Rules,
    ground: Ground,
) -> Part:
    probed_s = None if probing is None else probing.probing.end_s
    margin_s = MARGIN_S if probed_s is None else max(MARGIN_S, probed_s - span.end_s)
    window = cut(fused, span, margin_s=margin_s)
    figures, legs, lines = fine_figures(
        fused, window, solution, plane=ground.plane, fine_height_m=ground.fine_height_m, probed_s=probed_s
    )
    halts = _recorded_stops(window, ground, slowest_mps=FINE_STOP_MPS, least_s=FINE_STOP_S)
    told = lines_told_apart(window, lines)
    shares = fine_shares(
        window,
        _cross_draws(window, solution),
        rules.bracket_pace_mps,
        told,
        halts,
        ground.holes,
        beyond_s=None if lines is None else lines.beyond_s,
    )
    return Part(
        tuple(figures.items()),
        legs=legs,
        activities=fine_activities(window, told, halts, ground.holes),
        account=rows_of(window, shares),
    )


def _recorded_stops(window: Window, ground: Ground, **limits: float) -> tuple[Stop, ...]:
    return tuple(s for s in stops(window, **limits) if recorded(s.from_s, s.to_s, ground.holes))


def _cross_draws(window: Window, solution: ReferenceSolution) -> FloatArray | None:
    """Return the length of one cross in every draw (S,): only its way in differs between draws."""
    if solution.bracket is None:
        return None
    rows = len(window.start_s)
    if solution.lowest_draws_m is None or len(solution.lowest_draws_m) != rows:
        return np.full(rows, solution.bracket.length_m)
    off = window.at(window.start_s) - solution.lowest_draws_m
    way_in = np.hypot(off[:, 0], off[:, 1])
    return np.asarray(solution.bracket.length_m + way_in - way_in[0], np.float64)


def _pinpoint(
    fused: FusedPath, span: PhaseSpan, rules: Rules, ground: Ground, hit_s: float | None, fine: Part | None
) -> Part:
    whole, window = cut(fused, span), cut(fused, span.probing)
    figures = pinpoint_figures(fused, window, hit_s)
    at_first, beyond = probing_walk(window)
    extra = (
        ("probing_shift_m", probing_shift(window)),
        ("probing_first_walk_m", at_first),
        ("probing_wander_m", beyond),
    )
    shares = pinpoint_shares(
        window,
        rules.pinpoint_reference_s,
        ground.holes,
        beside_lowest=fine is not None and began_beside_lowest(dict(fine.figures).get("ended_on_lowest_m")),
        told_apart=fine is None or _told_apart(fine),
    )
    if span.marking is not None:
        shares = [*marking_shares(cut(fused, span.marking), rules.marking_s, ground.holes), *shares]
    rows, done = rows_of(whole, shares), pinpoint_activities(whole, ground.holes)
    return Part(tuple(figures.items()), extra=extra, activities=done, account=rows)


def _told_apart(fine: Part) -> bool:
    """Return whether the lines of a bracket were made out: that there may be one more says nothing of the probing."""
    seen, causes = dict(fine.figures).get("lines_seen"), {row.cause for row in fine.account}
    crossed = isinstance(seen, Figure) and seen.value >= CROSS_LINES
    return "not_told_apart" not in causes or (crossed and "not_recorded" not in causes)
