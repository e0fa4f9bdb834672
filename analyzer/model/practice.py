"""Probing, marking and digging, read off the marks of a run: nothing here moves a phase, the account or the score."""

from dataclasses import dataclass

from analyzer.model.figure import Figure, Measured, NotAssessable, exact, spread
from analyzer.model.phases import FINE, PINPOINT
from analyzer.model.recording import PROBE, SPLIT_MARKS
from analyzer.model.result import Phase, RunResult, Split

ONE_PROBING_S = 1.0
"""Marks less than this apart are one probing: nobody draws a probe and places it again within a second. Our choice."""
MARKED_BY = {
    PROBE: "no probing is marked; a mark probe at each one without a hit would have shown it, and one beside the hit "
    "that the first probing struck",
    "marking_end": "a mark marking_end would have shown it",
    "dig_begin": "a mark dig_begin would have shown it",
    "airway_free": "a mark airway_free would have shown it",
}
"""What would have shown what a mark shows, by mark."""
NO_HIT = "no probe hit is marked"
NOT_SETTLED = "when the searcher settled on the spot is not known"
STRUCK_FIRST = "the first probing struck"
AFTER, EARLY, TWICE, AT_HIT = "after", "early", "twice", "at_hit"
SECOND_HIT, NO_HIT_BEFORE = "second_hit", "no_hit_before"


@dataclass(frozen=True, slots=True)
class Aside:
    """A mark that is not counted. `why`: a probing AFTER the hit, EARLY (before the fine search) or AT_HIT (it is the
    strike itself); TWICE for one moment; a SECOND_HIT on a transmitter; NO_HIT_BEFORE what follows a hit."""

    mark: str
    transmitter: str | None
    at_s: float
    why: str


@dataclass(frozen=True, slots=True)
class Strike:
    """One transmitter from settling on the spot to the airway.

    `since_s`: from the hit before, of the first one from the start of the run. `first_probe_s`, `strike_s`: from
    settling on the spot to the first probing and to the hit. `probings`: without a hit, a count; `per_probe_s`: from
    the first of them to the hit, for each. `marking_s`, `dig_s`, `airway_s`: from the hit. `airway_at_s`: from the
    start of the run.
    """

    transmitter: str
    hit_s: float | None
    since_s: Measured
    first_probe_s: Measured
    strike_s: Measured
    probings: Measured
    per_probe_s: Measured
    marking_s: Measured
    dig_s: Measured
    airway_s: Measured
    airway_at_s: Measured


@dataclass(frozen=True, slots=True)
class _Probings:
    """`at_s`: probings without a hit, in order. `at_hit`: the hit is marked as a probing too. `aside`: not counted."""

    at_s: tuple[float, ...]
    at_hit: bool
    aside: tuple[Aside, ...]


def hits_of(result: RunResult) -> dict[str, float]:
    """Return the first hit on each transmitter, seconds, in the order of time."""
    hits: dict[str, float] = {}
    for name, at_s in sorted(result.probe_hits_s, key=lambda hit: hit[1]):
        hits.setdefault(name, at_s)
    return hits


def strikes_of(result: RunResult) -> tuple[Strike, ...]:
    """Return a strike a search: those with a hit in the order of their hits, then the others."""
    hits, searched = hits_of(result), [search.transmitter for search in result.searches]
    found = [name for name in hits if name in searched]
    before = dict(zip(found, (0.0, *(hits[name] for name in found)), strict=False))
    missing = [name for name in searched if name not in hits]
    return tuple(_strike(result, name, hits.get(name), before.get(name, 0.0)) for name in (*found, *missing))


def asides_of(result: RunResult) -> tuple[Aside, ...]:
    """Return the marks that are not counted, in the order of time."""
    hits, out = hits_of(result), []
    for name, at_s in result.probe_hits_s:
        if at_s != hits[name]:
            out.append(Aside("probe_hit", name, at_s, SECOND_HIT))
    for search in result.searches:
        out += _probings(result, search.transmitter, hits.get(search.transmitter)).aside
    for mark in SPLIT_MARKS[1:]:
        seen: set[str | None] = set()
        for split in (s for s in result.splits if s.mark == mark):
            owner = _owner(result, split)
            if split.since_hit_s is None or owner in seen:
                why = TWICE if owner in seen else NO_HIT_BEFORE
                out.append(Aside(mark, owner, split.at_s, why))
            else:
                seen.add(owner)
    return tuple(sorted(out, key=lambda aside: aside.at_s))


def all_hit_s(result: RunResult) -> float | None:
    """Return when the last transmitter was hit, seconds; None where one was not, or nothing was searched for."""
    times = [strike.hit_s for strike in strikes_of(result)]
    known = [at_s for at_s in times if at_s is not None]
    return max(known) if known and len(known) == len(times) else None


def all_free_s(result: RunResult) -> float | None:
    """Return when the last airway was free, seconds from the start; None where one is not marked."""
    times = [strike.airway_at_s for strike in strikes_of(result)]
    known = [at.value for at in times if isinstance(at, Figure)]
    return max(known) if known and len(known) == len(times) else None


