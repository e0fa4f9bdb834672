"""With which rule sheets runs were measured, in words. No Dash."""

from collections import Counter
from collections.abc import Iterable

from analyzer.model.rules import ReferenceRules, Rules

Sheet = tuple[str, str, str]
"""Name, version and SHA-256 of a rule sheet."""


def sheet_of(rules: Rules | ReferenceRules) -> Sheet:
    """Return what a rule sheet is called."""
    return rules.name, rules.version, rules.sha256


def sheet_line(sheets: Iterable[Sheet]) -> str:
    """Return one sentence on the sheets that runs were measured with, one for each run; "" for no run."""
    counts = Counter(sheets)
    named = Counter((name, version) for name, version, _ in counts)
    words = {
        sheet: f"{sheet[0]}, version {sheet[1]}" + (f" ({sheet[2][:8]})" if named[sheet[:2]] > 1 else "")
        for sheet in counts
    }
    if len(counts) < 2:
        return "".join(f"Measured with the rule sheet {words[sheet]}." for sheet in counts)
    parts = "; ".join(f"{count} with {words[sheet]}" for sheet, count in counts.items())
    return f"Measured with different rule sheets: {parts}. Their scores do not compare."
