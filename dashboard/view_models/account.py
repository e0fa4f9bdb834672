"""The account of a run as a page shows it: phase by phase, in whole seconds that add up. No Dash."""

import math
from dataclasses import dataclass

from analyzer.model.account import NOBODYS_CAUSES, AccountRow
from analyzer.model.figure import Figure, exact, total
from analyzer.model.result import RunResult
from dashboard.view_models.rounding import adding_up
from dashboard.wording import BOTH_WAYS, CAUSES, PHASES, cause_words, clock, seconds_interval

REFERENCE, JOINT = "reference", "not_assessed"
JOINT_TITLE = "Signal and coarse search"
NOT_A_LOSS = (REFERENCE, "not_recorded", JOINT)
SURE_S = 1.0  # what its interval shows as "0 to 2 s" is no loss to speak of; our choice
LATER = {"narrow_bracketing": ("pinpoint", "long_probing")}
"""Findings whose cost lies in a later phase: what a narrow cross costs is the probing after it."""


@dataclass(frozen=True, slots=True)
class AccountLine:
    """One row of the account in words. `windows`: (number of its button, from_s, to_s) of each."""

    cause: str
    title: str
    what: str
    seconds: int
    figure: Figure
    windows: tuple[tuple[int, float, float], ...]

    @property
    def interval(self) -> str:
        """Return the 90 % interval in whole seconds, rounded outward; "" for what is known exactly."""
        return "" if self.figure.low == self.figure.high else seconds_interval(self.figure)


@dataclass(frozen=True, slots=True)
class AccountPart:
    """One phase of the search for one transmitter. `phase_number`: of its button, None where it has none."""

    phase: str
    transmitter: str
    title: str
    phase_number: int | None
    seconds: int
    lines: tuple[AccountLine, ...]


@dataclass(frozen=True, slots=True)
class AccountView:
    """The whole account: `seconds` = `reference` + `lost` - `gained` + `nobody`, in whole seconds as shown.

    `nobody`: what the evidence gives to no cause; negative where the run was faster than the reference there.
    """

    parts: tuple[AccountPart, ...]
    seconds: int
    reference: int
    lost: int
    gained: int
    nobody: int

    @property
    def lines(self) -> list[AccountLine]:
        """Return the lines of all phases."""
        return [line for part in self.parts for line in part.lines]


def account_view(result: RunResult) -> AccountView:
    """Return the account with phases rounded so that they add up to the run, and rows to their phase."""
    windows = _numbered(result)
    names = list(dict.fromkeys((row.phase, row.transmitter) for row in result.account))
    groups = [[(i, r) for i, r in enumerate(result.account) if (r.phase, r.transmitter) == name] for name in names]
    wholes = adding_up([math.fsum(r.seconds.value for _, r in rows) for rows in groups])
    parts = []
    for rows, whole in zip(groups, wholes, strict=True):
        shown = adding_up([r.seconds.value for _, r in rows], whole)
        lines = [_line(r, seconds, windows[i]) for (i, r), seconds in zip(rows, shown, strict=True)]
        parts.append(_part(result, rows[0][1], whole, [x for x in lines if x.seconds or x.cause == REFERENCE]))
    lines = [line for part in parts for line in part.lines]
    run = _totals("", lines)
    return AccountView(tuple(parts), sum(wholes), run.reference, run.lost, run.gained, run.nobody)


def account_windows(result: RunResult) -> list[tuple[float, float]]:
    """Return the windows of all rows of the account in the order in which buttons number them."""
    return [window for row in result.account for window in row.windows]


def _numbered(result: RunResult) -> list[tuple[tuple[int, float, float], ...]]:
    """Return the numbered windows of each row of the account."""
    found, count = [], 0
    for row in result.account:
        found.append(tuple((count + i, a, b) for i, (a, b) in enumerate(row.windows)))
        count += len(row.windows)
    return found


def _line(row: AccountRow, seconds: int, windows: tuple[tuple[int, float, float], ...]) -> AccountLine:
    title, what = cause_words(row.cause, row.phase, seconds)
    return AccountLine(row.cause, title, what, seconds, row.seconds, () if row.cause == REFERENCE else windows)


