"""`searchwake people`: who searches in a workspace."""

import argparse
import datetime as dt
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.commands.arguments import new_place, place
from analyzer.commands.output import OK, SOME_FAILED, WRONG_USAGE, complain, say, visible
from analyzer.errors import InputError
from analyzer.model.people import Person, name_key
from analyzer.workspace.layout import EVENT_FILE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analyzer.events.persons import TakenPart
    from analyzer.workspace.people.personal_data import PersonalData

REFUSED = dt.date.min
ANONYMISE, LEAVE = "anonymise", "leave"
REPLACE, KEEP = "replace", "keep"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("workspace", type=place, metavar="WORKSPACE", help="a folder that holds drills/")
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    actions.add_parser("list", help="who searched, how often, and who agreed to be named")
    for action, words in (("add", "add a person"), ("change", "change what is known of a person")):
        one = actions.add_parser(action, help=words)
        one.add_argument("name", metavar="NAME", help="a name of their choice")
        one.add_argument("--group", metavar="GROUP", help="the group they train with")
        one.add_argument(
            "--consent", metavar="DAY", type=_consent, help="the day they agreed to be named to others, or no"
        )
        one.add_argument("--note", metavar="TEXT", help="anything you want to keep")
        if action == "add":
            one.add_argument("--spelling", metavar="NAME", action="append", default=[], help="another name in runs")
    merge = actions.add_parser("merge", help="make two names one person")
    merge.add_argument("name", metavar="NAME", help="the person that stays")
    merge.add_argument("other", metavar="OTHER", help="a person, or a spelling in runs, that becomes a spelling of it")
    export = actions.add_parser("export", help="write all data of a person into a zip")
    export.add_argument("name", metavar="NAME")
    export.add_argument("--out", type=new_place, metavar="FILE", help="the zip; NAME.zip here if left out")
    forget = actions.add_parser("forget", help="remove all data of a person, files too")
    forget.add_argument("name", metavar="NAME")
    forget.add_argument("--yes", action="store_true", help="do not ask")
    forget.add_argument(
        "--events",
        choices=(ANONYMISE, LEAVE),
        help="in events that they took part in: write their bib for the name and keep their times, or leave these be",
    )
    forget.add_argument(
        "--lone-names",
        choices=(REPLACE, KEEP),
        help="a first or last name by itself in a judge's reason or a comment: write the bib for it too, or keep it; "
        "what may be another person's of the event is told and kept",
    )
    actions.add_parser("log", help="what was done to the workspace, when, and on which account")
    parser.epilog = "Example: searchwake people club merge 'Mara Kern' mk"


def _consent(text: str) -> dt.date:
    if text.lower() == "no":
        return REFUSED
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text} is neither a day like 2026-01-17 nor no") from None


def run(arguments: argparse.Namespace) -> int:
    """Do one thing with the people of a workspace; return the exit code."""
    action = {"list": _list, "add": _add, "change": _change, "merge": _merge, "export": _export, "forget": _forget}
    return action.get(arguments.action, _log)(arguments)


def _list(arguments: argparse.Namespace) -> int:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from analyzer.seasons.spellings import near_names
    from analyzer.workspace.database.connection import opened
    from analyzer.workspace.database.queries import searchers
    from analyzer.workspace.people.people_toml import read_people

    with opened(arguments.workspace) as store:
        found = searchers(store)
    table = Table(title=f"{len(found)} searcher{'' if len(found) == 1 else 's'}", title_justify="left")
    for column in ("name", "group", "named to others", "runs", "first", "last"):
        table.add_column(column, justify="right" if column == "runs" else "left", overflow="fold")
    for one in found:
        consent = ("yes" if one.consent else "no") if one.listed else "no (not in people.toml)"
        cells = (one.name, one.group, consent, str(one.runs), one.first[:10], one.last[:10])
        table.add_row(*(Text(visible(cell)) for cell in cells))
    Console(width=None if sys.stdout.isatty() else 140).print(table)
    for near in near_names([one.name for one in found], read_people(arguments.workspace)):
        say(near.words(str(arguments.workspace)))
    return OK


