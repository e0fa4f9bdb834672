"""The command line: arguments in, files and a table out, exit codes. No measuring happens here.

Exit codes: 0 all runs used, 1 some run could not be used (the others are written), 2 wrong usage.
"""

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from analyzer import __version__
from analyzer.commands.arguments import count
from analyzer.errors import AnalyzerError

OK, SOME_FAILED, WRONG_USAGE = 0, 1, 2

UNITS = "Units: metres, seconds, degrees; angles of direction are true bearings; scores run from 0 to 100."

ELSEWHERE = {
    "simulate": ("analyzer.commands.simulate", "write simulated drills whose truth is known", "new_drill --runs 3"),
    "evaluate": ("analyzer.commands.evaluate", "measure the accuracy of the analysis on simulated runs", "--runs 40"),
    "standings": ("analyzer.commands.standings", "score an event and show its places", "club/events/cup"),
    "verify": ("analyzer.commands.standings", "compute an event anew and name any difference", "club/events/cup"),
    "demo": ("dashboard.command", "open the dashboard on invented demo drills", ""),
    "serve": ("dashboard.command", "serve the dashboard for a folder of drills", "club"),
    "index": ("analyzer.commands.people", "measure what is new in a workspace and update its database", "club"),
    "season": ("analyzer.commands.season", "how a person or a group did over a season", "club"),
    "people": ("analyzer.commands.people", "who searches in a workspace: list, merge, export, forget", "club list"),
}
"""Command -> the module of its arguments and work, loaded only when the command is given; what it does; an example."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; those of the process by default.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
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
        return 130
    except BrokenPipeError:
        # The reader of a pipe went away (`| head`): what it wanted is written.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    return code


def build_parser(arguments: Sequence[str]) -> argparse.ArgumentParser:
    """Return the parser; the module of a command is loaded only where `arguments` name the command."""
    parser = argparse.ArgumentParser(
        prog="searchwake",
        description="Post-drill analysis of avalanche-transceiver searches.",
        epilog=f"{UNITS} Example: searchwake analyze lower_bowl --out results",
    )
    parser.add_argument("--version", action="version", version=f"searchwake {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_analyze(commands)
    chosen = next((a for a in arguments if not a.startswith("-")), None)
    for name, (module, words, example) in ELSEWHERE.items():
        command = commands.add_parser(name, help=words, description=f"{words[0].upper()}{words[1:]}.")
        if name == chosen:
            _load(command, name, module)
            command.epilog = command.epilog or f"{UNITS} Example: searchwake {name} {example}"
    return parser


def _load(command: argparse.ArgumentParser, name: str, module_name: str) -> None:
    """Let the module of a command add its arguments: `add_<name>_arguments`, else `add_arguments`; `run` likewise."""
    module = importlib.import_module(module_name)
    add = getattr(module, f"add_{name}_arguments", None) or module.add_arguments
    run = getattr(module, f"run_{name}", None) or module.run
    add(command)
    command.set_defaults(run=run)


def _add_analyze(commands: Any) -> None:
    parser = commands.add_parser(
        "analyze",
        help="measure the runs of drill folders",
        description="Measure every run of one or more drill folders and write one result per run.",
        epilog=f"{UNITS} Example: searchwake analyze lower_bowl upper_bowl --out results --rules club.toml",
    )
    parser.add_argument("drills", nargs="+", metavar="DRILL", type=Path, help="a folder with drill.toml and runs/")
    parser.add_argument(
        "--out",
        required=True,
        metavar="DIR",
        type=Path,
        help="where DIR/<drill>/<run>.json and DIR/summary.csv are written",
    )
    parser.add_argument("--rules", metavar="FILE", type=Path, help="a rule sheet; the built-in one if left out")
    parser.add_argument(
        "--draws", type=count, default=64, metavar="N", help="paths drawn for the 90 %% intervals; 64 if left out"
    )
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="seed of those draws; 0 if left out")
    parser.add_argument(
        "--jobs",
        type=count,
        default=os.cpu_count() or 1,
        metavar="N",
        help="drills measured at the same time; one per processor if left out",
    )
    parser.add_argument("--again", action="store_true", help="measure again what has not changed")
    parser.set_defaults(run=_analyze)


def _analyze(arguments: argparse.Namespace) -> int:
    # Set before numpy loads: the systems are small, and more threads only get in each other's way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from analyzer.files.rules_toml import default_rules, read_rules_toml
    from analyzer.workspace.batch import Batch, analyze_drills

    wrong = _wrong_usage(arguments.drills, arguments.out)
    if wrong is not None:
        complain(wrong)
        return WRONG_USAGE
    rules = read_rules_toml(arguments.rules) if arguments.rules is not None else default_rules()
    batch = Batch(out=arguments.out, rules=rules, draws=arguments.draws, seed=arguments.seed)
    rows, failures = analyze_drills(arguments.drills, batch, jobs=arguments.jobs, again=arguments.again)
    _show(rows)
    for failure in failures:
        complain(failure)
    return SOME_FAILED if failures else OK


def _wrong_usage(drills: Sequence[Path], out: Path) -> str | None:
    """Return what is wrong with the folders given, None where nothing is."""
    for drill in drills:
        if not drill.is_dir():
            return f"{drill}: there is no such drill folder; give a folder with drill.toml in it"
    names = [drill.resolve().name for drill in drills]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        return (
            f"{twice}: two drill folders have this name and would share results; rename one, or use two --out folders"
        )
    if out.exists() and not out.is_dir():
        return f"{out}: this is a file; give a folder for --out"
    return None


def complain(line: str) -> None:
    """Write one line on standard error, whatever the text holds."""
    sys.stderr.write(" ".join(line.split()) + "\n")


def _show(rows: list[dict[str, Any]]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(title=f"{len(rows)} run{'' if len(rows) == 1 else 's'}", title_justify="left")
    columns = {
        "drill": "drill",
        "run": "run",
        "searcher": "searcher",
        "evidence": "evidence",
        "duration_s": "time s",
        "found": "found",
        "coarse_search_s": "coarse s",
        "path_ratio": "walked / line",
        "wrong_way_m": "wrong way m",
        "fine_search_s": "fine s",
        "score": "score",
    }
    for key, title in columns.items():
        number = key not in ("drill", "run", "searcher", "evidence")
        table.add_column(title, justify="right" if number else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(_shown(row, key)) for key in columns))
    Console(width=None if sys.stdout.isatty() else 140).print(table)


def _shown(row: dict[str, Any], key: str) -> str:
    value = row.get(key)
    if key == "found":
        return f"{value} of {row.get('transmitters')}"
    if key == "score" and value is not None:
        return f"{value:.0f} ({row['score_low']:.0f} to {row['score_high']:.0f})"
    return "-" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main())
