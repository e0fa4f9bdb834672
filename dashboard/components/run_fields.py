"""The fields in which people say who searched and with what: on Load for a new run, on its own page for another."""

import zlib
from typing import Any

from dash import dcc, html

from dashboard.view_models.run_form import AS_IT_IS, LONGEST, NO, YES, RunForm

ASK_CONSENT = (
    "May others see this name in the lists of the season and of standings? Ask first: without a yes nobody is named."
)
CONSENT = ((AS_IT_IS, "not asked: stays as it is"), (YES, "yes, they agreed today"), (NO, "no"))
NOBODY = "nobody named"
RECORDER = "Recorder, and where it was carried"
HELD = "Receiver held in the coarse search, metres above the snow"
RECORDER_HINT = "Such as: phone, chest pocket. The words survey, RTK or total station say that it is that exact."


def who_fields(form: RunForm, people: tuple[tuple[str, bool], ...], suffix: str = "") -> list[Any]:
    """Return the fields of the searcher. `people`: names, and whether they agreed to be named; `suffix`: after each
    field's name, where a page has several runs."""
    named = [(name, name if agreed else f"{name} (not named to others)") for name, agreed in people]
    known = {name for name, _ in named}
    others = [(form.searcher, f"{form.searcher} (not in people.toml)")] if form.searcher not in (*known, "") else []
    return [
        html.Div(
            [
                select("Searcher", f"searcher{suffix}", [("", NOBODY), *others, *named], form.searcher),
                text("or somebody new", f"new_searcher{suffix}", form.new_searcher, LONGEST["new_searcher"]),
                text("Bib", f"bib{suffix}", form.bib, LONGEST["bib"]),
            ],
            className="load-fields",
        ),
        select(ASK_CONSENT, f"consent{suffix}", list(CONSENT), form.consent, kind="load-field consent"),
    ]


def gear_fields(form: RunForm, receivers: tuple[str, ...] = (), suffix: str = "") -> html.Div:
    """Return the fields of receiver and recorder. `receivers`: those that the drill names."""
    antennas = [(n, f"{n} antenna{'' if n == '1' else 's'}") for n in ("1", "2", "3")]
    fields = [
        select("Receiver", f"antennas{suffix}", antennas, form.antennas),
        text(RECORDER, f"recorder{suffix}", form.recorder, LONGEST["recorder"], RECORDER_HINT),
        text(HELD, f"carry_height_m{suffix}", form.carry_height_m, 12),
        text("The same in the fine search", f"fine_height_m{suffix}", form.fine_height_m, 12),
    ]  # fmt: skip
    if receivers or form.receiver:
        names = [("", "none of those with a range check"), *((name, name) for name in receivers)]
        names += (
            [(form.receiver, f"{form.receiver} (not in the drill)")] if form.receiver not in (*receivers, "") else []
        )
        fields.append(select("Receiver of the drill", f"receiver{suffix}", names, form.receiver))
    return html.Div(fields, className="load-fields")


def select(
    label: str, name: str, options: list[tuple[str, str]], chosen: str, *, kind: str = "load-field"
) -> html.Label:
    """Return a select of the browser's own kind under its label."""
    listed = [html.Option(words, value=value, selected=value == chosen) for value, words in options]
    return html.Label([html.Span(label), html.Select(listed, name=name)], className=kind)


def text(label: str, name: str, value: str, most: int, hint: str = "") -> html.Label:
    """Return a field for one line under its label. Its id changes with its value, so that the page shows the latter."""
    field = dcc.Input(
        id=field_id(name, value), name=name, type="text", value=value, maxLength=most,
        autoComplete="off",
    )  # fmt: skip
    said = [html.Span(hint, className="hint")] if hint else []
    return html.Label([html.Span(label), field, *said], className="load-field")


def field_id(name: str, value: str) -> str:
    """Return an id that changes with what a field holds, in letters that every name may be turned into."""
    return f"run-field-{zlib.crc32(f'{name}={value}'.encode())}"


def hidden(name: str, value: str) -> dcc.Input:
    """Return a field that is sent and not shown."""
    return dcc.Input(name=name, type="hidden", value=value)
