"""Rows, lines and proposals of an event in words, as a printed list and a page take them."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ShownLine:
    """One line of a score in words. `adds`: seconds and targets it adds; `evidence`: where to look it up."""

    what: str
    figure: str
    rule: str
    adds: str
    evidence: str


@dataclass(frozen=True, slots=True)
class ShownProposal:
    """One proposal in words. `likely`: its probability, or the figure with its interval; `key`: what a judge writes
    to confirm it, "" where one has decided."""

    bib: str
    name: str
    field: str
    what: str
    likely: str
    adds: str
    state: str
    key: str


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One row of a table in words. `place`, `span`: "2" and its range, "1 to 3". `parts`: per column of the table
    ("Lower bowl", "Time") what it holds; they add up to the total. `penalties`: seconds and points with their reasons,
    those of the fields too. `remarks`: what is to be known of the place; `lines`: how the total comes about."""

    place: str
    bib: str
    name: str
    class_name: str
    total: str
    interval: str
    status: str
    remarks: tuple[str, ...]
    lines: tuple[ShownLine, ...]
    runs: tuple[tuple[str, str], ...] = ()
    parts: tuple[tuple[str, str], ...] = ()
    penalties: tuple[str, ...] = ()
    span: str = ""

    @property
    def place_words(self) -> str:
        """The place with its range: "2 (1 to 3)"."""
        return f"{self.place} ({self.span})" if self.span else self.place
