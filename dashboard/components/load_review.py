"""What came in and where it would go, as a form; how far the work is; what became of it."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote, urlencode

from dash import dcc, html

from analyzer.workspace.intake.model import (
    DRILL,
    MARKS,
    NEW,
    NO,
    OF_RUN,
    OLD,
    READINGS,
    RULES,
    RUN,
    TRACK,
    UNDECIDED,
    WAYPOINTS,
    YES,
    Basket,
    CompanionRow,
    DrillPlace,
    IncomingFile,
    Outcome,
    Plan,
    RunRow,
)
from dashboard.components.load_offers import offer_buttons, zone_field
from dashboard.components.run_fields import gear_fields, text, who_fields
from dashboard.components.shell import notice, panel
from dashboard.services.new_runs import NewRun
from dashboard.view_models.run_form import LONGEST
from dashboard.wording import clock, counted

KINDS = {
    TRACK: ("track", "tracks"),
    READINGS: ("reading log", "reading logs"),
    MARKS: ("marks", "marks"),
    RUN: ("run settings", "run settings"),
    DRILL: ("drill", "drills"),
    WAYPOINTS: ("waypoints", "waypoints"),
    RULES: ("rule sheet", "rule sheets"),
}
CHOOSE = "choose …"
LONG_RUN_S = 1200.0
"""A recording longer than this is likely of more than one run; our choice."""
PUT_IN = {True: "Put in and measure", False: "Put in"}
CHANGED = "What the new files changed"
SINGLE_NOTES = {
    WAYPOINTS: "kept; a drill.toml takes positions from it by its name, or lay out a drill from it",
    RULES: "goes to the rule sheets of this workspace",
}


@dataclass(frozen=True, slots=True)
class Said:
    """What is said of runs that are to be put in, by id of their track; the people there are to choose from; and titles
    of runs that are in the drill. `batch`: the token of the load; `drill`: the one
    that Load was opened for."""

    runs: Mapping[int, NewRun]
    people: tuple[tuple[str, bool], ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)
    batch: str = ""
    drill: str = ""


def came_in(basket: Basket) -> html.Section:
    """Return how many files of each kind came, and a line for each that cannot be used."""
    counts = [
        f"{n} {words[n != 1]}"
        for kind, words in KINDS.items()
        if (n := sum(f.kind == kind and not f.problem and not f.cut_for for f in basket.files))
    ]
    lines = unused_lines(basket)
    bad: list[Any] = []
    if lines:
        head = f"{len(lines)} not used{'; the rest goes on' if counts else ''}:"
        listed = html.Ul([html.Li(line) for line in lines], className="load-bad")
        bad = [html.P(head, className="load-bad-head"), listed]
    return panel(
        "What came in",
        html.P(", ".join(counts) or "Nothing that can be used.", className="big"),
        *bad,
        note="Each file is kept as it came, whatever becomes of it here.",
    )


def unused_lines(basket: Basket) -> list[str]:
    """Return a line for each file, or part of a zip, that cannot be used."""
    return [*basket.refused, *(f.problem for f in basket.files if f.problem and not f.cut)]


def review_form(
    plan: Plan, token: str, drills: tuple[DrillPlace, ...], said: Said, *, drill: str = "", unused: int = 0
) -> html.Form:
    """Return the form in which a person sees and changes where everything goes, and says whose runs they are.

    `said`: what is known of each run so far, and the people to choose from; `unused`: how many files go nowhere.
    """
    back = f"&drill={quote(drill, safe='')}" if drill else ""
    button = html.Button(
        "Put in and measure" if plan.runs or plan.companions else "Put in", type="submit", className="button button-go"
    )
    content = [
        # The first button of a form is the one that the Enter key presses: it must not be one that moves times.
        html.Button("Put in", type="submit", hidden=True, tabIndex=-1),
        _open(plan, unused),
        # Where all is clear and the list is long, the button is also where the reader is.
        *([button] if not plan.open and len(plan.runs) > 1 else []),
        html.Fieldset([html.Legend("Drill"), *_drill_fields(plan, drills)], className="choice load-drill"),
        *_companions(plan, next((d for d in drills if OLD + d.key == plan.drill), None), said),
        *[_run_fields(row, plan, said) for row in sorted(plan.runs, key=lambda r: not _waits(r))],
        *(
            [
                html.Ul(
                    [html.Li(f"{f.path}: {SINGLE_NOTES.get(f.kind, 'kept')}") for f in plan.others],
                    className="load-left",
                )
            ]
            if plan.others
            else []
        ),
        button,
    ]
    return html.Form(content, action=f"/take-in/settle?batch={token}{back}", method="post", className="load-form")


def _open(plan: Plan, unused: int) -> Any:
    lines = plan.open
    if not lines:
        left = f"Not used, as told above: {counted(unused, 'file')}. Everything else" if unused else "Everything"
        moved = sum(bool(row.moved) for row in plan.runs) + sum(bool(row.hours) for row in plan.companions)
        told = f" Put in with other times than they say, as chosen: {counted(moved, 'file')}." if moved else ""
        return notice(f"{left} has one clear place.{told} Look it over, then put it in.")
    return html.Div(
        [
            html.P(f"To decide: {len(lines)}", className="load-bad-head"),
            html.Ul([html.Li(line) for line in lines], className="load-open"),
        ],
        className="load-decide",
        role="status",
    )


def _drill_fields(plan: Plan, drills: tuple[DrillPlace, ...]) -> list[Any]:
    options = [(f"{NEW}{f.id}", f"New drill: {f.title or f.path} (from {f.path})") for f in plan.new_drills]
    options += [(OLD + d.key, f"{d.name} ({d.key}, {counted(len(d.runs), 'run')})") for d in drills]
    fields = [_select("Runs go into", "drill", options, plan.drill)]
    if plan.new_drills and not plan.drill.startswith(OLD):
        fields.append(_text("Folder of the new drill", "folder", plan.folder))
    return fields


def _run_fields(row: RunRow, plan: Plan, said: Said) -> html.Fieldset:
    parts, form, suffix = [f.path for f in plan.parts_of(row)[1:]], said.runs[row.track.id].form, f"-{row.track.id}"
    options = [(YES, "put in as this run"), *_moves(row), (NO, "leave out")]
    return html.Fieldset(
        [
            html.Legend(row.track.path),
            html.P(", ".join(filter(None, (_facts(row.track), row.near))), className="quiet"),
            *([html.P(row.note, className="load-note")] if row.note else []),
            *offer_buttons(f"use{suffix}", row.offers),
            html.P(["With it: ", ", ".join(parts) if parts else "nothing else"]),
            *_cut(row.track, said),
            html.Div(
                [
                    text(
                        "Title of the run", f"name-{row.track.id}", form.title, LONGEST["title"], f"Folder {row.name}"
                    ),
                    _select("Do", f"use{suffix}", options, row.moved or row.use),
                    *([zone_field(row, suffix)] if row.zone_asked else []),
                ],
                className="load-fields",
            ),
            *who_fields(form, said.people, suffix),
            html.Details([html.Summary("Receiver and recorder"), gear_fields(form, (), suffix)], className="more"),
        ],
        className=_kind(_waits(row)),
    )


def _cut(track: IncomingFile, said: Said) -> list[Any]:
    """Return the way to cut a recording into runs, in plain sight where it is longer than runs are."""
    if track.begin_s is None or track.end_s is None or not said.batch:
        return []
    drill = {"drill": said.drill} if said.drill else {}
    words = "Cut again, or take the recording whole" if track.cut_for else "Cut this recording into several runs"
    link = dcc.Link(words, href=f"/cut?{urlencode({'batch': said.batch, 'track': track.id} | drill)}")
    seconds = track.end_s - track.begin_s
    if track.cut_for or seconds <= LONG_RUN_S:
        return [html.P(link)]
    return [html.P([html.Strong(f"It is {seconds / 60.0:.0f} minutes long. "), link], className="load-note")]


def _waits(row: RunRow) -> bool:
    """Return whether something of a run is to be decided."""
    return row.use == UNDECIDED or (row.use != NO and row.zone_asked and not row.zone)


def _moves(row: RunRow) -> list[tuple[str, str]]:
    """Return the choices that move a track's times: those that are offered, and the one that was chosen."""
    chosen = [(row.moved, f"put in {_how(row.note)}")] if row.moved else []
    return [*((offer.value, offer.words) for offer in row.offers), *chosen]


