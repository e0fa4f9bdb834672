"""The page of a run's particulars: who and with what, the coach's words, evidence that came later, moving, deleting."""

from typing import Any
from urllib.parse import quote, urlencode

from dash import dcc, html

from analyzer.model.account import Finding
from analyzer.model.recording import RunInfo, words_of
from dashboard import ids
from dashboard.components.run_fields import field_id, gear_fields, hidden, select, text, who_fields
from dashboard.components.shell import panel
from dashboard.services.measuring import MEASURED, MEASURING, Progress
from dashboard.services.named_in_events import SURE, InEvents
from dashboard.services.runs import RunView, Said
from dashboard.view_models.coach import ASIDE, praised_text, reasons_of
from dashboard.view_models.run_form import LONGEST, LONGEST_NOTE, LONGEST_REASON, RunForm, form_of
from dashboard.wording import counted

WORDS_NOTE = "No figure and no score depends on these. They stand on the debrief and on the printed sheet."
EVIDENCE_NOTE = (
    "A reading log or marks that came later, or better ones. What the run has of the kind goes into the bin, the run "
    "is measured at once, and this page says what changed."
)
CUT_NOTE = (
    "Where its track holds more runs than this one: it is loaded once more, to be cut. This run stays as it is, and "
    "its part is left out."
)
DELETE_NOTE = "It goes into the bin with its result, and comes back from there with one press."
Names = tuple[str, str]


def said_lines(said: Said | None) -> list[Any]:
    """Return what came of the last thing that was asked for, with a button that takes it back."""
    if said is None:
        return []
    parts: list[Any] = []
    if said.done:
        back = [take_back(said.entry, "Take this back")] if said.entry else []
        parts.append(html.Div([html.P(said.done, role="status"), *back], className="notice said"))
    if said.faults:
        head = html.P("Not done. What you typed is still here.", className="load-bad-head")
        listed = html.Ul([html.Li(line) for line in said.faults], className="load-bad")
        parts.append(html.Div([head, listed], className="panel", role="alert"))
    return parts


def take_back(entry: str, words: str) -> html.Form:
    """Return the button that puts something of the bin back."""
    button = html.Button(words, type="submit", className="button")
    return html.Form(button, action=f"/change-run/restore?{urlencode({'entry': entry})}", method="post")


def progress_words(progress: Progress | None) -> list[Any]:
    """Return how far the measuring of the run's drill is, and what did not work in it."""
    if progress is None:
        return []
    if progress.state == MEASURED:
        return (
            [html.Ul([html.Li(line) for line in progress.failures], className="load-bad")] if progress.failures else []
        )
    at = f"Measuring run {progress.number} of {progress.count}, {progress.run} …"
    words = at if progress.state == MEASURING else "Waits to be measured …"
    share = {"max": str(progress.count), "value": str(progress.number - 1)} if progress.state == MEASURING else {}
    return [html.P(html.Strong(words), role="status"), html.Progress(**share, **{"aria-label": "Runs measured"})]


def changed_lines(lines: tuple[str, ...]) -> list[Any]:
    """Return what a change did to the run's result."""
    if not lines:
        return []
    return [html.H3("What this changed"), html.Ul([html.Li(line) for line in lines], className="load-open")]


def forms(view: RunView, said: Said | None, events: InEvents) -> list[Any]:
    """Return all forms of a run; what was typed and not taken stands in its fields.

    `events`: where it takes part in one, moving or deleting it needs an answer first.
    """
    names = (view.at_hand.drill, view.at_hand.run)
    typed = said.form if said is not None and said.form is not None else form_of(view.at_hand.info)
    words = said.words if said is not None else None
    return [
        panel("Who searched, and with what", _particulars(view, typed, names)),
        panel("The coach's words", _words(view, dict(words or {}), names), note=WORDS_NOTE),
        panel("Evidence that came later", _evidence(view, names), note=EVIDENCE_NOTE),
        panel("Several runs in its recording", _button("cut", names, "Cut its recording", "button"), note=CUT_NOTE),
        panel("Another drill", *_in_events(events), _move(view, names, events)),
        panel("Delete", *_in_events(events), _delete(names, events), note=DELETE_NOTE),
    ]


def _particulars(view: RunView, form: RunForm, names: Names) -> html.Form:
    return _form(
        "particulars",
        names,
        hidden("seen", view.at_hand.sha256),
        text("Title of the run", "title", form.title, LONGEST["title"], f"Left empty, it is called {names[1]}."),
        *who_fields(form, view.people),
        gear_fields(form, view.receivers),
        _submit("Save"),
    )


