"""What the coach said of a run, as lines: praise, a note, and what was set aside with the reason. No Dash."""

from analyzer.model.result import RunResult
from dashboard.view_models.coach import SET_ASIDE as NO_REASON
from dashboard.view_models.coach import other_words, reasons_of, texts_of
from dashboard.view_models.order import costliest
from dashboard.view_models.run_summary import finding_words

PRAISED, NOTE = "Well done", "Coach's note"
SET_ASIDE, RUN_ASIDE = "Set aside by the coach", "This run was set aside by the coach"


def coach_lines(result: RunResult) -> list[tuple[str, str]]:
    """Return (head, text) of each thing that was said, none where nothing was; a head without a text says it all."""
    words, note = result.words, " ".join(result.words.note.split())
    lines = [(PRAISED, "" if words.praised is True else text) for text in texts_of(words.praised)]
    lines += [(NOTE, note)] if note else []
    reasons = reasons_of(words, result.findings)
    for finding in costliest(result.findings):
        reason = reasons.get(finding.id, "")
        if reason:
            said = "" if reason == NO_REASON else f". Why: {reason}"
            lines.append((SET_ASIDE, f"{finding_words(finding)}{said}"))
    whole = other_words(words, result.findings)
    return lines + [(RUN_ASIDE, "" if words.set_aside is True else text) for text in whole]