def after_the_run(result: RunResult) -> tuple[tuple[Split, float], ...]:
    """Return the marks that follow a hit and lie after the end of the run, in order, each with the moment before it."""
    later = sorted((s for s in result.splits if s.mark != PROBE and s.at_s > result.duration_s), key=lambda s: s.at_s)
    return tuple(zip(later, (result.duration_s, *(s.at_s for s in later)), strict=False))


def _strike(result: RunResult, name: str, hit_s: float | None, before_s: float) -> Strike:
    placed = _probings(result, name, hit_s)
    unmarked: Measured = NotAssessable(MARKED_BY[PROBE])
    known = bool(placed.at_s) or placed.at_hit
    first_s = placed.at_s[0] if placed.at_s else hit_s
    airway = _following(result, name, "airway_free")
    return Strike(
        transmitter=name,
        hit_s=hit_s,
        since_s=NotAssessable(NO_HIT) if hit_s is None else exact(hit_s - before_s, "s"),
        first_probe_s=_from_settling(result, name, first_s) if known and first_s is not None else unmarked,
        strike_s=NotAssessable(NO_HIT) if hit_s is None else _from_settling(result, name, hit_s),
        probings=exact(float(len(placed.at_s)), "1") if known else unmarked,
        per_probe_s=_per_probe(placed, hit_s) if known else unmarked,
        marking_s=_since_hit(_following(result, name, "marking_end"), "marking_end", hit_s),
        dig_s=_since_hit(_following(result, name, "dig_begin"), "dig_begin", hit_s),
        airway_s=_since_hit(airway, "airway_free", hit_s),
        airway_at_s=_since_hit(airway, "airway_free", hit_s) if airway is None else exact(airway.at_s, "s"),
    )


def _per_probe(placed: _Probings, hit_s: float | None) -> Measured:
    """Return the time from the first probing to the hit, else to the last probing, for each of them."""
    times = placed.at_s if hit_s is None else (*placed.at_s, hit_s)
    if len(times) < 2:
        return NotAssessable(STRUCK_FIRST if placed.at_hit else "one probing alone tells no pace")
    return exact((times[-1] - times[0]) / (len(times) - 1), "s")


def _probings(result: RunResult, name: str, hit_s: float | None) -> _Probings:
    """Return the probings for one transmitter, and those marks that are none."""
    begin = _start(result, name, FINE) or _start(result, name, PINPOINT)
    at_s: list[float] = []
    aside: list[Aside] = []
    at_hit = False
    for split in sorted(result.splits, key=lambda split: split.at_s):
        if split.mark != PROBE or _owner(result, split) != name:
            continue
        if hit_s is not None and abs(split.at_s - hit_s) < ONE_PROBING_S:
            why, at_hit = AT_HIT, True
        elif hit_s is not None and split.at_s > hit_s:
            why = AFTER
        elif begin is not None and split.at_s < begin.start_s:
            why = EARLY
        elif at_s and split.at_s - at_s[-1] < ONE_PROBING_S:
            why = TWICE
        else:
            at_s.append(split.at_s)
            continue
        aside.append(Aside(PROBE, name, split.at_s, why))
    return _Probings(tuple(at_s), at_hit, tuple(aside))


def _owner(result: RunResult, split: Split) -> str | None:
    """Return whose a mark is: as it says; else a probing is for the next one that is hit, without one for the one that
    was searched then and never hit; and all else belongs to the hit before."""
    names = [search.transmitter for search in result.searches]
    if split.transmitter is not None or len(names) == 1:
        return split.transmitter if split.transmitter is not None else names[0]
    hits = hits_of(result)
    before = [name for name, at_s in hits.items() if at_s <= split.at_s]
    if split.mark == PROBE:
        later = [name for name, at_s in hits.items() if at_s >= split.at_s]
        never = [name for name in names if name not in hits and _begun(result, name, split.at_s)]
        before = later[:1] or never or before
    return before[-1] if before else None


def _begun(result: RunResult, name: str, at_s: float) -> bool:
    begin = _start(result, name, FINE) or _start(result, name, PINPOINT)
    return begin is not None and begin.start_s <= at_s


def _start(result: RunResult, name: str, phase: str) -> Phase | None:
    return next((p for p in result.phases if (p.phase, p.transmitter) == (phase, name)), None)


def _from_settling(result: RunResult, name: str, at_s: float) -> Measured:
    """Return the time from settling on the spot to a moment, as sure as the start of the pinpoint is."""
    pinpoint = _start(result, name, PINPOINT)
    if pinpoint is None or pinpoint.start_sigma_s is None:
        return NotAssessable(NOT_SETTLED)
    if at_s < pinpoint.start_s:
        return NotAssessable("it is marked before the searcher settled on the spot")
    return spread(at_s - pinpoint.start_s, pinpoint.start_sigma_s, "s")


def _following(result: RunResult, name: str, mark: str) -> Split | None:
    """Return the first mark of a kind that follows the hit on a transmitter."""
    own = (s for s in result.splits if s.mark == mark and s.since_hit_s is not None)
    return next((s for s in own if _owner(result, s) == name), None)


def _since_hit(split: Split | None, mark: str, hit_s: float | None) -> Measured:
    if split is not None and hit_s is not None:
        return exact(split.at_s - hit_s, "s")
    return NotAssessable(NO_HIT if hit_s is None else MARKED_BY[mark])
