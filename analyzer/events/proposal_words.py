"""Proposed penalties in words, with what a judge writes to confirm or reject them."""

from collections.abc import Sequence

from analyzer.events.model import OPEN, Proposal, Standings
from analyzer.events.shown import ShownProposal
from analyzer.events.words import figure_words, seconds_words
from analyzer.files.writers import toml_text
from analyzer.model.figure import Figure

HOW = (
    'A judge confirms or rejects a proposal in event.toml: [[judge]] with bib and what stands under "to confirm" '
    "(rejects in place of confirms), reason, by and at; then searchwake standings EVENT --again counts it."
)

SURE = 0.995
"""What would be rounded to 100 % is shown as over 99 %: our choice, because nothing that is measured is certain."""


def shown_proposals(table: Standings, fields: Sequence[tuple[str, str]], bib: str = "") -> tuple[ShownProposal, ...]:
    """Return the proposals of a table in words, or those of one entry; those that wait for a judge come first.

    `fields`: drill and name of every field.
    """
    names = dict(fields)
    found = [(place, one) for place in table.places if bib in ("", place.score.bib) for one in place.score.proposals]
    found.sort(key=lambda item: item[1].state != OPEN)
    return tuple(_shown(one, place.score.bib, place.name, names.get(one.drill, one.drill)) for place, one in found)


def _shown(one: Proposal, bib: str, name: str, field: str) -> ShownProposal:
    likely = "over 99 %" if one.probability > SURE else f"{100.0 * one.probability:.0f} %"
    if isinstance(one.figure, Figure):
        likely = f"{figure_words(one.figure)}; {likely}"
    exact = one.seconds.low == one.seconds.high
    adds = seconds_words(one.seconds.value) if exact else figure_words(one.seconds)
    key = (
        f"field = {toml_text(one.drill)}, confirms = {toml_text(one.about)}, transmitter = {toml_text(one.transmitter)}"
    )
    key = key if one.state == OPEN else ""
    state = "waits for a judge" if one.state == OPEN else f"{one.state}: {one.said}"
    return ShownProposal(bib, name, field, one.text, likely, adds, state, key)
