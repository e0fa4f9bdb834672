"""The run that an address names, or the page that says why it cannot be shown; and the addresses of its pages."""

from urllib.parse import quote

from dash import html

from analyzer.model.result import RunResult
from dashboard.components.shell import message_page
from dashboard.pages._here import service
from dashboard.service import RunMissingError, RunUnusableError


def run_or_message(drill: str, run: str) -> tuple[RunResult | None, html.Div]:
    """Return the result of a run and an empty page, or None and the page that says what is wrong."""
    try:
        return service().result(drill, run), html.Div()
    except RunMissingError as error:
        return None, message_page(
            "This run is not here",
            f"There is no result for {error} in the folder that is shown.",
            "It may have been renamed or moved, or the link is older than the folder.",
        )
    except RunUnusableError as error:
        return None, message_page("This result cannot be shown", str(error))


def address(*parts: str) -> str:
    """Return an address of its parts, as they stand in an address or in the folder."""
    return "/" + "/".join(quote(part, safe="%") for part in parts)
