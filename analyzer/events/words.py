"""Standings in words: rows and lines as a table, a printed list and a page show them."""

from collections import Counter

from analyzer.events.model import FASTEST, OVERALL, Place, ScoreLine, ShownLine, ShownRow, Standings, Unclear
from analyzer.events.score import STATUS_WORDS
from analyzer.model.figure import Figure

MANY = 4
"""From so many neighbours on, their bibs are counted and not listed."""


def shown_rows(table: Standings, kind: str, classes: dict[str, str]) -> tuple[ShownRow, ...]:
    """Return the rows of a table in words, with what they are without their lines; see `shown_lines`."""
    held = Counter(place.rank for place in table.places if place.rank is not None)
    twice = {rank for rank, count in held.items() if count > 1}
    return tuple(_row(place, kind, classes, twice) for place in table.places)


def _row(place: Place, kind: str, classes: dict[str, str], twice: set[int]) -> ShownRow:
    score = place.score
    remarks = ["shared place"] if place.rank in twice else []
    remarks += unclear_words(place.unclear)
    if score.passed is not None and score.seconds is not None:
        remarks.append("all targets in time" if score.passed else "not all targets in time")
    if score.seconds is None:
        remarks.append(score.why or STATUS_WORDS[score.status])
    elif score.status != "finished":
        remarks.append(STATUS_WORDS[score.status])
    return ShownRow(
        place="" if place.rank is None else str(place.rank),
        bib=score.bib,
        name=place.name,
        class_name=classes.get(place.class_id, place.class_id),
        total=total_words(place, kind),
        interval="" if score.seconds is None else interval_words(score.seconds),
        status=STATUS_WORDS[score.status],
        remarks=tuple(remarks),
        lines=(),
        runs=((score.drill, score.run),) if score.run else (),
    )


def shown_lines(place: Place) -> tuple[ShownLine, ...]:
    """Return the lines of a score in words, and last their sum."""
    score = place.score
    lines = [_line(line, score.drill) for line in score.lines]
    if score.seconds is not None:
        targets = f", {score.targets:g} targets" if score.passed is not None else ""
        total = f"{seconds_words(score.seconds.value)}{targets}"
        lines.append(ShownLine("Sum", interval_words(score.seconds), "", total, ""))
    return tuple(lines)


def _line(line: ScoreLine, scope: str) -> ShownLine:
    figure = "" if line.figure is None else "not assessable"
    if isinstance(line.figure, Figure):
        found = line.figure
        figure = f"{_tenths(found.value)} {found.unit} ({_tenths(found.low)} to {_tenths(found.high)})"
    adds = [seconds_words(line.seconds)] if line.seconds or not line.points else []
    if line.points:
        adds.append(f"{line.points:g} target{'' if abs(line.points) == 1 else 's'}".replace("-", "−"))
    where = [f"field {line.source}" if scope == OVERALL else line.source]
    where += [line.evidence] if line.evidence else []
    where += [f"timeline[{line.timeline_row}]"] if line.timeline_row is not None else []
    rule = f"{line.rule}: {line.rule_value}" if line.rule_value else line.rule
    return ShownLine(line.what, figure, rule, ", ".join(adds), ", ".join(where))


def unclear_words(unclear: tuple[Unclear, ...]) -> list[str]:
    """Return a remark for every neighbour that is not clearly apart, or one on their number where there are many."""
    if len(unclear) >= MANY:
        return [f"not clearly apart from {len(unclear)} neighbours"]
    out = []
    for one in unclear:
        if one.because == "targets":
            out.append(f"number of targets not clearly apart from bib {one.bib}")
            continue
        side = "behind" if one.gap_s < 0.0 else "ahead of"
        bounds = f"{_tenths(one.low_s)} to {_tenths(one.high_s)} s"
        out.append(f"not clearly {side} bib {one.bib}: {_tenths(abs(one.gap_s))} s apart, {bounds}")
    return out


def _tenths(value: float) -> str:
    """Return a number with a tenth and a true minus sign, which nothing has not."""
    return f"{round(value, 1) + 0.0:.1f}".replace("-", "−")


def total_words(place: Place, kind: str) -> str:
    """Return the total: minutes and seconds, with the targets before it where they count."""
    score = place.score
    if score.seconds is None:
        return ""
    time = clock(score.seconds.value)
    if kind == FASTEST:
        return time
    return f"{score.targets:g} target{'' if score.targets == 1 else 's'}, {time}"


def interval_words(figure: Figure) -> str:
    """Return the 90 % interval of a time."""
    return f"{clock(figure.low, tenths=True)} to {clock(figure.high, tenths=True)}"


def seconds_words(seconds: float) -> str:
    """Return seconds with a tenth where there is one, with a true minus sign."""
    text = f"{seconds:.1f}".removesuffix(".0")
    return f"{text} s".replace("-", "−")


def clock(seconds: float, *, tenths: bool = False) -> str:
    """Return minutes and seconds, "4:32" or "4:32.4", half up."""
    steps = int(abs(seconds) * (10 if tenths else 1) + 0.5 + 1e-9)
    whole, rest = (steps // 10, f".{steps % 10}") if tenths else (steps, "")
    sign = "−" if seconds < 0 and steps else ""
    return f"{sign}{whole // 60}:{whole % 60:02d}{rest}"
