"""`searchwake standings`: an event's places."""

import argparse
import sys
from pathlib import Path

from analyzer.commands.arguments import add_event, new_place
from analyzer.commands.output import OK, SOME_FAILED, complain, one_thread_each, say, visible
from analyzer.errors import AnalyzerError, InputError, quoted
from analyzer.events.anonymise import finish_unfinished
from analyzer.events.decisions_log import shown_head
from analyzer.events.files.folder import EventFolder, read_event_folder
from analyzer.events.files.scored_json import SCORED_FILE, Scored, read_scored
from analyzer.events.files.standings_csv import standings_csv
from analyzer.events.files.standings_html import standings_html
from analyzer.events.model import OVERALL, Standings
from analyzer.events.proposal_words import HOW, shown_proposals
from analyzer.events.store import Changed, changes, finish_begun, score_event, stale_bibs
from analyzer.events.timing import LOST, NO_MARKS, STATUS_WORDS
from analyzer.events.words import columns_of, lost_words, shown_lines, shown_rows, state_words
from analyzer.events.written import written_faults
from analyzer.files.source import read_bytes, write_atomic


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    add_event(parser)
    add = parser.add_argument
    add("--again", action="store_true", help="measure what changed and score anew; noted in the event's log.jsonl")
    add("--field", metavar="DRILL", default=OVERALL, help="the field that is shown; overall if left out")
    add("--class", metavar="CLASS", dest="class_id", default="", help="the class that is shown; all if left out")
    add("--bib", metavar="BIB", default="", help="show one entry line by line, down to evidence and rule")
    add("--csv", metavar="FILE", type=new_place, help="write all tables as CSV")
    add("--json", metavar="FILE", type=new_place, help="write all scores and tables as JSON")
    add("--sheet", metavar="FILE", type=new_place, help="write a page to print (HTML)")
    parser.epilog = (
        "Times are minutes and seconds since the start mark. Exit code 1: a file was changed after the scoring, or a "
        "run could not be measured. Example: searchwake standings club/events/cup --csv cup.csv"
    )


def run(arguments: argparse.Namespace) -> int:
    """Score the event where that was not done yet, show its standings, and return the exit code."""
    one_thread_each()
    folder = read_event_folder(arguments.event)
    target = folder.path / SCORED_FILE
    folder, left = _finished(folder, arguments, shown=target.is_file() and not arguments.again)
    before = _standings_before(target) if arguments.again else ()
    if arguments.again or not target.is_file():
        scored = score_event(folder, jobs=arguments.jobs, again=arguments.again)
    else:
        scored = read_scored(target)
    faults = written_faults(folder.path, scored)
    changed = changes(scored, folder.inputs)
    table = _table(scored, arguments.field, arguments.class_id)
    _show(scored, table, changed)
    if arguments.bib:
        _show_entry(scored, table, arguments.bib)
    if arguments.csv:
        write_atomic(arguments.csv, standings_csv(scored, stale_bibs(changed)))
    if arguments.json:
        write_atomic(arguments.json, read_bytes(target))
    if arguments.sheet:
        write_atomic(arguments.sheet, standings_html(scored, (*(c.line for c in changed), *faults)))
    for line in (*left, *(c.line for c in changed), *faults, *lost_words(before, scored.standings), *scored.notes):
        complain(line)
    failed = any(
        (one.run or one.why.startswith(LOST))
        and one.seconds is None
        and one.status == "finished"
        and not one.why.startswith(NO_MARKS)
        for one in (place.score for table in scored.standings for place in table.places)
    )
    return SOME_FAILED if left or changed or faults or failed else OK


def _finished(folder: EventFolder, arguments: argparse.Namespace, *, shown: bool) -> tuple[EventFolder, list[str]]:
    """Finish what stopped calls had begun; where an event that is only to be `shown` cannot be written to, tell it."""
    try:
        finish_begun(folder)
        told = finish_unfinished(folder, jobs=arguments.jobs)
    except InputError as error:
        if not shown:
            raise
        return folder, [f"{error}; what a stopped call had begun is not finished, and the standing is shown as it is"]
    for line in told:
        say(line)
    return read_event_folder(arguments.event) if told else folder, []


