"""Where one can go on from the debrief of a run: its replay, and what can be taken away."""

from dash import dcc, html

TAKEN = (
    ("sheet.pdf", "Sheet to print (PDF)"),
    ("debrief.html", "This page as a file"),
    ("account.csv", "Account (CSV)"),
    ("timeline.csv", "Timeline (CSV)"),
    ("measures.csv", "Measures (CSV)"),
    ("measures.json", "Measures (JSON)"),
)


def run_links(*, replay: str, take: str, compare: str = "", rules: str = "", particulars: str = "") -> html.Nav:
    """Return the links; addresses that are "" are left out. `take`: the address under which the files lie."""
    pages = [("Replay", replay), ("Side by side", compare), ("Rule sheet", rules), ("Particulars", particulars)]
    going = [dcc.Link(text, href=href, className="button") for text, href in pages if href]
    files = [html.Li(html.A(text, href=f"{take}/{name}", download=True)) for name, text in TAKEN]
    return html.Nav(
        [
            html.Div(going, className="run-pages"),
            html.Div([html.Span("Take away:"), html.Ul(files)], className="run-files"),
        ],
        className="run-links",
        **{"aria-label": "From this run"},
    )
