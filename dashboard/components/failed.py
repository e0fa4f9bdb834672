"""What is shown where a page or an action on it fails in a way that nobody thought of: one line; the rest goes on."""

import functools
from collections.abc import MutableMapping
from typing import Any

from dash import set_props

from dashboard import ids
from dashboard.components.shell import message_page, notice
from dashboard.services.failures import failed_line


def guard_page(page: MutableMapping[str, Any]) -> None:
    """Let the layout of a page of Dash's registry answer with a message where it fails."""
    layout = page["layout"]

    @functools.wraps(layout)
    def shown(*parts: Any, **named: Any) -> Any:
        try:
            return layout(*parts, **named)
        except Exception as error:
            return message_page("This page cannot be shown", failed_line("this page", error))

    page["layout"] = shown


def tell_failed(error: Exception) -> None:
    """Say above the page that an action failed; what is shown stays."""
    set_props(ids.FAILED, {"children": notice(failed_line("this action", error))})
