"""Whether what a page shows is of the files as they are now, as a line for people."""

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote, unquote

from dash import dcc, html

from dashboard.components.particulars import stale_notice
from dashboard.components.shell import notice
from dashboard.pages._here import runs, service
from dashboard.services.changed_since import changed_since
from dashboard.wording import counted

MOST_NAMED = 6
MOST_LOOKED = 500
"""Runs of a season whose files' times are looked at, the newest ones: our choice, less than a tenth of a second."""
NOW = "The files of this drill were changed, and it is being measured: what is shown may be of before."


def stale_part(drill: str, run: str) -> list[Any]:
    """Return the line that what is shown is older than the run's files, with a way to mend it; nothing where it is not.

    `drill`, `run`: as in the folder, or as they stand in an address.
    """
    found, key = runs(), unquote(drill)
    if found is None:
        return []
    if found.measuring.busy(key):
        link = dcc.Link("See how far it is", href=f"/measured/{quote(key, safe='')}", className="button")
        return [html.Div([html.P(NOW), link], className="notice said")]
    return stale_notice((key, unquote(run)), found.stale(drill, run))


def changed_part(
    places: Sequence[tuple[str, str]], names: Mapping[tuple[str, str], str] | None = None, *, named: bool = True
) -> list[Any]:
    """Return one line on the runs that changed after they were measured; nothing where none did.

    `places`: (drill, run) of those that the page rests on. `names`: what they are called. `named`: whether the page may
    name runs; else it counts them.
    """
    found = runs()
    if found is None:
        return []
    changed = changed_since(service(), found.intake, [p for p in places if not found.measuring.busy(p[0])])
    parts: list[Any] = []
    count = counted(len(changed.places), "run")
    if changed.places and named:
        more = len(changed.places) - MOST_NAMED
        others = f" and {counted(more, 'other')}" if more > 0 else ""
        links = _links(changed.places[:MOST_NAMED], names or {})
        parts = ["Changed after being measured: ", *links, f"{others}. The particulars of a run have it measured."]
    elif changed.places:
        parts = [f"{count} of this page changed after being measured: the list of runs says which."]
    if changed.unread:
        are = "is" if changed.unread == 1 else "are"
        what = f"{counted(changed.unread, 'run')} with newer files {are} not compared yet: load the page again."
        parts.append(f"{' ' if parts else ''}{what}")
    return [html.P(parts, className="notice", role="status")] if parts else []


def _links(places: Sequence[tuple[str, str]], names: Mapping[tuple[str, str], str]) -> list[Any]:
    parts: list[Any] = []
    for place in places:
        address = "/".join(quote(part, safe="") for part in place)
        link = dcc.Link(names.get(place, "/".join(place)), href=f"/particulars/{address}")
        parts += [*([", "] if parts else []), link]
    return parts


def stale_names(drill: str, names: tuple[str, ...]) -> list[Any]:
    """Return one line that names the runs whose results are older than their files; nothing where none is."""
    found = runs()
    old = [name for name in names if found is not None and found.stale(drill, name)]
    return [notice(f"Older than their files: {', '.join(old)}. Their particulars have them measured.")] if old else []
