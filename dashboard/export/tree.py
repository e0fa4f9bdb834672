"""A tree of components as plain HTML text: for a page that lives without the dashboard."""

import html
import json
from collections.abc import Callable
from typing import Any

from dash.development.base_component import Component

DROPPED = ("Store", "Location")
NAMES = {"className": "class", "colSpan": "colspan", "rowSpan": "rowspan", "tabIndex": "tabindex", "htmlFor": "for"}
SKIPPED = ("children", "n_clicks", "figure", "config", "responsive", "href")

Special = Callable[[Component], str | None]


def markup(node: Any, special: Special) -> str:
    """Return a component, a text or a list of them as HTML; `special` may give the HTML of a component itself."""
    if node is None:
        return ""
    if isinstance(node, (list, tuple)):
        return "".join(markup(item, special) for item in node)
    if not isinstance(node, Component):
        return html.escape(str(node))
    own = special(node)
    if own is not None:
        return own
    kind = type(node).__name__
    if kind in DROPPED:
        return ""
    tag = "a" if kind == "Link" else kind.lower()
    return f"<{tag}{attributes(node)}>{markup(getattr(node, 'children', None), special)}</{tag}>"


def attributes(node: Component) -> str:
    """Return the attributes of a component, with a space before each; ids that are patterns become JSON."""
    parts = []
    for name, value in node.to_plotly_json()["props"].items():
        if name in SKIPPED or value is None or value is False:
            continue
        text = _text(name, value)
        parts.append(f" {NAMES.get(name, name)}" + ("" if value is True else f'="{html.escape(text)}"'))
    return "".join(parts)


def _text(name: str, value: Any) -> str:
    if name == "style":
        return ";".join(f"{key}:{item}" for key, item in value.items())
    return json.dumps(value) if isinstance(value, dict) else str(value)