def _how(note: str) -> str:
    """Return how times are moved, out of the note that says it."""
    return note.partition(";")[0].removeprefix("Put in ")


def _companions(plan: Plan, place: DrillPlace | None, said: Said) -> list[Any]:
    """Return the logs that need a decision, and the others folded away."""
    asked = [row for row in plan.companions if row.of == UNDECIDED]
    clear = [_companion(row, plan, place, said) for row in plan.companions if row.of != UNDECIDED]
    parts: list[Any] = []
    if asked:
        rows = [_companion(row, plan, place, said) for row in asked]
        parts.append(html.Fieldset([html.Legend("Logs to decide on"), *rows], className="choice"))
    if clear:
        words = f"{counted(len(clear), 'other file')} with a clear place: look or change"
        parts.append(html.Details([html.Summary(words), *clear], className="more choice"))
    return parts


def _companion(row: CompanionRow, plan: Plan, place: DrillPlace | None, said: Said) -> html.Div:
    options = [(str(run.track.id), f"{run.name} ({run.track.path})") for run in plan.runs if run.use != NO]
    for run, _ in place.runs if place is not None else ():
        called = f"{said.titles[run]} ({run})" if said.titles.get(run, run) != run else run
        options.append((OF_RUN + run, f"{called}, which is in the drill"))
    options += [(offer.value, offer.words) for offer in row.offers]
    own = next((f"{run.name} ({run.track.path})" for run in plan.runs if str(run.track.id) == row.of), row.of)
    options += [(row.choice, f"{own}, {_how(row.note)}")] if row.hours else []
    return html.Div(
        [
            html.P([html.Strong(row.file.path), f" {_facts(row.file)}"]),
            html.P(row.note, className="load-note" if row.of == UNDECIDED else "quiet"),
            *offer_buttons(f"of-{row.file.id}", row.offers),
            _select("Belongs to", f"of-{row.file.id}", [*options, (NO, "leave out")], row.choice, row.file.path),
        ],
        className=_kind(row.of == UNDECIDED, "load-log"),
    )


