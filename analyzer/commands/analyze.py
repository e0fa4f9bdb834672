"""`searchwake analyze`: the runs of drill folders measured, one result each, and a table of all."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from analyzer.commands.arguments import UNITS, add_jobs, new_place, place
from analyzer.commands.arguments import draws as draws_type
from analyzer.commands.arguments import seed as seed_type
from analyzer.commands.output import OK, SOME_FAILED, WRONG_USAGE, complain, one_thread_each, say, visible
from analyzer.model.rules import Rules
from analyzer.model.settings import DRAWS, SEED


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.description = "Measure every run of one or more drill folders and write one result per run."
    parser.epilog = f"{UNITS} Example: searchwake analyze lower_bowl upper_bowl --out results --rules club.toml"
    parser.add_argument("drills", nargs="+", metavar="DRILL", type=place, help="a folder with drill.toml and runs/")
    parser.add_argument(
        "--out",
        required=True,
        metavar="DIR",
        type=new_place,
        help="where DIR/<drill>/<run>.json and DIR/summary.csv are written",
    )
    parser.add_argument(
        "--rules",
        metavar="FILE",
        type=place,
        help="a rule sheet; if left out, rules.toml of each drill, else the built-in one",
    )
    parser.add_argument(
        "--draws",
        type=draws_type,
        default=DRAWS,
        metavar="N",
        help="paths drawn for the 90 %% intervals; %(default)s if left out",
    )
    parser.add_argument(
        "--seed", type=seed_type, default=SEED, metavar="N", help="seed of those draws; %(default)s if left out"
    )
    add_jobs(parser)
    parser.add_argument("--again", action="store_true", help="measure again what has not changed")


def run(arguments: argparse.Namespace) -> int:
    """Measure what the arguments name; return the exit code."""
    one_thread_each()
    from analyzer.files.rules_toml import read_rules_toml

    rules = read_rules_toml(arguments.rules) if arguments.rules is not None else None
    return analyze(
        arguments.drills,
        arguments.out,
        rules=rules,
        draws=arguments.draws,
        seed=arguments.seed,
        jobs=arguments.jobs,
        again=arguments.again,
    )


def analyze(
    drills: Sequence[Path],
    out: Path,
    *,
    rules: Rules | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    jobs: int,
    again: bool = False,
    table: bool = True,
) -> int:
    """Measure drill folders, write results and summary into `out`, print what came of it; return the exit code.

    Parameters
    ----------
    drills : sequence of Path
        Folders that hold a drill.toml.
    rules : Rules, optional
        The rule sheet for all drills; by default that in each drill's folder, else the built-in one.
    draws, seed : int
        Paths drawn for the 90 % intervals, and the seed of those draws.
    jobs : int
        Drills measured at the same time.
    again : bool
        Measure what has not changed as well.
    table : bool
        Print a row a run; else a line on all of them.
    """
    one_thread_each()
    from analyzer.files.rules_toml import default_rules
    from analyzer.workspace.batch import Batch, analyze_drills

    wrong = _wrong_usage(drills, out)
    if wrong is not None:
        complain(wrong)
        return WRONG_USAGE
    batch = Batch(out=out, rules=rules or default_rules(), draws=draws, seed=seed, own=rules is None)
    rows, failures = analyze_drills(drills, batch, jobs=jobs, again=again)
    if table and rows:
        _show(rows)
    elif not table:
        say(f"{_counted(len(rows), 'run')} in {_counted(len(drills), 'drill')}, {len(failures):,} not measured.")
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


def _show(rows: list[dict[str, Any]]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(title=_counted(len(rows), "run"), title_justify="left")
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
        table.add_row(*(Text(visible(_shown(row, key))) for key in columns))
    Console(width=None if sys.stdout.isatty() else 140).print(table)


def _counted(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def _shown(row: dict[str, Any], key: str) -> str:
    value = row.get(key)
    if key == "found":
        return f"{value} of {row.get('transmitters')}"
    if key == "score" and value is not None:
        return f"{value:.0f} ({row['score_low']:.0f} to {row['score_high']:.0f})"
    return "-" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
