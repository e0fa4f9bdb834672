"""Whether what a page shows is of the files as they are now, as a line for people."""

from typing import Any
from urllib.parse import quote, unquote

from dash import dcc, html

from dashboard.components.particulars import stale_notice
from dashboard.components.shell import notice
from dashboard.pages._here import runs

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


def stale_names(drill: str, names: tuple[str, ...]) -> list[Any]:
    """Return one line that names the runs whose results are older than their files; nothing where none is."""
    found = runs()
    old = [name for name in names if found is not None and found.stale(drill, name)]
    return [notice(f"Older than their files: {', '.join(old)}. Their particulars have them measured.")] if old else []
