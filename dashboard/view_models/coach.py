"""The coach's words on a run: which findings are set aside, with what reason, and what was praised. No Dash.

An entry of `set_aside` that begins with a finding's id and a colon sets that finding aside; other entries are words of
their own, and stay as they are.
"""

from collections.abc import Iterable, Mapping

from analyzer.model.account import Finding
from analyzer.model.recording import Decision, RunWords
from dashboard.view_models.run_form import LONGEST_REASON

ASIDE = "aside-"
"""What stands before the id of a finding in the name of the field for the reason why it is set aside."""
GONE = "The run was measured since this page was opened, and does not have this finding any more: "
SET_ASIDE = "set aside"
"""Stands for a decision without words."""


def texts_of(decision: Decision) -> tuple[str, ...]:
    """Return a decision as texts, none where nothing was decided."""
    if isinstance(decision, tuple):
        return decision
    if isinstance(decision, str):
        return (decision,) if decision else ()
    return ("yes",) if decision else ()


def reasons_of(words: RunWords, findings: Iterable[Finding]) -> dict[str, str]:
    """Return id of a finding that is set aside -> the reason."""
    ids, found = [finding.id for finding in findings], dict[str, str]()
    for entry in texts_of(words.set_aside):
        own = _id_in(entry, ids)
        if own:
            found.setdefault(own, entry.removeprefix(own).removeprefix(":").strip() or SET_ASIDE)
    return found


def _id_in(entry: str, ids: Iterable[str]) -> str:
    """Return the id with which an entry begins, "" for none; of several the longest: a transmitter's name, which ends
    it, may hold a colon."""
    return max((i for i in ids if entry == i or entry.startswith(f"{i}:")), key=len, default="")


def other_words(words: RunWords, findings: Iterable[Finding]) -> tuple[str, ...]:
    """Return what was set aside and is none of the findings, in the coach's words."""
    ids = [finding.id for finding in findings]
    return tuple(e for e in texts_of(words.set_aside) if not _id_in(e, ids))


def with_reasons(words: RunWords, findings: Iterable[Finding], reasons: Mapping[str, str]) -> Decision:
    """Return what `set_aside` says with other reasons; findings that `reasons` leaves out or has "" for come back."""
    known = tuple(findings)
    others = other_words(words, known)
    own = tuple(f"{finding.id}: {reasons[finding.id]}" for finding in known if reasons.get(finding.id))
    if not own and not isinstance(words.set_aside, tuple) and others:
        return words.set_aside  # words of their own, as they were
    return (*others, *own) or False


def praised_text(words: RunWords) -> str:
    """Return what was praised, on one line."""
    return ", ".join(texts_of(words.praised))


def gone_lines(typed: Mapping[str, str], reasons: Mapping[str, str]) -> tuple[str, ...]:
    """Return a line for each reason that was typed for a finding which the run does not have any more.

    `typed`: all fields by name; `reasons`: ids of the findings that there are.
    """
    found = {key.removeprefix(ASIDE): " ".join(text.split()) for key, text in typed.items() if key.startswith(ASIDE)}
    return tuple(f"{GONE}{text[:LONGEST_REASON]}" for key, text in found.items() if text and key not in reasons)
