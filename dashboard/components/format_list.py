"""What can be loaded, folded away on Load: which recorder gives what, and what is read of each format."""

from dash import html

from dashboard.services.loadable import format_words, recorder_words

TITLE = "What can be loaded, and how to get it out of a recorder"
LOGS = (
    "Reading logs and marks: tables (.csv, .txt, .tsv), or sheets of an .xlsx or .ods. Drills, runs and rule sheets: "
    ".toml. All of these also in a folder or a zip. Films, pictures and documents are kept and not read."
)
PARTS = (("Read", "read"), ("Accuracy", "accuracy"), ("Times", "times"), ("How to get it", "get"))


def format_list() -> html.Details:
    """Return the folded list: recorders first, for people know these, then formats."""
    recorders = [_entry(one.kind, "", [("Take", one.take)]) for one in recorder_words()]
    formats = [
        _entry(one.name, ", ".join(one.endings), [(title, getattr(one, key)) for title, key in PARTS])
        for one in format_words()
    ]
    return html.Details(
        [
            html.Summary(TITLE),
            html.H3("By recorder"),
            html.Div(recorders, className="format-list"),
            html.H3("By format"),
            html.Div(formats, className="format-list"),
            html.P(LOGS),
        ],
        className="more formats",
    )


def _entry(name: str, endings: str, parts: list[tuple[str, str]]) -> html.Div:
    rows = [html.Div([html.Dt(title), html.Dd(_plain(words))]) for title, words in parts]
    return html.Div([html.P([html.Strong(name), f" {endings}".rstrip()]), html.Dl(rows)], className="format-entry")


def _plain(words: str) -> str:
    return words.replace("`", "")
