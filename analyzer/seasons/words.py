"""A trend in one plain sentence, the same in the terminal and on pages."""

import math

from analyzer.model.figure import holds_zero
from analyzer.seasons.model import BETTER, CLEAR, NONE, TOO_FEW, WORSE, SeasonMeasure, Trend

DEGREES = "deg"
ONE_DIGIT = ("s", DEGREES, "points", "%")
"""Units whose small values need no second digit."""
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
LEAST = "a trend needs six days of practice"
NEARER, FARTHER = "Comes nearer to what is good", "Moves away from what is good"


def sentence(trend: Trend) -> str:
    """Return what a trend says of a person, how sure it is, and over how many days."""
    if trend.state == TOO_FEW or trend.slope is None:
        return _too_few(trend)
    days = round(trend.line[1][0] - trend.line[0][0]) + 1
    over = f"over {counted(days)} days of practice"
    if trend.state == NONE:
        middle = _about(trend, 0.5 * (trend.line[0][1] + trend.line[1][1]), whole=True)
        if not any(trend.measure.distance(p.figure.value) for p in trend.points):
            return f"As good as it needs to be in every run: about {middle}."
        if not holds_zero(trend.slope):
            return f"Moved {_from_to(trend)} {over}, not clearly nearer to what is good or away from it."
        steps = days - 1
        bounds = (trend.slope.low, trend.slope.high)
        least, most = (_amount(bound * steps, trend.measure, sign=True) for bound in bounds)
        return (
            f"No clear change: about {middle}. {over.capitalize()} it moved by {least} to {most}{_of(trend.measure)}."
        )
    words = _goes(trend)
    change = f"{_from_to(trend)} {over}"
    if trend.state == CLEAR:
        return f"{words}: {change} (clear)."
    doubt = f"one of {trend.compared} measures, could be chance"
    return f"Perhaps {words[0].lower()}{words[1:]}: {change} ({doubt})."


def _goes(trend: Trend) -> str:
    """Return what a person does more or less of; where the measure's own line does not tell, that it comes nearer."""
    first, last = (trend.measure.distance(value) for _, value in trend.line)
    nearer = last < first if trend.way == BETTER else last > first
    if not nearer or trend.slope is None or holds_zero(trend.slope):
        return FARTHER if trend.way == WORSE else NEARER
    return trend.measure.falls if trend.line[1][1] < trend.line[0][1] else trend.measure.rises


def state_words(trend: Trend) -> str:
    """Return the shortest form of a trend, for a table."""
    if trend.state == TOO_FEW:
        return "too few runs"
    if trend.state == NONE:
        return "no clear change"
    return trend.way if trend.state == CLEAR else f"perhaps {trend.way}"


def good_words(measure: SeasonMeasure) -> str:
    """Return what is good of a measure, "1.25 times and less"; "" of a bound that everything keeps away from."""
    low, high = (measure.shown(bound) for bound in measure.good)
    unit = _unit(measure)
    if low == -math.inf:
        return f"{high:g}{unit} and less" if high > 0.0 else ""
    if high == math.inf:
        return f"{low:g}{unit} and more" if measure.unit != "points" else ""
    return f"{low:g} to {high:g}{unit}"


def plural(number: int, one: str, several: str = "") -> str:
    """Return a number and its noun: "1 run", "2 runs"."""
    return f"{number:,} {one if number == 1 else several or one + 's'}"


def counted(number: int) -> str:
    """Return a number in words up to twelve."""
    return NUMBERS[number] if 0 <= number < len(NUMBERS) else str(number)


def amount(value: float, measure: SeasonMeasure) -> str:
    """Return a value of a measure with its unit, with a digit or two of its own."""
    return _amount(value, measure)


def _too_few(trend: Trend) -> str:
    runs, days = len(trend.points), len({p.day for p in trend.points})
    if not runs:
        return f"Too few runs: none gives this measure; {LEAST}."
    what = f"{counted(runs)} run{'' if runs == 1 else 's'} on {counted(days)} day{'' if days == 1 else 's'}"
    return f"Too few runs: {what}; {LEAST}."


def _from_to(trend: Trend) -> str:
    """Return where the trend line begins and ends, "from about 1.7 times to 1.3 times the reference's time"."""
    (_, first), (_, last) = trend.line
    return f"from about {_about(trend, first)} to {_about(trend, last, whole=True)}"


def _about(trend: Trend, value: float, *, whole: bool = False) -> str:
    """Return a value of the trend line; lines may run below zero where nothing measured can. `whole`: with what it is
    times or per cent of."""
    return _amount(max(value, 0.0), trend.measure) + (_of(trend.measure) if whole else "")


def _of(measure: SeasonMeasure) -> str:
    """Return what a value without a unit is times or per cent of, " of the reference's time"."""
    if not measure.of:
        return ""
    return f" of {measure.of}" if measure.percent else f" {measure.of}"


def _unit(measure: SeasonMeasure) -> str:
    return "°" if measure.unit == DEGREES else f" {measure.shown_unit}"


def _amount(value: float, measure: SeasonMeasure, *, sign: bool = False) -> str:
    shown = measure.shown(value)
    digits = 0 if abs(shown) >= 9.95 else 1 if abs(shown) >= 0.95 or measure.shown_unit in ONE_DIGIT else 2
    text = f"{shown:{'+' if sign else ''}.{digits}f}"
    text = text.replace("-", "−") if float(text) else text.lstrip("+-")
    return text + _unit(measure)
