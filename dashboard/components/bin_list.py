"""What lies in the bin, the newest first: each with a button that puts it back."""

from dash import html

from dashboard.components.particulars import take_back
from dashboard.components.shell import panel
from dashboard.services.runs import Binned, day_of
from dashboard.wording import counted

NOTE = (
    "Runs that were deleted or moved, and files that were replaced. Nothing here is removed by itself. The files lie "
    "in the folder bin of the workspace."
)
MOST_SHOWN = 100
"""Our choice: what a person scrolls through."""
EMPTY = "There is nothing in the bin: no run was deleted, and no file was replaced."


def bin_panel(things: tuple[Binned, ...]) -> html.Section:
    """Return the list of the bin."""
    if not things:
        return panel("Bin", html.P(EMPTY))
    rest = len(things) - MOST_SHOWN
    more = [html.P(f"{counted(rest, 'older thing')} not shown here: look into the folder bin.")] if rest > 0 else []
    listed = html.Ul([_thing(one) for one in things[:MOST_SHOWN]], className="bin-list")
    return panel("What can be put back", listed, *more, note=NOTE)


def _thing(one: Binned) -> html.Li:
    if one.problem:
        return html.Li(
            [html.Strong(one.entry), html.P(f"This cannot be put back here: {one.problem}")], className="binned"
        )
    note = one.note
    called = f"{note.title} ({note.run})" if note.run and note.title and note.title != note.run else note.run
    of = f" of {note.drill}: {note.what}" if note.run else f", the drill: {note.what}"
    head = [html.Strong(called or note.drill), html.Span(of, className="quiet")]
    return html.Li(
        [html.P(head), html.P(day_of(note.when), className="quiet"), take_back(one.entry, "Put back")],
        className="binned",
    )
