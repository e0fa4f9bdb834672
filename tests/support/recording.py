"""docs/recording.md, from the words of the page: `python -m tests.support.recording` writes it anew."""

from pathlib import Path

from analyzer.model.measures import MEASURES
from dashboard.view_models.recording_guide import LEAD, NEVER, PARTS, RUNGS
from dashboard.wording import SAFETY

PAGE = Path(__file__).resolve().parents[2] / "docs" / "recording.md"


def page() -> str:
    """Return the whole page as Markdown."""
    titles = {measure.name: measure.title for measure in MEASURES}
    out = ["# What to record", "", LEAD, "The dashboard shows the same under *What to record*, ready to print.", ""]
    out += ["## What each piece lets you tell", "", "| recorded | what can be told | measures |", "|---|---|---|"]
    out += [f"| {r.title} | {r.tells} | {', '.join(titles[name] for name in r.opens)} |" for r in RUNGS]
    out += ["", NEVER, ""]
    for part in PARTS:
        out += [f"## {part.title}", "", part.why, "", *(f"- {step}" for step in part.steps), ""]
    out += [
        "What is said here of practice is common practice, no source. File formats: "
        "[file_formats.md](file_formats.md).",
        "",
    ]
    return "\n".join([*out, *(f"> {line}" for line in SAFETY), ""])


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