def _words(view: RunView, typed: dict[str, str], names: Names) -> html.Form:
    info = view.at_hand.info
    praised = typed.get("praised", praised_text(words_of(info)))
    note = _area("Note", "note", typed.get("note", info.note), LONGEST_NOTE)
    return _form(
        "words",
        names,
        hidden("seen", view.at_hand.sha256),
        note,
        text("Praised for", "praised", praised, LONGEST_REASON),
        *_aside(view.findings, info, typed),
        _submit("Save the words"),
    )


def _aside(findings: tuple[Finding, ...] | None, info: RunInfo, typed: dict[str, str]) -> list[Any]:
    """Return a field per finding: a reason in it sets the finding aside, none brings it back."""
    if not findings:
        return []
    reasons = reasons_of(words_of(info), findings)
    rows = [
        html.Div(
            [
                html.P(finding.text),
                text(
                    "Set it aside, because",
                    f"{ASIDE}{finding.id}",
                    typed.get(f"{ASIDE}{finding.id}", reasons.get(finding.id, "")),
                    LONGEST_REASON,
                ),
            ],
            className="aside",
        )
        for finding in findings
    ]
    head = f"Set findings aside: {counted(len(findings), 'finding')}, {len(reasons)} set aside"
    return [html.Details([html.Summary(head), *rows], className="more", open=bool(reasons))]


def _evidence(view: RunView, names: Names) -> html.Div:
    has = html.P(f"The run has: {', '.join(view.at_hand.files) or 'no file that is read'}.")
    slot = html.Div(className="file-slot", **{"data-name": "files", "data-label": "Readings or marks, as files"})
    action = f"/change-run/files?{_query(names)}"
    form = html.Form(
        [slot, _submit("Put in and measure")], action=action, method="post", encType="multipart/form-data",
        className="load-form",
    )  # fmt: skip
    film = f"/from-film?{urlencode({'run': '/'.join(names)})}"
    return html.Div([has, form, html.P(dcc.Link("Type readings from a film", href=film))])


def _in_events(events: InEvents) -> list[Any]:
    """Return the warning before a run that events name is moved or deleted."""
    lines = (*events.named, *events.unread)
    return [html.Ul([html.Li(line) for line in lines], className="notice load-bad")] if lines else []


def _sure(events: InEvents, what: str) -> list[Any]:
    """Return the question that has to be answered with yes where events name the run."""
    choices = [("", "no"), (SURE, f"yes, {what} it all the same")]
    return [select("It takes part in an event. Are you sure?", "sure", choices, "")] if events.named else []


def _delete(names: Names, events: InEvents) -> html.Form:
    button = html.Button("Put this run into the bin", type="submit", className="button")
    action = f"/change-run/delete?{_query(names)}"
    return html.Form([*_sure(events, "delete"), button], action=action, method="post", className="load-form")


def _move(view: RunView, names: Names, events: InEvents) -> Any:
    others = [(d.key, f"{d.name} ({d.key})") for d in view.drills if d.key != names[0] and not d.problem]
    if not others:
        return html.P("There is no other drill in this workspace.")
    to = select("Move this run to", "to", [("", "choose …"), *others], "")
    return _form("move", names, to, *_sure(events, "move"), _submit("Move"))


def _form(what: str, names: Names, *content: Any) -> html.Form:
    return html.Form(list(content), action=f"/change-run/{what}?{_query(names)}", method="post", className="load-form")


def _button(what: str, names: Names, words: str, kind: str) -> html.Form:
    button = html.Button(words, type="submit", className=kind)
    return html.Form(button, action=f"/change-run/{what}?{_query(names)}", method="post")


def _query(names: Names) -> str:
    return urlencode({"drill": names[0], "run": names[1]}, quote_via=quote)


def _submit(words: str) -> html.Button:
    return html.Button(words, type="submit", className="button button-go")


def _area(label: str, name: str, value: str, most: int) -> html.Label:
    field = dcc.Textarea(id=field_id(name, value), name=name, value=value, maxLength=most, rows=4)
    return html.Label([html.Span(label), field], className="load-field")


def stale_notice(names: Names, why: str) -> list[Any]:
    """Return the line that a result is older than its files, with a button that measures it; nothing without one."""
    if not why:
        return []
    return [html.Div([html.P(why), _button("measure", names, "Measure it now", "button")], className="notice said")]


def measured_panel(at: Any) -> html.Div:
    """Return the part of the page that is shown anew while the drill is measured."""
    return html.Div(at, id=ids.RUN_MEASURED, className="measured-part")
