"""A trend in one plain sentence, the same in the terminal and on pages."""

from analyzer.seasons.model import CLEAR, NONE, OTHER, TOO_FEW, WORSE, Trend

UNITS = {"s": " s", "m": " m", "deg": "°", "points": " points", "1": ""}
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
LEAST = "a trend needs six runs on four days of practice"


def sentence(trend: Trend) -> str:
    """Return what a trend says of a person, how sure it is, and over how many days."""
    if trend.state == TOO_FEW or trend.slope is None:
        return _too_few(trend)
    days = round(trend.line[1][0] - trend.line[0][0]) + 1
    over = f"over {counted(days)} days of practice"
    if trend.state == NONE:
        steps = days - 1
        bounds = (trend.slope.low, trend.slope.high)
        least, most = (_amount(bound * steps, trend.measure.unit, sign=True) for bound in bounds)
        middle = _about(trend, 0.5 * (trend.line[0][1] + trend.line[1][1]))
        return f"No clear change: about {middle}. {over.capitalize()} it moved by {least} to {most}."
    words = trend.measure.falls if trend.slope.value < 0.0 else trend.measure.rises
    first, last = (_about(trend, value) for _, value in trend.line)
    change = f"from about {first} to {last} {over}"
    aside = ", past the reference" if trend.way == OTHER else ""
    if trend.state == CLEAR:
        return f"{words}: {change}{aside} (clear)."
    doubt = f"one of {trend.compared} measures, could be chance"
    return f"Perhaps {words[0].lower()}{words[1:]}: {change}{aside} ({doubt})."


def state_words(trend: Trend) -> str:
    """Return the shortest form of a trend, for a table."""
    if trend.state == TOO_FEW:
        return "too few runs"
    if trend.state == NONE:
        return "no clear change"
    way = {WORSE: "worse", OTHER: "changed"}.get(trend.way, "better")
    return way if trend.state == CLEAR else f"perhaps {way}"


def counted(number: int) -> str:
    """Return a number in words up to twelve."""
    return NUMBERS[number] if 0 <= number < len(NUMBERS) else str(number)


def amount(value: float, unit: str) -> str:
    """Return a value with its unit, with a digit or two of its own."""
    return _amount(value, unit)


def _too_few(trend: Trend) -> str:
    runs, days = len(trend.points), len({p.day for p in trend.points})
    if not runs:
        return f"Too few runs: none gives this measure; {LEAST}."
    what = f"{counted(runs)} run{'' if runs == 1 else 's'} on {counted(days)} day{'' if days == 1 else 's'}"
    return f"Too few runs: {what}; {LEAST}."


def _about(trend: Trend, value: float) -> str:
    """Return a value of the trend line; lines may run below zero where nothing measured can."""
    return _amount(max(value, 0.0), trend.measure.unit)


def _amount(value: float, unit: str, *, sign: bool = False) -> str:
    size = abs(value)
    digits = 0 if size >= 9.95 else 1 if size >= 0.95 or unit in ("s", "deg", "points") else 2
    text = f"{value:{'+' if sign else ''}.{digits}f}"
    text = text.replace("-", "−") if float(text) else text.lstrip("+-")
    return text + UNITS.get(unit, f" {unit}")
