"""`searchwake index`: the database of a workspace brought up to date."""

import argparse

from analyzer.commands.arguments import add_jobs, place
from analyzer.commands.output import OK, SOME_FAILED, complain, one_thread_each, say


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("workspace", type=place, metavar="WORKSPACE", help="a folder that holds drills/")
    parser.add_argument(
        "--rules",
        type=place,
        metavar="FILE",
        help="a rule sheet; if left out, rules.toml of each drill, else the built-in one",
    )
    add_jobs(parser)
    parser.add_argument("--again", action="store_true", help="measure again what has not changed")
    parser.add_argument(
        "--anew",
        action="append",
        default=[],
        metavar="DRILL",
        help="measure all runs of a drill together once more, and note what moved; may be given several times",
    )
    parser.epilog = (
        "The database is WORKSPACE/searchwake.db, or what SEARCHWAKE_DB names (a path or postgresql+psycopg://...). "
        "A call that was stopped goes on where it was. Example: searchwake index club"
    )


def run(arguments: argparse.Namespace) -> int:
    """Bring the database of a workspace up to date; return the exit code."""
    one_thread_each()
    from analyzer.files.rules_toml import read_rules_toml
    from analyzer.workspace.database.index import index_workspace

    rules = read_rules_toml(arguments.rules) if arguments.rules is not None else None
    report = index_workspace(
        arguments.workspace, jobs=arguments.jobs, again=arguments.again, anew=arguments.anew, rules=rules
    )
    say(
        f"{_counted(report.drills, 'drill')}, {_counted(report.runs, 'run')}: {report.measured} measured, "
        f"{report.read} read from results, {report.runs - report.measured - report.read} as they were"
    )
    for line in report.moved:
        say(line)
    for name in report.gone:
        say(f"{name}: the drill is gone, and its rows with it")
    for line in report.failures:
        complain(line)
    return SOME_FAILED if report.failures else OK


def _counted(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"
