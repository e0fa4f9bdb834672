"""The list of measures in docs/glossary.md, from their table: `python -m tests.support.glossary` writes it anew."""

from pathlib import Path

from analyzer.model.measures import LESS, MEASURES, MORE, NEITHER, RUN, ZONE, Measure

PAGE = Path(__file__).resolve().parents[2] / "docs" / "glossary.md"
BEGIN, END = "<!-- measures -->", "<!-- end of measures -->"
BETTER = {LESS: "less", MORE: "more", ZONE: "near the reference", NEITHER: ""}
UNITS = {"1": ""}


def table() -> str:
    """Return the measures as a Markdown table: title, name, unit, what is better, and where they count."""
    head = ("measure", "name", "unit", "better", "scored", "followed", "printed")
    return "\n".join(_row(cells) for cells in (head, ("---",) * len(head), *(_cells(m) for m in MEASURES)))


def _cells(m: Measure) -> tuple[str, ...]:
    name = f"`{m.key}`, of the run" if m.phase == RUN else f"`{m.name}`"
    unit = "%" if m.percent else UNITS.get(m.unit, m.unit)
    marks = ("yes" if flag else "" for flag in (m.scorable, m.followed is not None, m.printed))
    return (m.title, name, unit, BETTER[m.better], *marks)


def _row(cells: tuple[str, ...]) -> str:
    return f"| {' | '.join(cells)} |"


def renewed(page: str) -> str:
    """Return the page with its list of measures as the table has it now."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{table()}\n\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(renewed(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
