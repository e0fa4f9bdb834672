"""The page of the checks before a drill: a row a person, to fill in on a phone and to print."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from dash import dcc, html

from dashboard.components.run_fields import field_id, hidden
from dashboard.components.shell import panel
from dashboard.services.checks import ChecksView
from dashboard.view_models.checks import GROUP_WORDS, fields_of, row_count, summary

NOTE = (
    "No result depends on this. Common practice: the whole group checks transmitting and searching before every day "
    "out, and a battery under about 40 % stays at home. A page is no replacement for that check."
)
LABELS = (
    ("who", "Who", 80),
    ("receiver", "Receiver, your own name for it", 60),
    ("battery_percent", "Battery, %", 6),
    ("firmware", "Firmware noted", 80),
    ("remarks", "Remarks", 300),
)


def checks_form(view: ChecksView, typed: Mapping[str, str] | None) -> Any:
    """Return the form; what was typed and not taken stands in its fields."""
    values = dict(typed) if typed is not None else fields_of(view.checks)
    rows = [_row(row, values) for row in range(row_count(values))]
    button = html.Button("Save", type="submit", className="button button-go")
    form = html.Form(
        [hidden("seen", values.get("seen", view.seen)), html.Div(rows, className="check-rows"), button],
        action=f"/change-checks/save?{urlencode({'drill': view.drill})}",
        method="post",
        className="load-form",
    )
    names = ", ".join(view.receivers)
    known = [html.P(f"Receivers of this drill with a range check: {names}.")] if names else []
    return panel("Who, and with what", html.P(f"Noted: {summary(view.checks)}."), *known, form, note=NOTE)


def _row(row: int, values: Mapping[str, str]) -> html.Fieldset:
    fields = [_text(f"c{row}.{column}", label, most, values) for column, label, most in LABELS]
    chosen = values.get(f"c{row}.group_check", "")
    ways = [html.Option(words, value=way, selected=way == chosen) for way, words in GROUP_WORDS]
    way = html.Label(
        [html.Span("Group range check"), html.Select(ways, name=f"c{row}.group_check")], className="load-field"
    )
    return html.Fieldset([html.Legend(f"Row {row + 1}"), *fields[:4], way, fields[4]], className="check-row")


def _text(name: str, label: str, most: int, values: Mapping[str, str]) -> html.Label:
    value = values.get(name, "")
    more: dict[str, Any] = {"inputMode": "decimal"} if name.endswith("percent") else {}
    field = dcc.Input(
        id=field_id(name, value), name=name, type="text", value=value, maxLength=most, autoComplete="off", **more
    )
    return html.Label([html.Span(label), field], className="load-field")
