"""What every page has: a way past the head, the name, a way back, and the safety words."""

from typing import Any

from dash import dcc, html

from dashboard import ids
from dashboard.wording import NAME, SAFETY

PAGES = (
    ("Runs", "/"),
    ("Lay out", "/lay-out"),
    ("Recording", "/recording"),
    ("Load", "/load"),
    ("Standings", "/standings"),
    ("Season", "/season"),
)
"""What the head of every page leads to."""


def page_frame(content: Any) -> html.Div:
    """Return the whole page around its changing content."""
    return html.Div(
        [
            html.A("Skip to the content", href=f"#{ids.MAIN}", className="skip"),
            html.Header([dcc.Link(NAME, href="/", className="brand"), _pages()], className="head"),
            html.Div(id=ids.FAILED),
            html.Main(content, id=ids.MAIN, tabIndex="-1"),
            html.Footer([html.P(words) for words in SAFETY], className="foot"),
        ],
        className="frame",
    )


def _pages() -> html.Nav:
    links = [html.Li(dcc.Link(text, href=href, className="head-link")) for text, href in PAGES]
    return html.Nav(html.Ul(links), className="head-pages", **{"aria-label": "Pages"})


def panel(title: str, *content: Any, note: str = "", kind: str = "") -> html.Section:
    """Return a titled part of a page."""
    lead = [html.P(note, className="panel-note")] if note else []
    return html.Section([html.H2(title), *lead, *content], className=f"panel {kind}".strip())


def notice(text: str) -> html.P:
    """Return a message that screen readers speak when it appears."""
    return html.P(text, className="notice", role="status")


TO_RUNS = (("To the list of runs", "/"),)


def message_page(title: str, *lines: str, ways: tuple[tuple[str, str], ...] = TO_RUNS) -> html.Div:
    """Return a page that says what is wrong and where to go on; `ways`: (words, address) of each button."""
    return html.Div(
        [
            html.H1(title),
            *[html.P(text, className="big") for text in lines],
            html.Div([dcc.Link(words, href=href, className="button") for words, href in ways], className="run-links"),
        ],
        className="panel message",
    )