def _standings_before(target: Path) -> tuple[Standings, ...]:
    """Return the tables of the scoring before; none where it cannot be read, which the log then says."""
    try:
        return read_scored(target).standings if target.is_file() else ()
    except AnalyzerError:
        return ()


def _table(scored: Scored, scope: str, class_id: str) -> Standings:
    by_title = {name.casefold(): key for key, name in scored.classes}
    table = scored.table(scope, class_id) or scored.table(scope, by_title.get(class_id.casefold(), class_id))
    if table is None:
        fields = ", ".join(key for key, _ in scored.fields)
        classes = ", ".join(key if name == key else f"{key} ({name})" for key, name in scored.classes)
        raise InputError(
            where="standings",
            what=f"there is no table of field {quoted(scope)} and class {quoted(class_id)}",
            do=f"fields: {fields}, {OVERALL}; classes: {classes}",
        )
    return table


def _show(scored: Scored, table: Standings, changed: tuple[Changed, ...]) -> None:
    from rich.markup import escape
    from rich.table import Table
    from rich.text import Text

    names, classes = dict(scored.fields) | {OVERALL: "overall"}, dict(scored.classes)
    title = f"{scored.name}: {names[table.scope]}" + (f", {classes[table.class_id]}" if table.class_id else "")
    title += ", intermediate ranking" if table.waiting else ""
    for line in state_words(table):
        say(line)
    columns = columns_of(table, scored.rules.kind, scored.fields)
    sheet = Table(
        title=Text(visible(title)),
        title_justify="left",
        caption=Text(
            f"Rule sheet: {scored.rules.name}. Searchwake {scored.engine}. Log head {shown_head(scored.log_head)}"
        ),
        caption_justify="left",
    )
    for name in ("place", "bib", "name", "class", *columns, "total", "90 %", "penalties", "remarks"):
        right = name in ("place", "bib", "total", *columns)
        sheet.add_column(escape(name), justify="right" if right else "left", overflow="fold")
    stale = stale_bibs(changed)
    for row in shown_rows(
        table, scored.rules.kind, classes, scored.fields, scored.standings, step_s=scored.rules.resolution_s
    ):
        remarks = [*row.remarks, *(["a file was changed after the scoring"] if row.bib in stale else [])]
        parts = [dict(row.parts).get(name, "") for name in columns]
        cells = [row.place_words or "-", row.bib, row.name, row.class_name, *parts, row.total, row.interval]
        sheet.add_row(*(Text(visible(cell)) for cell in (*cells, "; ".join(row.penalties), "; ".join(remarks))))
    _print(sheet)


def _show_entry(scored: Scored, table: Standings, bib: str) -> None:
    from rich.table import Table
    from rich.text import Text

    place = next((p for p in table.places if p.score.bib == bib), None)
    if place is None:
        raise InputError(
            where="--bib", what=f"no entry of this table has the bib {quoted(bib)}", do="give one of the table"
        )
    lines = shown_lines(place.score)
    if not lines:
        why = place.score.why or STATUS_WORDS[place.score.status]
        say(f"bib {bib}, {place.name}: {why}; there is nothing to add up.")
        return
    sheet = Table(
        title=Text(visible(f"bib {bib}, {place.name}: {place.score.why or 'line by line'}")), title_justify="left"
    )
    for name in ("what", "figure (90 %)", "rule", "adds", "evidence"):
        sheet.add_column(name, justify="right" if name == "adds" else "left", overflow="fold")
    for line in lines:
        sheet.add_row(*(Text(visible(cell)) for cell in (line.what, line.figure, line.rule, line.adds, line.evidence)))
    _print(sheet)
    proposals = shown_proposals(table, scored.fields, bib)
    if not proposals:
        return
    listed = Table(title=Text("proposed penalties"), title_justify="left", caption=Text(HOW), caption_justify="left")
    for name in ("field", "what", "likely", "adds", "state", "to confirm"):
        listed.add_column(name, overflow="fold")
    for one in proposals:
        listed.add_row(
            *(Text(visible(cell)) for cell in (one.field, one.what, one.likely, one.adds, one.state, one.key))
        )
    _print(listed)


def _print(table: object) -> None:
    from rich.console import Console

    Console(width=None if sys.stdout.isatty() else 160).print(table)
