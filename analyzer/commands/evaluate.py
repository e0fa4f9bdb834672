"""`searchwake evaluate`: the engine on simulated runs, the accuracy table measured beside what is wanted."""

import argparse
import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

from analyzer.commands import arguments as kinds
from analyzer.commands.arguments import new_place, place
from analyzer.commands.output import OK, SOME_FAILED, complain
from analyzer.errors import InputError
from analyzer.files.rules_toml import default_rules
from analyzer.files.source import write_atomic
from analyzer.lab.evaluate.blocks import COLUMNS, NOISES, blocks_of
from analyzer.lab.evaluate.real import FIX_COLUMNS, compare, walks_of
from analyzer.lab.evaluate.run import all_sections, bounded, measured
from analyzer.lab.evaluate.show import as_json, markdown, summary, terminal
from analyzer.lab.simulate.series import phone_series
from analyzer.model.settings import DRAWS

PHONES = "truth/ucalgary_tdcp_uwb_all_data.csv"
WIDE_TABLE = 200


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.epilog = (
        "Units: metres, seconds, degrees. The same runs and seed give the same table. Example: "
        "searchwake evaluate --runs 100 --seed 7 --realdata recordings --markdown accuracy.md"
    )
    add = parser.add_argument
    add(
        "--runs",
        metavar="N",
        type=kinds.runs,
        default=40,
        help="runs of each main kind, of the others a half or a third; 40 if left out",
    )
    add("--seed", metavar="S", type=kinds.seed, default=0, help="seed of the first run of each kind; 0 if left out")
    add("--jobs", metavar="N", type=kinds.jobs, default=2, help="processes at the same time; 2 if left out")
    add(
        "--draws",
        metavar="N",
        type=kinds.draws,
        default=DRAWS,
        help="paths drawn for the 90 %% intervals; %(default)s if left out",
    )
    _add_kinds(parser)
    add("--json", metavar="FILE", type=new_place, help="write everything measured to this file")
    add("--markdown", metavar="FILE", type=new_place, help="write the table to this file")


def _add_kinds(parser: argparse.ArgumentParser) -> None:
    """Add the arguments on what is measured beside the main rows."""
    add = parser.add_argument
    add(
        "--noise",
        metavar="MODEL",
        nargs="*",
        choices=tuple(NOISES),
        default=["markov", "white", "double", "half"],
        help=f"position errors for the rows on noise other than assumed: {', '.join(NOISES)}",
    )
    add(
        "--realdata",
        metavar="DIR",
        type=place,
        default=os.environ.get("SEARCHWAKE_REALDATA"),
        help="folder with real recordings beside a reference; SEARCHWAKE_REALDATA if left out",
    )
    add(
        "--bound",
        metavar="N",
        type=kinds.runs,
        default=0,
        help="runs of each kind of evidence whose posterior is sampled long and held beside the analysis: half a "
        "minute a run; none if left out",
    )


def run(arguments: argparse.Namespace) -> int:
    """Measure, print the table, write the files asked for; 1 where the engine refused a simulated run."""
    text = recordings_text(arguments.realdata)
    rules = default_rules()
    phones = {kind: phone_series(text, kind=kind) for kind in FIX_COLUMNS} if text else {}
    blocks = blocks_of(phones=phones, noises=arguments.noise)
    with _progress(sum(b.runs(arguments.runs) for b in blocks) + len(COLUMNS) * arguments.bound) as done:
        trials = measured(
            blocks,
            rules,
            runs=arguments.runs,
            seed=arguments.seed,
            draws=arguments.draws,
            jobs=arguments.jobs,
            done=done,
        )
        more = (
            (bounded(rules, runs=arguments.bound, seed=arguments.seed, jobs=arguments.jobs, done=done),)
            if arguments.bound
            else ()
        )
    comparisons = [compare(walk, rules) for kind in FIX_COLUMNS for walk in walks_of(text, kind)] if text else []
    sections = (*all_sections(trials, arguments.noise, comparisons), *more)
    failures = [f"{t.block}, seed {t.seed}: {t.error}" for own in trials.values() for t in own if t.error]
    facts = {"runs": arguments.runs, "seed": arguments.seed, "draws": arguments.draws, "rules": rules.name}
    console = Console(width=None if sys.stdout.isatty() else WIDE_TABLE)
    console.print(terminal(sections))
    console.print(f"{arguments.runs} runs of each kind from seed {arguments.seed}: {summary(sections)}")
    for line in failures:
        complain(f"no result for {line}")
    # After the table, which took its time and is not lost where a file cannot be written.
    if arguments.json:
        write_atomic(arguments.json, as_json(sections, facts, failures).encode())
    if arguments.markdown:
        write_atomic(arguments.markdown, markdown(sections, facts).encode())
    return SOME_FAILED if failures else OK


def recordings_text(folder: Path | str | None) -> str | None:
    """Return the table of real recordings, None where no folder is given or it has none.

    Raises
    ------
    InputError
        Where a folder is named that is not there.
    """
    if folder is None:
        return None
    if not Path(folder).is_dir():
        raise InputError(where=str(folder), what="there is no such folder of recordings", do="give another --realdata")
    table = Path(folder) / PHONES
    return table.read_text(encoding="utf-8") if table.is_file() else None


@contextlib.contextmanager
def _progress(total: int) -> Iterator[Callable[[int], None]]:
    """Give a function that moves a bar on; off a terminal there is no bar."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    bar = Progress(
        TextColumn("measuring simulated runs"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task("runs", total=total)
        yield lambda done: bar.advance(task, done)
