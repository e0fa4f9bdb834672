"""Numbers and their units on one line: the one place where the debrief gets its no-break spaces."""

import re
from typing import Any

from dash.development.base_component import Component

_UNIT = re.compile(r"(?<=\d) (?=(?:m|s|min|m/s|cm|%|degrees|points)(?![\w/]))")


def unbroken(text: str) -> str:
    """Return a text whose numbers cannot part from their units at the end of a line."""
    return _UNIT.sub("\u00a0", text)


def with_unbroken_units(node: Any) -> Any:
    """Return a tree of components after its texts were made so; text alternatives and data stay."""
    if isinstance(node, str):
        return unbroken(node)
    if isinstance(node, (list, tuple)):
        return [with_unbroken_units(item) for item in node]
    if isinstance(node, Component) and getattr(node, "children", None) is not None:
        node.children = with_unbroken_units(node.children)
    return node
