"""The table of an event, what can be chosen, and how one entry's total comes about."""

from typing import Any

from dash import dcc, html

from analyzer.events.shown import ShownLine, ShownProposal, ShownRow
from dashboard import ids
from dashboard.view_models.standings import AccountView, EventEntry, TableView, download_address, event_address

FILES = (("list.html", "List to print"), ("standings.csv", "All tables (CSV)"), ("standings.json", "All scores (JSON)"))
HEAD_FIRST = (("Place", "num"), ("Entry", ""))
HEAD_LAST = (("Total (90 %)", "num"), ("Penalties", ""), ("Remarks", ""))


OTHER_RESULT = (
    ": as the workspace measures it now. The standing rests on the event's own result, measured when it was scored; "
    "figures may differ a little."
)


def event_card(entry: EventEntry) -> html.Li:
    """Return one event of the list, or a line that says why it cannot be shown."""
    if entry.problem:
        words = f" cannot be shown: {entry.problem}"
        return html.Li([html.Strong(entry.key), html.Span(words)], className="run broken")
    facts = f"{_count(entry.entries, 'entry', 'entries')} on {_count(entry.fields, 'field', 'fields')}"
    name = [html.Strong(entry.name), html.Span(entry.date, className="quiet run-id")]
    state = "scored" if entry.scored else "not scored yet"
    words = [
        html.Span(name, className="run-name"),
        html.Span(state, className="run-facts"),
        html.Span(facts, className="run-finding"),
    ]
    return html.Li(dcc.Link(words, href=event_address(entry.key), className="run"))


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def choices(view: TableView) -> list[html.Nav]:
    """Return the choice of field and of class as links; the one that is shown is marked as current."""
    fields = [_link(name, view.address(scope=key), current=key == view.scope) for key, name in view.fields]
    navs = [_nav("Field", fields)]
    if len(view.classes) > 1:
        several = (("", "All classes"), *view.classes)
        navs.append(_nav("Class", [_link(n, view.address(class_id=k), current=k == view.class_id) for k, n in several]))
    return navs


def _nav(label: str, links: list[html.Li]) -> html.Nav:
    return html.Nav(
        [html.Span(label, className="choose-label"), html.Ul(links)], className="choose", **{"aria-label": label}
    )


def _link(text: str, href: str, *, current: bool) -> html.Li:
    # A link of the component library cannot be marked as current to screen readers: it says so in words.
    words = [html.Span("Shown: ", className="unseen"), text] if current else [text]
    return html.Li(dcc.Link(words, href=href, className="button chosen" if current else "button"))


def downloads(key: str) -> html.Div:
    """Return links to the files of an event."""
    files = [
        html.Li(html.A(text, href=download_address(key, name), download=name != "list.html")) for name, text in FILES
    ]
    return html.Div([html.Span("Take away:"), html.Ul(files)], className="run-files")


def standings_table(view: TableView) -> html.Table:
    """Return the table; each entry has a part of its own with a line that unfolds."""
    heads = (*HEAD_FIRST, *((name, "num") for name in view.columns), *HEAD_LAST)
    head = html.Thead(html.Tr([html.Th(text, scope="col", className=kind) for text, kind in heads]))
    several = len(view.classes) > 1 and not view.class_id
    bodies = [_entry(row, view.columns, with_class=several) for row in view.rows]
    caption = html.Caption(table_name(view))
    return html.Table([caption, head, *bodies], className="table standings")


def table_name(view: TableView) -> str:
    """Return what a table is of, in words."""
    name = dict(view.fields)[view.scope]
    name = f"{name}, {dict(view.classes)[view.class_id]}" if view.class_id else name
    return f"{name}, intermediate ranking" if view.intermediate else name


def proposal_list(proposals: tuple[ShownProposal, ...]) -> html.Ul:
    """Return proposed penalties, with what a judge writes to confirm them."""
    return html.Ul([_proposal(one) for one in proposals], className="proposals")


def _proposal(one: ShownProposal) -> html.Li:
    who = f"bib {one.bib}, {one.name}, {one.field}: "
    facts = f"likely: {one.likely} · adds {one.adds} · {one.state}"
    return html.Li([html.Span([html.Strong(who), one.what]), html.Span(facts, className="line-part"), *_key(one.key)])


def _key(key: str) -> list[html.Span]:
    words = [html.Span("to confirm: ", className="quiet"), html.Code(key)]
    return [html.Span(words, className="line-part")] if key else []


def _entry(row: ShownRow, columns: tuple[str, ...], *, with_class: bool) -> html.Tbody:
    place = f"bib {row.bib}, {row.class_name}" if with_class else f"bib {row.bib}"
    who = [html.Strong(row.name), html.Span(place, className="cause-what")]
    parts = dict(row.parts)
    fold = html.Details(
        [
            html.Summary(
                ["Line by line", html.Span(f" of bib {row.bib}, {row.name}", className="unseen")],
                id=ids.entry_fold(row.bib),
                n_clicks=0,
            ),
            html.Div(id=ids.entry_lines(row.bib), className="account"),
        ],
        className="fold",
    )
    first = html.Tr(
        [
            html.Td([row.place or "–", *_small(row.span)], className="num place"),
            html.Th(who, scope="row"),
            *(html.Td(parts.get(name, ""), className="num part", **{"data-name": name}) for name in columns),
            html.Td([row.total or "–", *_small(row.interval)], className="num total"),
            html.Td(_listed(row.penalties), className="penalties"),
            html.Td(_listed(row.remarks), className="told"),
        ]
    )
    width = len(HEAD_FIRST) + len(columns) + len(HEAD_LAST)
    return html.Tbody([first, html.Tr(html.Td(fold, colSpan=width), className="fold-row")])


def _small(text: str) -> list[html.Span]:
    return [html.Span(text, className="quiet small-line")] if text else []


def _listed(texts: tuple[str, ...]) -> html.Ul | str:
    return html.Ul([html.Li(text) for text in texts], className="remarks") if texts else ""


def accounts(found: tuple[AccountView, ...]) -> list[html.Section]:
    """Return how a total comes about, one part per field."""
    return [_account(view) for view in found]


def _account(view: AccountView) -> html.Section:
    content: list[Any] = [html.H3(view.title)]
    if view.why:
        content.append(html.P(view.why))
    if view.lines:
        content.append(html.Dl([part for line in view.lines for part in _line(line)], className="lines"))
    if view.proposals:
        content += [html.H4("Proposed penalties"), proposal_list(view.proposals)]
    if view.debrief:
        content.append(html.P([dcc.Link("To the debrief of this run", href=view.debrief), html.Span(OTHER_RESULT)]))
    return html.Section(content)


def _line(line: ShownLine) -> list[Any]:
    details = [("measured", line.figure), ("rule", line.rule), ("evidence", line.evidence)]
    small = [
        html.Span([html.Span(f"{name}: ", className="quiet"), text], className="line-part")
        for name, text in details
        if text
    ]
    kind = "sum" if line.what.startswith("Sum") else ""
    return [html.Div([html.Dt([line.what, *small]), html.Dd(line.adds)], className=kind)]
