"""`searchwake check`: all that is wrong with the files of a workspace, a drill or a run, at once."""

import argparse
import dataclasses
import json
from pathlib import Path

from analyzer.commands.arguments import place
from analyzer.commands.output import OK, SOME_FAILED, one_thread_each, say
from analyzer.errors import InputError
from analyzer.files.names import DRILL_FILE, RUNS
from analyzer.workspace.check.report import Report
from analyzer.workspace.layout import DRILLS

CHECK_FORMAT = "searchwake-check/1"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("folder", type=place, metavar="FOLDER", help="a workspace, a drill's folder or a run's folder")
    parser.add_argument("--json", action="store_true", help="print the same as JSON")
    parser.epilog = (
        "Nothing is measured or written. Exit code 0 where nothing is wrong, 1 where something is; remarks and rows "
        "set aside are no faults. Example: searchwake check club/drills/lower_bowl"
    )


def run(arguments: argparse.Namespace) -> int:
    """Check a folder, print what was found, and return the exit code."""
    one_thread_each()
    report = checked(arguments.folder)
    if arguments.json:
        values = {"format": CHECK_FORMAT, "folder": str(arguments.folder), **dataclasses.asdict(report)}
        say(json.dumps(values, ensure_ascii=False, indent=1))
    else:
        _show(report)
    return SOME_FAILED if report.problems else OK


def checked(folder: Path) -> Report:
    """Return what is found in a workspace, a drill's folder or a run's folder, whichever it is.

    Raises
    ------
    InputError
        Where it is none of them.
    """
    from analyzer.workspace.check.drill import check_drill, drill_above
    from analyzer.workspace.check.report import joined
    from analyzer.workspace.check.run import check_run

    if (folder / DRILLS).is_dir():
        from analyzer.events.check import check_events
        from analyzer.workspace.check.whole import check_workspace

        return joined([check_workspace(folder), check_events(folder)])
    if (folder / DRILL_FILE).is_file() or (folder / RUNS).is_dir():
        return check_drill(folder, "")
    if folder.is_dir() and folder.resolve().parent.name == RUNS:
        drill, problems = drill_above(folder)
        return joined([Report(problems), check_run(folder.resolve(), drill, "")])
    raise InputError(
        where=str(folder),
        what="this is no folder of a workspace, a drill or a run",
        do="give a folder with drills/ in it, with drill.toml in it, or one in a drill's runs/",
    )


def _show(report: Report) -> None:
    for problem in report.problems:
        say(str(problem))
    for remark in report.remarks:
        say(f"remark: {remark}")
    for one in report.set_aside:
        say(f"set aside: {one.where}: {one.count} {one.reason}")
    aside = sum(one.count for one in report.set_aside)
    counts = ((len(report.problems), "problem"), (len(report.remarks), "remark"), (aside, "row"))
    say(f"{', '.join(f'{n} {word}' if n == 1 else f'{n} {word}s' for n, word in counts)} set aside")