def _given(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the fields of a person that were given; a refusal carries the day it was given on, today."""
    fields: dict[str, Any] = {k: getattr(arguments, k) for k in ("group", "note") if getattr(arguments, k) is not None}
    if arguments.consent is not None:
        refused = arguments.consent == REFUSED
        day = dt.datetime.now().astimezone().date() if refused else arguments.consent
        fields |= {"consent": not refused, "consent_date": day}
    return fields


def _add(arguments: argparse.Namespace) -> int:
    from analyzer.workspace.people.changes import add_person

    person = Person(name=arguments.name, spellings=tuple(arguments.spelling), **_given(arguments))
    add_person(arguments.workspace, person)
    say(f"{arguments.name}: added")
    return OK


def _change(arguments: argparse.Namespace) -> int:
    from analyzer.workspace.people.changes import change_person

    fields = _given(arguments)
    if not fields:
        raise InputError(where="people change", what="nothing to change", do="give --group, --consent or --note")
    change_person(arguments.workspace, arguments.name, **fields)
    say(f"{arguments.name}: changed")
    return OK


def _merge(arguments: argparse.Namespace) -> int:
    from analyzer.workspace.people.changes import merge_people

    person = merge_people(arguments.workspace, arguments.name, arguments.other)
    say(f"{person.name}: also {', '.join(person.spellings)}")
    return OK


def _export(arguments: argparse.Namespace) -> int:
    from analyzer.events.persons import events_of, exported
    from analyzer.workspace.people.export import export_person

    plain = re.sub(r"[^\w-]+", "_", name_key(arguments.name)).strip("_") or "person"
    out = arguments.out or Path(f"{plain}.zip")
    found = export_person(arguments.workspace, arguments.name, out, more=exported)
    events = events_of(arguments.workspace, found)
    more = f", {len(events)} event{'' if len(events) == 1 else 's'}" if events else ""
    say(f"{out}: {len(found.runs)} runs, {len(found.results)} results, {len(found.originals)} originals{more}")
    others = (p for p in found.mentions if not any(one.folder in p.parents for one in events))
    return _tell_rest(replace(found, mentions=tuple(others)))


def _forget(arguments: argparse.Namespace) -> int:
    from analyzer.events.anonymise import finish, prepare
    from analyzer.events.persons import events_of, unfinished_events
    from analyzer.workspace.people.changes import person_named
    from analyzer.workspace.people.forget import forget_person, to_forget
    from analyzer.workspace.people.personal_data import find_traces

    workspace, name = arguments.workspace, arguments.name
    person, listed = person_named(workspace, name)
    found = find_traces(workspace, person)
    events = events_of(workspace, found)
    anything = bool(listed or found.runs or found.results or found.checks)
    for one in unfinished_events(workspace):
        finish(one.with_lone_names() if arguments.lone_names == REPLACE else one)
        say(f"event {one.folder.name}: {one.label} stands for a name; what a stopped call had begun is done")
        if not (anything or events):
            return OK
    if not (anything or events):
        to_forget(workspace, name)  # says that there is nothing of this name
    choice = _choice(arguments, found, events)
    taken = _taken(arguments, events) if choice == ANONYMISE else ()
    if choice is None or taken is None or not (arguments.yes or _agreed(name)):
        complain("nothing was removed")
        return WRONG_USAGE
    for one in taken:
        prepare(one)
    if anything:
        found = forget_person(workspace, name)
    for one in taken:
        finish(one)
        say(f"event {one.folder.name}: {one.label} stands for the name; noted in its log")
    say(f"{len(found.runs)} runs, {len(found.results)} results, {len(found.originals)} originals removed")
    if found.checks:
        say(f"taken out of {len(found.checks)} checks.toml")
    say("the other runs of these drills are measured anew at the next searchwake index")
    kept = [line for one in taken for line in _lone_lines(one, done=True)]
    for line in kept:
        complain(line)
    rest = _tell_rest(replace(found, mentions=find_traces(workspace, person).mentions))
    return SOME_FAILED if kept else rest


def _choice(arguments: argparse.Namespace, found: "PersonalData", events: "Sequence[TakenPart]") -> str | None:
    """Say what would be removed and ask; return what becomes of the events, None where nothing is to be done."""
    name, choice = found.person.name, arguments.events or ("" if events else LEAVE)
    if arguments.yes:
        if not choice:
            keys = ", ".join(one.folder.name for one in events)
            complain(f"{name} took part in events ({keys}): add --events {ANONYMISE} or --events {LEAVE}")
        return choice or None
    for path in found.runs:
        say(f"  run {path.parent.parent.name}/{path.name}")
    for one in events:
        say(f"  event {one.folder.name} ({one.name}): bib {', '.join(one.bibs)}")
    say(
        f"This removes {len(found.runs)} runs, {len(found.results)} results, {len(found.originals)} loaded "
        f"files and the entry of {name}, for good. Export first to keep a copy."
    )
    if not choice:
        say("Without their runs these events cannot be verified any more as they stand.")
        choice = _answer(
            f"Type {ANONYMISE} to write {events[0].label} for the name there and keep the times, so that the places "
            f"hold, or {LEAVE}: ",
            (ANONYMISE, LEAVE),
        )
    return choice or None


def _taken(arguments: argparse.Namespace, events: "Sequence[TakenPart]") -> "Sequence[TakenPart] | None":
    """Show where lone names stand in events and ask what becomes of them; return the events, None without an answer."""
    lines = [line for one in events for line in _lone_lines(one)]
    for line in lines:
        say(f"  {line}")
    choice = arguments.lone_names
    asked = any(not found.others for one in events for found in one.lone_names())
    if asked and not choice and arguments.yes:
        complain(f"a name stands by itself in events: add --lone-names {REPLACE} or --lone-names {KEEP}")
    elif asked and not choice:
        choice = _answer(
            f"Type {REPLACE} to write {events[0].label} for these words as well, or {KEEP}: ", (REPLACE, KEEP)
        )
    if asked and not choice:
        return None
    return [one.with_lone_names() for one in events] if choice == REPLACE else events


def _lone_lines(part: "TakenPart", *, done: bool = False) -> list[str]:
    """Return a line for each lone name in an event. `done`: those that are still there afterwards."""
    lines = []
    for one in part.lone_names():
        who = f" may be theirs or that of {one.others}: it is kept" if one.others else ""
        do = "; change it by hand and score anew with --again" if done and one.place.startswith(EVENT_FILE) else ""
        still = " still stands there" if done and not who else ""
        lines.append(f"event {part.folder.name}, {one.place}: {one.name}{who}{still}{do}: {one.text}")
    return lines


def _answer(question: str, words: tuple[str, ...]) -> str:
    """Return which of the words was typed, "" where it was none."""
    sys.stdout.write(question)
    sys.stdout.flush()
    typed = sys.stdin.readline().strip().lower()
    return typed if typed in words else ""


def _agreed(name: str) -> bool:
    sys.stdout.write(f"Type {name} to go on: ")
    sys.stdout.flush()
    return name_key(sys.stdin.readline()) == name_key(name)


def _tell_rest(found: "PersonalData") -> int:
    """Say what was left alone; return the exit code."""
    if found.shared:
        complain(f"{found.shared} files are byte for byte those of other runs as well; their originals stay")
    for path in found.mentions:
        complain(f"{path}: this record of an event names them; it is the organiser's, and was left as it is")
    for line in found.unread:
        complain(f"{line} (whose this is cannot be told; it was left as it is)")
    return SOME_FAILED if found.mentions or found.unread else OK


def _log(arguments: argparse.Namespace) -> int:
    from analyzer.workspace.database.connection import opened
    from analyzer.workspace.database.queries import audit_lines

    with opened(arguments.workspace) as store:
        lines = audit_lines(store)
    for line in lines:
        say(f"{line.at}  {line.by} at {line.place}: {line.what}")
    return OK
