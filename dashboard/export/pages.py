"""Pages of A4 that follow each other: what does not fit below goes on the next one; each ends with the safety words."""

from dashboard.export.paper import HEIGHT_MM, INNER_MM, MARGIN_MM, Paper, new_paper
from dashboard.figures.theme import INK, QUIET
from dashboard.wording import SAFETY

TOP_MM, LAST_MM = 14.0, 274.0
"""Where the content of a page begins, and where it ends at the latest."""
HEADING_MM = 6.5
LATER_MM = 24.0
"""Where it begins on the second page and those after it, under the line that says whose they are."""


class Pages:
    """Pages that are being drawn, from the top down. `title`: stands at the top of the second page and those after it.

    `foot`: the line above the safety words.
    """

    def __init__(self, title: str, foot: str) -> None:
        """Begin with one empty page."""
        self.title, self.foot = title, foot
        self.papers = [new_paper()]
        self.y_mm = TOP_MM

    @property
    def paper(self) -> Paper:
        """Return the page that is drawn on now."""
        return self.papers[-1]

    @property
    def left_mm(self) -> float:
        """Return how much of the page is still empty."""
        return LAST_MM - self.y_mm

    def fits(self, height_mm: float) -> bool:
        """Return whether something of this height fits below; what fits exactly does, however its parts are rounded."""
        return height_mm <= self.left_mm + 1e-6

    def take(self, height_mm: float) -> float:
        """Return where something of this height may begin, on a new page where it does not fit on this one."""
        if not self.fits(height_mm) and self.y_mm > LATER_MM:
            self.turn()
        begin = self.y_mm
        self.y_mm += height_mm
        return begin

    def turn(self) -> None:
        """Begin a new page."""
        self.papers.append(new_paper())
        self.paper.lines(MARGIN_MM, 17.0, self.title, width_mm=INNER_MM, size=9, bold=True, most=1)
        self.y_mm = LATER_MM

    def heading(self, text: str, *, keep_mm: float = 0.0) -> None:
        """Write a heading that stays with what follows it: at least `keep_mm` more must fit on its page."""
        if not self.fits(HEADING_MM + keep_mm):
            self.turn()
        self.paper.text(MARGIN_MM, self.take(HEADING_MM) + 4.5, text, size=10.5, bold=True)

    def finished(self) -> list[Paper]:
        """Write the foot of every page, and return the pages."""
        for number, paper in enumerate(self.papers, start=1):
            self._foot(paper, number)
        return self.papers

    def _foot(self, paper: Paper, number: int) -> None:
        y = HEIGHT_MM - 18.0
        place = f"  Page {number} of {len(self.papers)}." if len(self.papers) > 1 else ""
        paper.lines(MARGIN_MM, y, self.foot + place, width_mm=INNER_MM, size=6.5, colour=QUIET, most=1)
        paper.box(MARGIN_MM, y + 1.2, INNER_MM, 0.5, facecolor=INK, edgecolor="none")
        paper.text(MARGIN_MM, y + 4.8, SAFETY[0], size=7.5, bold=True)
        paper.lines(MARGIN_MM, y + 8.0, " ".join(SAFETY[1:]), width_mm=INNER_MM, size=6.8, most=2)
