"""Standings in words: rows and lines as a table, a printed list and a page show them.

Every time is shown with a tenth, as it is counted: the parts that are shown add up to the total that is shown.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from analyzer.events.model import FASTEST, OVERALL, FieldScore, Place, ScoreLine, Standings, Unclear
from analyzer.events.shown import ShownLine, ShownRow
from analyzer.events.timing import LOST, NO_MARKS, STATUS_WORDS, clock
from analyzer.model.figure import Figure

HOW = (
    "A place is followed by the places that it may truly be, in 90 % of cases, within the uncertainty of all totals "
    "together. Remarks compare two entries at a time: not clearly apart are two where the 90 % interval of the "
    "difference of their totals holds zero, so that the clock does not decide between them. The places look at all "
    "entries at once, so that one may have a single place and not be clearly apart from a neighbour. Neither changes a "
    "place. In an event each run is measured by itself, against the drill as laid; its debrief measures it together "
    "with the drill's other runs, and may differ by some seconds."
)
TENTH_S = 0.1
"""What totals are counted and shown in: two that are compared in no larger steps look equal where they are."""
MANY = 4
"""From so many others on, their bibs are counted and not listed."""
MOMENT = re.compile(r", \d{4}-\d\d-\d\dT[^)]*\)$")
"""When a judge decided, at the end of a line; the line itself is in the account of the entry."""


def shown_rows(
    table: Standings,
    kind: str,
    classes: dict[str, str],
    fields: Sequence[tuple[str, str]] = (),
    tables: Sequence[Standings] = (),
    *,
    step_s: float = 0.0,
) -> tuple[ShownRow, ...]:
    """Return the rows of a table in words, with what they are without their lines; see `shown_lines`.

    Parameters
    ----------
    table : Standings
    kind : str
        Of the rule sheet.
    classes : dict
        Id -> name.
    fields : sequence of pairs
        Drill and name of every field: the columns of the table overall.
    tables : sequence of Standings
        All tables of the event, of which the table overall takes what is in the fields.
    step_s : float
        In which the sheet compares totals.
    """
    held = Counter(place.rank for place in table.places if place.rank is not None)
    twice = {rank for rank, count in held.items() if count > 1}
    own: dict[str, list[tuple[str, FieldScore]]] = {}
    if table.scope == OVERALL:
        scores = {(t.scope, p.score.bib): p.score for t in tables if not t.class_id for p in t.places}
        for place in table.places:
            bib = place.score.bib
            own[bib] = [(name, scores[drill, bib]) for drill, name in fields if (drill, bib) in scores]
    return tuple(_row(place, kind, classes, twice, own.get(place.score.bib, []), step_s) for place in table.places)


def columns_of(table: Standings, kind: str, fields: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """Return the heads of the columns that a row's `parts` stand in."""
    if table.scope == OVERALL:
        return tuple(name for _, name in fields)
    return ("Time",) if kind == FASTEST else ()


def _row(
    place: Place, kind: str, classes: dict[str, str], twice: set[int], own: list[tuple[str, FieldScore]], step_s: float
) -> ShownRow:
    score = place.score
    shared = f"shared place: equal in steps of {step_s:g} s" if step_s > TENTH_S else "shared place"
    remarks = [shared] if place.rank in twice else []
    remarks += unclear_words(place.unclear)
    if score.passed is not None and score.seconds is not None and not score.pending:
        remarks.append("all targets in time" if score.passed else "not all targets in time")
    if score.seconds is None or score.pending:
        remarks.append(score.why or STATUS_WORDS[score.status])
    elif score.status != "finished":
        remarks.append(STATUS_WORDS[score.status])
    if score.open:
        remarks.append(f"{counted(score.open, 'proposal')} of a penalty {_wait(score.open)} for a judge")
    remarks += score.known
    return ShownRow(
        place="" if place.rank is None else str(place.rank),
        span="" if place.low == place.high else f"{place.low} to {place.high}",
        bib=score.bib,
        name=place.name,
        class_name=classes.get(place.class_id, place.class_id),
        total=total_words(place.score, kind),
        interval="" if score.seconds is None else interval_words(score.seconds),
        status=STATUS_WORDS[score.status],
        remarks=tuple(remarks),
        lines=(),
        runs=((score.drill, score.run),) if score.run else (),
        parts=_parts(score, kind, own),
        penalties=_penalties(score, own),
    )


def _parts(score: FieldScore, kind: str, own: list[tuple[str, FieldScore]]) -> tuple[tuple[str, str], ...]:
    """Return what the columns of a row hold: a field each, or the time of the field."""
    if score.drill != OVERALL:
        times = [("Time", clock(line.seconds)) for line in score.lines if line.rule == "time"]
        return tuple(times) if kind == FASTEST else ()
    by_rule = {line.source: clock(line.seconds) for line in score.lines if line.figure is None}
    return tuple((name, total_words(one, kind) or by_rule.get(one.drill, _no_time(one))) for name, one in own)


def _no_time(score: FieldScore) -> str:
    """Return what stands in place of a time; nobody is called finished whose end is not known."""
    if score.status == "finished" and score.pending:
        return NO_MARKS if score.why.startswith(NO_MARKS) else "not measured"
    return STATUS_WORDS[score.status]


def _penalties(score: FieldScore, own: list[tuple[str, FieldScore]]) -> tuple[str, ...]:
    """Return what was added and taken off, with the reasons; overall, with the fields that it lies in."""
    if score.drill == OVERALL:
        return tuple(f"{name}: {words}" for name, one in own for words in _penalties(one, []))
    told = [line for line in score.lines if line.rule.startswith(("missed_", "penalty.", "judge."))]
    return tuple(
        f"{'' if (line.seconds or line.points) < 0 else '+'}{_added(line)}: {_reason(line)}"
        for line in told
        if line.rule != "judge.status"
    )


