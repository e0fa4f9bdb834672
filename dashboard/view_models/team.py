"""A joint signal search in words: how much was covered, by whom, and who heard first."""

import math
from collections.abc import Sequence

from analyzer.model.team import MemberShare, TeamSearch
from dashboard.wording import clock

SURE = 0.9
"""From this probability on one is said to have heard first; the same as of findings."""


def percent(share: float) -> str:
    """Return a share of the area as whole per cent."""
    return f"{100.0 * share:.0f}\u00a0%"


def covered_sentence(search: TeamSearch, set_out_s: float) -> str:
    """Return what the team had covered when the first signal came."""
    heard = bool(search.first)
    known = " that is known of" if search.left_out else ""
    when = (
        f"Until the first signal{known}, {clock(search.until_s - set_out_s)} after the first set out,"
        if heard
        else "In all,"
    )
    return (
        f"{when} {percent(search.covered)} of the area was covered: {percent(search.twice)} by more than one, "
        f"{percent(1.0 - search.covered)} by nobody."
    )


def first_sentence(search: TeamSearch) -> str:
    """Return who heard first, or that this cannot be told."""
    if not search.first:
        return "When each heard first is not known: no log of readings, and no mark first_reading."
    members = {member.run_id: member for member in search.members}
    first = members[search.first]
    others = ", ".join(members[run].name for run in search.left_out)
    unknown = f" Of {others} it is not known when." if others else ""
    if not search.second:
        told = f"{first.name} is the only one of whom it is known when." if others else f"{first.name} heard first."
        return told + unknown
    second = members[search.second]
    if search.sure < SURE:
        return f"{first.name} and {second.name} heard so close together that who was first cannot be told.{unknown}"
    if others:
        return f"Of those of whom it is known, {first.name} heard first; of {others} it is not known when."
    return f"{first.name} heard first, {clock(second.heard_s - first.heard_s)} before {second.name}."


MOST_NAMED = 4
"""Searchers of a team who are named on the debrief of another one; of more, the number is told."""


def with_words(others: Sequence[str]) -> str:
    """Return with whom somebody searched, by name."""
    names, more = list(others[:MOST_NAMED]), len(others) - MOST_NAMED
    names += [f"{more} more"] if more > 0 else []
    if not names:
        return "A team drill, with no other run yet"
    return f"Searched with {' and '.join([', '.join(names[:-1]), names[-1]] if len(names) > 1 else names)}"


def member_sentence(search: TeamSearch, run: str) -> str:
    """Return who had the first reading, and what one searcher had covered until then."""
    own = next((member for member in search.members if member.run_id == run), None)
    share = (
        "" if own is None else f" Until then this searcher covered {percent(own.covered)}, {percent(own.alone)} alone."
    )
    whole = f" Together {percent(search.covered)} of the area was covered." if search.first else ""
    return f"{first_sentence(search)}{whole}{share if search.first else ''}"


def member_words(member: MemberShare, set_out_s: float) -> str:
    """Return what one searcher had covered, alone and with others, and when the first reading came."""
    known = math.isfinite(member.heard_s)
    heard = (
        f"first reading at {clock(member.heard_s - set_out_s)}" if known else "when the first reading came is not known"
    )
    shares = f"covered {percent(member.covered)} of the area, {percent(member.alone)} alone"
    return f"{shares}, on {member.walked_m:.0f}\u00a0m; {heard}."