def _part(result: RunResult, first: AccountRow, whole: int, lines: list[AccountLine]) -> AccountPart:
    def order(line: AccountLine) -> tuple[bool, bool, int]:
        return line.cause != REFERENCE, line.cause in NOBODYS_CAUSES, -line.seconds

    joint = any(line.cause == JOINT for line in lines)
    name = JOINT_TITLE if joint else PHASES.get(first.phase, first.phase)
    title = f"{name}, transmitter {first.transmitter}" if first.transmitter else name
    same = (i for i, p in enumerate(result.phases) if (p.phase, p.transmitter) == (first.phase, first.transmitter))
    number = None if joint else next(same, None)
    return AccountPart(first.phase, first.transmitter, title, number, whole, tuple(sorted(lines, key=order)))


def unremarked_loss(result: RunResult) -> str:
    """Return a sentence on the largest sure loss of the account where no finding speaks of it, else "".

    Sure: a second at least, as shown. What has no cause is not called a loss, as it is not in the account's totals.
    """
    found = unremarked_line(result)
    if found is None:
        return ""
    part, line = found
    time = f"{line.seconds} s" if line.seconds < 60 else f"{clock(line.seconds)} min"
    where = f"in the {part.title[0].lower()}{part.title[1:]} (90 %: {line.interval})"
    if line.cause in NOBODYS_CAUSES:
        return f"The most time went where no cause can be named: {time} more than the reference {where}; {line.what}."
    return f"The largest loss has no remark of its own: {time} {where}. {line.title}: {line.what}."


def unremarked_line(result: RunResult) -> tuple[AccountPart, AccountLine] | None:
    """Return part and line of the loss that `unremarked_loss` speaks of, None where there is none."""
    sure = [row for row in result.account if row.seconds.low >= SURE_S and row.cause not in NOT_A_LOSS]
    row = max(sure, key=lambda r: r.seconds.value, default=None)
    if row is None or _remarked(result, row):
        return None
    parts = account_view(result).parts
    part = next(p for p in parts if (p.phase, p.transmitter) == (row.phase, row.transmitter))
    line = next((x for x in part.lines if x.cause == row.cause and x.seconds > 0), None)
    return None if line is None else (part, line)


def unremarked_window(result: RunResult) -> list[tuple[float, float]]:
    """Return the stretch of time from the first to the last second of that loss; none where it has no place."""
    found = unremarked_line(result)
    windows = () if found is None else found[1].windows
    return [(min(a for _, a, _ in windows), max(b for *_, b in windows))] if windows else []


def without_remark(result: RunResult) -> str:
    """Return what is said of a run without a finding and without a sure loss: praise only of a whole, well-told run."""
    view = account_view(result)
    untold = sum(x.seconds for x in view.lines if x.cause in NOBODYS_CAUSES and x.seconds > 0)
    if untold:
        joint = sum(line.seconds for line in view.lines if line.cause == JOINT)
        untold = joint or (view.nobody if view.nobody > 0 else untold)  # the number that stands above it
        return f"No remark can be made: the evidence does not tell what {clock(untold)} of this run went into."
    if not_found(result):
        return "No remark can be made on what was recorded before."
    return "Nothing in the evidence cost time that a remark could save."


def not_found(result: RunResult) -> str:
    """Return what is said of transmitters without a probe hit, and what the score adds for each; "" where all have one.

    A hit that lies far off, or a recording that ends before it, is none: so it is said of the recording.
    """
    missing = [search.transmitter for search in result.searches if not search.found]
    if not missing:
        return ""
    one = len(missing) == 1
    names = missing[0] if one else f"{', '.join(missing[:-1])} and {missing[-1]}"
    subject, count = (f"Transmitter {names}", "counts") if one else (f"Transmitters {names}", "count")
    added = f"{clock(result.rules.missed_s)} lost{'' if one else ' for each'}"
    why = "the recording shows no probe hit at " + ("it" if one else "them")
    unmarked = not any(item.role == "marks" for item in result.inputs)
    noted = " Nobody gave marks for this run: with the hit marked (probe_hit) it counts as found." if unmarked else ""
    scored = isinstance(dict(result.scores.by_phase).get("overall"), Figure)
    adds = f" The score adds {added}." if scored else ""
    return f"{subject} {count} as not found: {why}.{adds}{noted}"


def _remarked(result: RunResult, row: AccountRow) -> bool:
    for finding in result.findings:
        name = finding.id.split(":")[0]
        said = {(finding.phase, name)}
        if name in LATER and isinstance(finding.saving_s, Figure):
            said.add(LATER[name])
        if finding.transmitter == row.transmitter and (row.phase, row.cause) in said:
            return True
    return False