def _reason(line: ScoreLine) -> str:
    return MOMENT.sub(")", line.what).removeprefix("penalty: ").removeprefix("bonus: ")


def _added(line: ScoreLine) -> str:
    adds = [seconds_words(line.seconds)] if line.seconds or not line.points else []
    if line.points:
        adds.append(f"{line.points:g} target{'' if abs(line.points) == 1 else 's'}".replace("-", "−"))
    return ", ".join(adds)


def state_words(table: Standings) -> tuple[str, ...]:
    """Return what is still open in a table: results to come, and proposals that wait for a judge."""
    lines = []
    if table.waiting:
        lines.append(
            f"Intermediate ranking: of {counted(table.waiting, 'entry', 'entries')} a result is still to come."
            + (" Who has done more fields is placed first." if table.scope == OVERALL else "")
        )
    if table.open:
        them = "is" if table.open == 1 else "are"
        lines.append(f"{counted(table.open, 'proposal')} {_wait(table.open)} for a judge and {them} not counted.")
    return tuple(lines)


def lost_words(before: Sequence[Standings], now: Sequence[Standings]) -> tuple[str, ...]:
    """Return a line for each result on a field that was there when the event was scored before and is not there now.

    A judge's disqualification is no loss. Whoever scores again for a judge's entry learns so that a file went missing.
    """
    had, has = (
        {(t.scope, p.score.bib): p.score for t in tables if not t.class_id and t.scope != OVERALL for p in t.places}
        for tables in (before, now)
    )
    return tuple(
        f"bib {bib}, field {drill}: had {clock(score.seconds.value)} when it was scored before and has no result now "
        f"({has[drill, bib].why or STATUS_WORDS[has[drill, bib].status]}); see whether a file of the run was lost"
        for (drill, bib), score in had.items()
        if score.seconds is not None
        and (drill, bib) in has
        and not has[drill, bib].why.startswith(LOST)  # says so itself
        and has[drill, bib].seconds is None
        and has[drill, bib].status != "excluded"
    )


def counted(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def _wait(number: int) -> str:
    return "waits" if number == 1 else "wait"


def shown_lines(score: FieldScore) -> tuple[ShownLine, ...]:
    """Return the lines of a score in words, and last their sum."""
    lines = [_line(line, score.drill) for line in score.lines]
    if score.seconds is not None:
        targets = f", {score.targets:g} targets" if score.passed is not None else ""
        total = f"{seconds_words(score.seconds.value)}{targets}"
        lines.append(ShownLine("Sum so far" if score.pending else "Sum", interval_words(score.seconds), "", total, ""))
    return tuple(lines)


def _line(line: ScoreLine, scope: str) -> ShownLine:
    figure = "" if line.figure is None else "not assessable"
    if isinstance(line.figure, Figure):
        figure = figure_words(line.figure)
    where = [f"field {line.source}" if scope == OVERALL else line.source]
    where += [line.evidence] if line.evidence else []
    where += [f"timeline[{line.timeline_row}]"] if line.timeline_row is not None else []
    rule = f"{line.rule}: {line.rule_value}" if line.rule_value else line.rule
    return ShownLine(line.what, figure, rule, _added(line), ", ".join(where))


def unclear_words(unclear: tuple[Unclear, ...]) -> list[str]:
    """Return who is not clearly apart: one with the gap, a few by their bibs, or how many there are."""
    if len(unclear) >= MANY:
        return [f"not clearly apart from {len(unclear)} others"]
    out = [f"number of targets not clearly apart from {_bibs([u])}" for u in unclear if u.because == "targets"]
    by_time = [u for u in unclear if u.because != "targets"]
    for side, found in (
        ("ahead of", [u for u in by_time if u.gap_s >= 0.0]),
        ("behind", [u for u in by_time if u.gap_s < 0.0]),
    ):
        if len(found) == 1:
            one = found[0]
            bounds = f"{tenths(one.low_s)} to {tenths(one.high_s)} s"
            out.append(f"not clearly {side} bib {one.bib}: {tenths(abs(one.gap_s))} s apart, {bounds}")
        elif found:
            out.append(f"not clearly {side} {_bibs(found)}")
    return out


def _bibs(found: Iterable[Unclear]) -> str:
    bibs = [u.bib for u in found]
    return f"bib {bibs[0]}" if len(bibs) == 1 else f"bibs {', '.join(bibs)}"


def figure_words(figure: Figure) -> str:
    """Return a figure with its interval, in tenths."""
    return f"{tenths(figure.value)} {figure.unit} ({tenths(figure.low)} to {tenths(figure.high)})"


def tenths(value: float) -> str:
    """Return a number with a tenth and a true minus sign, which nothing has not."""
    return f"{round(value, 1) + 0.0:.1f}".replace("-", "−")


def total_words(score: FieldScore, kind: str) -> str:
    """Return the total: minutes, seconds and a tenth, with the targets before it where they count."""
    if score.seconds is None:
        return ""
    time = clock(score.seconds.value)
    if kind == FASTEST:
        return time
    return f"{score.targets:g} target{'' if score.targets == 1 else 's'}, {time}"


def interval_words(figure: Figure) -> str:
    """Return the 90 % interval of a time."""
    return f"{clock(figure.low)} to {clock(figure.high)}"


def seconds_words(seconds: float) -> str:
    """Return seconds with a tenth, with a true minus sign."""
    return f"{tenths(seconds)} s"
