"""The command line: the list of commands, each loaded when it is called, and what becomes of their errors.

Exit codes: 0 all runs used, 1 some run could not be used (the others are written), 2 wrong usage, or a place that
cannot be read or written, 130 stopped.
"""

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from analyzer import __version__
from analyzer.commands.arguments import UNITS, OneLineParser
from analyzer.commands.output import OK, STOPPED, WRONG_USAGE, any_terminal, complain
from analyzer.errors import AnalyzerError

Add = Callable[[argparse.ArgumentParser], None]
Run = Callable[[argparse.Namespace], int]


def _analyze() -> tuple[Add, Run]:
    from analyzer.commands import analyze

    return analyze.add_arguments, analyze.run


def _check() -> tuple[Add, Run]:
    from analyzer.commands import check

    return check.add_arguments, check.run


def _demo() -> tuple[Add, Run]:
    from dashboard import command

    return command.add_demo_arguments, command.run_demo


def _evaluate() -> tuple[Add, Run]:
    from analyzer.commands import evaluate

    return evaluate.add_arguments, evaluate.run


def _index() -> tuple[Add, Run]:
    from analyzer.commands import index

    return index.add_arguments, index.run


def _pack() -> tuple[Add, Run]:
    from analyzer.commands import pack

    return pack.add_pack_arguments, pack.run_pack


def _people() -> tuple[Add, Run]:
    from analyzer.commands import people

    return people.add_arguments, people.run


def _range_check() -> tuple[Add, Run]:
    from analyzer.commands import range_check

    return range_check.add_arguments, range_check.run


def _rules() -> tuple[Add, Run]:
    from analyzer.commands import rules

    return rules.add_arguments, rules.run


def _season() -> tuple[Add, Run]:
    from analyzer.commands import season

    return season.add_arguments, season.run


def _serve() -> tuple[Add, Run]:
    from dashboard import command

    return command.add_serve_arguments, command.run_serve


def _simulate() -> tuple[Add, Run]:
    from analyzer.commands import simulate

    return simulate.add_arguments, simulate.run


def _standings() -> tuple[Add, Run]:
    from analyzer.commands import standings

    return standings.add_arguments, standings.run


def _unpack() -> tuple[Add, Run]:
    from analyzer.commands import pack

    return pack.add_unpack_arguments, pack.run_unpack


def _verify() -> tuple[Add, Run]:
    from analyzer.commands import verify

    return verify.add_arguments, verify.run


@dataclass(frozen=True, slots=True)
class Command:
    """A command of the list. `load` imports its module and returns what adds its arguments and what runs it."""

    words: str
    example: str
    load: Callable[[], tuple[Add, Run]]


COMMANDS = {
    "analyze": Command("measure the runs of drill folders", "lower_bowl --out results", _analyze),
    "simulate": Command("write simulated drills whose truth is known", "new_drill --runs 3", _simulate),
    "evaluate": Command("measure the accuracy of the analysis on simulated runs", "--runs 40", _evaluate),
    "standings": Command("score an event and show its places", "club/events/cup", _standings),
    "verify": Command("compute an event anew and name any difference", "club/events/cup", _verify),
    "demo": Command("open the dashboard on invented demo drills", "", _demo),
    "serve": Command("serve the dashboard for a folder of drills", "club", _serve),
    "index": Command("measure what is new in a workspace and update its database", "club", _index),
    "season": Command("how a person or a group did over a season", "club", _season),
    "check": Command("list all that is wrong with the files of a workspace, a drill or a run", "club", _check),
    "range-check": Command("what a receiver shows at taped distances, and how far", "club_3.csv", _range_check),
    "rules": Command("check rule sheets, or write old ones anew", "--renew club/rules/cup.toml", _rules),
    "pack": Command("write a workspace into one file", "club club.zip", _pack),
    "unpack": Command("put such a file into a new workspace, or join it with one", "club.zip club", _unpack),
    "people": Command("who searches in a workspace: list, merge, export, forget", "club list", _people),
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; those of the process by default.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
    any_terminal()
    try:
        parsed = build_parser(arguments).parse_args(arguments)
        code: int = parsed.run(parsed)
    except SystemExit as stop:  # argparse: --help is 0, wrong usage 2
        return stop.code if isinstance(stop.code, int) else WRONG_USAGE
    except AnalyzerError as error:
        complain(str(error))
        return WRONG_USAGE
    except KeyboardInterrupt:
        complain("stopped")
        return STOPPED
    except BrokenPipeError:
        # The reader of a pipe went away (`| head`): what it wanted is written.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    except OSError as error:
        from analyzer.files.source import disk_error

        complain(str(disk_error(error)))
        return WRONG_USAGE
    return code


def build_parser(arguments: Sequence[str]) -> argparse.ArgumentParser:
    """Return the parser; the module of a command is loaded only where `arguments` name the command."""
    parser = OneLineParser(
        prog="searchwake",
        description="Post-drill analysis of avalanche-transceiver searches.",
        epilog=f"{UNITS} Example: searchwake analyze lower_bowl --out results",
    )
    parser.add_argument("--version", action="version", version=f"searchwake {__version__}")
    subparsers: Any = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    chosen = next((a for a in arguments if not a.startswith("-")), None)
    for name, command in COMMANDS.items():
        words = command.words
        one = subparsers.add_parser(name, help=words, description=f"{words[0].upper()}{words[1:]}.")
        if name == chosen:
            add, run = command.load()
            add(one)
            one.set_defaults(run=run)
            one.epilog = one.epilog or f"{UNITS} Example: searchwake {name} {command.example}"
    return parser


if __name__ == "__main__":
    sys.exit(main())