@dataclass(frozen=True, slots=True)
class Totals:
    """What a phase comes to, searches for several transmitters added up; named and signed as in AccountView."""

    title: str
    seconds: int
    reference: int
    lost: int
    gained: int
    nobody: int


def phase_totals(view: AccountView) -> list[Totals]:
    """Return the totals of each phase in the order of a search, and last those of the run; columns add up."""
    found = []
    for group in _groups([view]):
        parts = [part for part in view.parts if _group(part) == group]
        found.append(_totals(group, [line for part in parts for line in part.lines]))
    return [*found, Totals("In all", view.seconds, view.reference, view.lost, view.gained, view.nobody)]


def _totals(title: str, lines: list[AccountLine]) -> Totals:
    own = [line.seconds for line in lines if line.cause not in (REFERENCE, *NOBODYS_CAUSES)]
    return Totals(
        title,
        seconds=sum(line.seconds for line in lines),
        reference=sum(line.seconds for line in lines if line.cause == REFERENCE),
        lost=sum(seconds for seconds in own if seconds > 0),
        gained=-sum(seconds for seconds in own if seconds < 0),
        nobody=sum(line.seconds for line in lines if line.cause in NOBODYS_CAUSES),
    )


@dataclass(frozen=True, slots=True)
class ComparedCell:
    """One cause of one run: seconds as shown and their figure, or `why` there are none."""

    seconds: int = 0
    figure: Figure | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One cause, or with `cause` "" a whole phase, run by run."""

    group: str
    cause: str
    title: str
    cells: tuple[ComparedCell, ...]


def compared_accounts(results: list[RunResult]) -> list[ComparedRow]:
    """Return the accounts of runs by phase and cause, searches for several transmitters added up."""
    views = [account_view(result) for result in results]
    rows = []
    for group in _groups(views):
        own = [[part for part in view.parts if _group(part) == group] for view in views]
        whole = [ComparedCell(sum(p.seconds for p in parts)) if parts else _none(group) for parts in own]
        rows.append(ComparedRow(group, "", group, tuple(whole)))
        found = {line.cause for parts in own for part in parts for line in part.lines}
        for cause in (cause for cause in CAUSES if cause in found):
            phase = next(part.phase for parts in own for part in parts)
            cells = tuple(_compared(parts, cause) if parts else _none(group) for parts in own)
            rows.append(ComparedRow(group, cause, _shared_title(cause, phase, cells), cells))
    return [*rows, ComparedRow("", "", "This run", tuple(ComparedCell(view.seconds) for view in views))]


def _groups(views: list[AccountView]) -> list[str]:
    """Return the names of all phases in the order of a search."""
    order = {name: number for number, name in enumerate((JOINT_TITLE, *PHASES.values()))}
    return sorted(dict.fromkeys(_group(part) for view in views for part in view.parts), key=lambda n: order.get(n, 9))


def _group(part: AccountPart) -> str:
    joint = any(line.cause == JOINT for line in part.lines)
    return JOINT_TITLE if joint else PHASES.get(part.phase, part.phase)


def _none(group: str) -> ComparedCell:
    return ComparedCell(why=f"no {group[0].lower()}{group[1:]} of its own in this run")


def _compared(parts: list[AccountPart], cause: str) -> ComparedCell:
    lines = [line for part in parts for line in part.lines]
    own = [line for line in lines if line.cause == cause]
    if own:
        return ComparedCell(sum(line.seconds for line in own), total([line.figure for line in own]))
    if any(line.cause in NOBODYS_CAUSES for line in lines) and cause not in NOBODYS_CAUSES:
        return ComparedCell(why="cannot be told apart in this run")
    return ComparedCell(0, exact(0.0, "s"))


def _shared_title(cause: str, phase: str, cells: tuple[ComparedCell, ...]) -> str:
    """Return a title that is true of all runs: lost, gained, or both ways."""
    known = [cell.seconds for cell in cells if not cell.why]
    low, high = min(known, default=0), max(known, default=0)
    if low < 0 < high and cause in BOTH_WAYS:
        return BOTH_WAYS[cause]
    return cause_words(cause, phase, low if high <= 0 else high)[0]
