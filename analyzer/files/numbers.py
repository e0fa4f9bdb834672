"""Numbers as texts of files write them: one place says what is a number, for tables, XML and times."""

LARGEST = 1e9
"""No quantity of these files is larger: our own choice, because coordinates, heights and deviations are far below it,
and its square and cube are far from where a computation overflows."""


def number_in(text: str) -> float:
    """Return the number that a text is, NaN and infinities as well.

    Raises
    ------
    ValueError
        Where it is none. Python reads 1_000 as a number; nobody who writes a file means it.
    """
    if "_" in text:
        raise ValueError(text)
    return float(text)