def _kind(undecided: bool, base: str = "choice load-run") -> str:
    return f"{base} load-undecided" if undecided else base


def _select(label: str, name: str, options: list[tuple[str, str]], chosen: str, whose: str = "") -> html.Label:
    """Return a select of the browser's own kind; where nothing is chosen it says so."""
    known = any(value == chosen for value, _ in options)
    first = [] if known else [html.Option(CHOOSE, value="", selected=True)]
    more = {"aria-label": f"{label}: {whose}"} if whose else {}
    return html.Label(
        [
            html.Span(label),
            html.Select(
                [*first, *[html.Option(text, value=value, selected=value == chosen) for value, text in options]],
                name=name,
                **more,
            ),
        ],
        className="load-field",
    )


def _text(label: str, name: str, value: str) -> html.Label:
    # The id makes the field a new one where the value changed, so that the page shows what the server says.
    return html.Label(
        [
            html.Span(label),
            dcc.Input(id=f"load-{name}", name=name, type="text", value=value, maxLength=80, autoComplete="off"),
        ],
        className="load-field",
    )


def _facts(file: IncomingFile) -> str:
    """Return what is known of a file: kind, rows, time."""
    words = [KINDS.get(file.kind, ("file", ""))[0]]
    if file.kind in (TRACK, READINGS, MARKS):
        part = "part of a recording of " if file.window_s is not None else ""
        words.append(
            f"{part}{file.rows} {'fixes' if file.kind == TRACK else 'rows'}{file.ending.upper().replace('.', ', ')}"
        )
    if file.begin_s is not None and file.end_s is not None:
        words.append(f"{_moment(file.begin_s)} UTC, {clock(file.end_s - file.begin_s)} long")
    elif file.elapsed:
        words.append("times from the start mark")
    if file.title:
        words.append(file.title)
    return ", ".join(words)


def _moment(posix_s: float) -> str:
    return dt.datetime.fromtimestamp(posix_s, tz=dt.UTC).strftime("%Y-%m-%d %H:%M:%S")


def progress(basket: Basket, seconds: float) -> html.Div:
    """Return how far the work is."""
    return html.Div(
        [
            html.P(
                [html.Strong(f"{basket.stage[:1].upper()}{basket.stage[1:]} …"), f" {clock(seconds)}"], role="status"
            ),
            html.Progress(**{"aria-label": "Work in progress"}),
        ],
        className="load-progress",
    )


def result(basket: Basket) -> html.Div:
    """Return what became of the files: links to the runs, what failed, and what was left out."""
    outcome, left = basket.outcome, [f for f in basket.files if f.waits]
    runs = [
        html.Li(
            dcc.Link(
                [html.Strong(run), html.Span("Open the debrief")],
                href=_run_page(outcome, run),
                className="sheet run load-done",
            )
        )
        for run in outcome.runs
    ]
    placed = sum(bool(f.placed) for f in basket.files)
    head = f"{counted(placed, 'file')} put in" + (f", drill {outcome.drill}" if outcome.drill else "")
    parts: list[Any] = [panel(head, html.Ul(runs, className="runs") if runs else html.P("No run was measured."))]
    if outcome.changed:
        lines = [html.Li(dcc.Link(run, href=_changed_page(outcome, run, entry))) for run, entry in outcome.changed]
        parts.append(panel(CHANGED, html.Ul(lines, className="load-open changed-runs")))
    if outcome.notes:
        parts.append(panel("People", html.Ul([html.Li(line) for line in outcome.notes])))
    if outcome.failures:
        parts.append(
            panel("What did not work", html.Ul([html.Li(line) for line in outcome.failures], className="load-bad"))
        )
    if left:
        words = html.Ul([html.Li(f.path) for f in left], className="load-left")
        form = html.Form(
            html.Button("Decide on these again", type="submit", className="button"),
            method="post",
            action=f"/take-in/reopen?batch={basket.token}",
        )
        parts.append(panel(f"Left out: {len(left)}", words, form, note="They are kept, and are in no drill."))
    return html.Div(parts)


def _run_page(outcome: Outcome, run: str) -> str:
    return f"/run/{quote(outcome.drill, safe='')}/{quote(run, safe='')}"


def _changed_page(outcome: Outcome, run: str, entry: str) -> str:
    return f"/particulars/{quote(outcome.drill, safe='')}/{quote(run, safe='')}?entry={quote(entry, safe='')}"
