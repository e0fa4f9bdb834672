"""One run in one line: its splits, what cost it most in a few words, and what to practise. No Dash."""

import re

from analyzer.model.account import CAUSE_TITLES, FINDING_TITLES, NOBODYS_CAUSES, Finding
from analyzer.model.figure import NotAssessable, value_of
from analyzer.model.practice import all_free_s, all_hit_s
from analyzer.model.result import RunResult
from dashboard.view_models.account import (
    JOINT_TITLE,
    AccountLine,
    AccountPart,
    Totals,
    account_view,
    phase_totals,
    unremarked_line,
)
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.order import findings_that_stand
from dashboard.view_models.sheets_used import sheet_of
from dashboard.wording import PHASES, PHASES_SHORT, clock, saving_text

TITLES = CAUSE_TITLES | FINDING_TITLES
SHORT = {PHASES[phase]: short for phase, short in PHASES_SHORT.items()}
JOINT_SHORT = "signal and coarse"
IN_ALL = "in all"
PRACTISE = "To practise: "
_SENTENCE_END = re.compile(r"(?<=[.!?]) (?=[A-Z])")


def run_entry(drill: str, run: str, result: RunResult) -> RunEntry:
    """Return the line of a run; `drill`, `run`: the folders' names."""
    overall = dict(result.scores.by_phase).get("overall")
    found = findings_that_stand(result)
    return RunEntry(
        drill,
        run,
        result.drill,
        result.searcher,
        result.duration_s,
        None if isinstance(overall, NotAssessable) else overall,
        shared=result.shared,
        began=result.time_zero,
        splits=tuple(phase_totals(account_view(result))),
        loss=loss_words(result),
        practice=practice(found[0].text) if found else "",
        title=result.words.title,
        team=result.team,
        unfinished=unfinished(result),
        hit_s=all_hit_s(result),
        airway_s=all_free_s(result),
        sheet=sheet_of(result.rules),
        aside=bool(result.findings) and not found,
    )


def unfinished(result: RunResult) -> tuple[str, ...]:
    """Return the short names of the splits of a run that are not whole: the whole run, where a transmitter has no probe
    hit, and the phase in which the recording ends before one. They hold against nothing that is whole."""
    missing = [search.transmitter for search in result.searches if not search.found]
    if not missing:
        return ()
    last = result.phases[-1] if result.phases else None
    if last is None or last.transmitter not in missing:
        return (IN_ALL,)
    names = [name for name, _ in split_times(tuple(phase_totals(account_view(result))))]
    short = PHASES_SHORT[last.phase]
    return (short if short in names else JOINT_SHORT, IN_ALL)


def split_times(splits: tuple[Totals, ...]) -> list[tuple[str, Totals | None]]:
    """Return (short name, totals) of each phase in the order of a search, None for one that a run does not have.

    Phases whose border is not known share one entry, "signal and coarse".
    """
    found = {split.title: split for split in splits[:-1]}
    names = list(SHORT.items())
    if JOINT_TITLE not in found:
        return [(short, found.get(title)) for title, short in names]
    first = [found[title] for title in (JOINT_TITLE, *(title for title, _ in names[:2])) if title in found]
    sums = (sum(getattr(one, key) for one in first) for key in ("seconds", "reference", "lost", "gained", "nobody"))
    return [(JOINT_SHORT, Totals(JOINT_TITLE, *sums)), *((short, found.get(title)) for title, short in names[2:])]


def loss_words(result: RunResult) -> str:
    """Return what cost a run most in a few words, with its seconds; "" where nothing can be said to have cost much."""
    found, unsaid = findings_that_stand(result), unremarked_line(result)
    missing = [search.transmitter for search in result.searches if not search.found]
    said = [f"{' and '.join(missing)} not found"] if missing and not result.team else []
    said += [finding_words(found[0])] if found else []
    timed = value_of(found[0].saving_s) if found else None
    if unsaid is not None and (timed is None or (unsaid[1].cause not in NOBODYS_CAUSES and unsaid[1].seconds > timed)):
        words = _unsaid_words(*unsaid, several=len(result.searches) > 1)
        said.insert(len(said) if timed is None else len(said) - 1, words)  # in the order of the debrief
    return "; ".join([*said[:1], *(f"{more[0].lower()}{more[1:]}" for more in said[1:])])


def _unsaid_words(part: AccountPart, line: AccountLine, *, several: bool) -> str:
    time = f"{line.seconds} s" if line.seconds < 60 else f"{clock(line.seconds)} min"
    title = part.title if several else part.title.split(", ")[0]
    where = f"{title[0].lower()}{title[1:]}"
    if line.cause in NOBODYS_CAUSES:
        return f"{time} in the {where} by no cause that can be named"
    return f"{line.title}, {where}: {time}"


def finding_words(finding: Finding) -> str:
    """Return a finding in a few words, "Wrong way: 13 s"; without seconds where they are not known."""
    name = finding.id.split(":")[0]
    title = TITLES.get(name, name.replace("_", " ").capitalize())
    return title if isinstance(finding.saving_s, NotAssessable) else f"{title}: {saving_text(finding.saving_s)}"


def what_happened(text: str) -> str:
    """Return the first sentence of a finding: what was seen."""
    return _SENTENCE_END.split(text, maxsplit=1)[0]


def practice(text: str) -> str:
    """Return what a finding says to practise; where it does not name that, its last sentence, which says what to do."""
    before, said, after = text.partition(PRACTISE)
    if said:
        return after[:1].upper() + after[1:]
    rest = _SENTENCE_END.split(before)[1:]
    return rest[-1] if rest else ""
