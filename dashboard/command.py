"""`searchwake demo` and `searchwake serve`: measure what has changed, then show it on this machine only."""

import argparse
import contextlib
import logging
import os
import shutil
import socket
import sys
import threading
import webbrowser
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analyzer.commands.analyze import analyze
from analyzer.commands.arguments import new_place, place
from analyzer.commands.output import OK, SOME_FAILED, complain, say
from analyzer.errors import AnalyzerError, InputError
from analyzer.files.names import DRILL_FILE, RUNS
from analyzer.files.source import disk_error, write_new
from analyzer.workspace.drill_key import drill_key
from analyzer.workspace.intake.originals import storage_error
from analyzer.workspace.layout import DRILLS, EVERY_DRILL, EVERY_RESULT, PEOPLE_FILE, RESULTS, RULE_SHEETS, SHOWN_NAMES
from dashboard.config import DEFAULT_PORT, LOOPBACK, PHONES_KEY, PHONES_PORT, Config
from dashboard.server.heaps import few_heaps
from dashboard.server.listen import free_socket, own_address, phones_server_of, server_of
from dashboard.services.events import Events
from dashboard.services.phones.codes import spaced_code
from dashboard.services.phones.phones import Phones
from dashboard.services.seasons import Seasons

SAMPLES = Path(__file__).resolve().parent.parent / "sample_tracks"
SAMPLE_MARK = ".sample"
"""File in a copied sample drill: the key of what it was copied from."""
DEMO_NOTE = "Sample drills: people, places and searches are invented, and the tracks are simulated."


def add_demo_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `searchwake demo`."""
    parser.add_argument(
        "--out",
        type=new_place,
        default=Path("searchwake-out"),
        metavar="DIR",
        help="the workspace that the sample drills are copied to, and its results (default: %(default)s)",
    )
    parser.epilog = "Example: searchwake demo --port 8060"
    _add_serving(parser)


def add_serve_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `searchwake serve`."""
    parser.add_argument(
        "folder",
        type=place,
        metavar="WORKSPACE",
        help="a folder with drills/, or with drill folders, or with results (<drill>/<run>.json), or a new one",
    )
    parser.add_argument(
        "--out", type=new_place, metavar="DIR", help="where the results are written (default: WORKSPACE/results)"
    )
    parser.add_argument(
        "--network",
        nargs="?",
        const="",
        metavar="ADDRESS",
        help="let phones on this computer's network hand in files, at pages of their own; the address of this computer "
        "where it has several (default: nothing but this computer is answered)",
    )
    parser.epilog = "Example: searchwake serve club_week --no-browser"
    _add_serving(parser)


def _add_serving(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--port",
        type=_port,
        default=DEFAULT_PORT,
        metavar="N",
        help="first port to try; the next free one is taken (default: %(default)s)",
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser")
    parser.add_argument("--once", action="store_true", help="measure and print the table, then stop")


def _port(text: str) -> int:
    value = int(text)
    if not 1 <= value <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is no port; give 1 to 65535")
    return value


def run_demo(arguments: argparse.Namespace) -> int:
    """Copy the sample drills into a workspace, measure them and show them; return the exit code.

    Raises
    ------
    InputError
        Where the sample drills are not beside the program, the workspace cannot be written, or no port is free.
    """
    # Installed from a checkout, the samples are not beside the program but in the folder the command is given in.
    samples = drill_folders(SAMPLES) or drill_folders(Path.cwd() / SAMPLES.name)
    if not samples:
        raise InputError(
            where=str(SAMPLES),
            what="there are no sample drills here",
            do="run searchwake demo from a checkout of the project, or use searchwake serve WORKSPACE",
        )
    workspace = arguments.out
    for sample in samples:
        bring_sample(sample, workspace)
    _bring_people(samples[0].parent / PEOPLE_FILE, workspace / PEOPLE_FILE)
    drills = drill_folders(workspace)
    code = _measure(drills, workspace / RESULTS)
    config = Config(workspace / RESULTS, DEMO_NOTE, tuple(drills), workspace / RULE_SHEETS, workspace)
    return code if arguments.once else _show(config, arguments, code)


def run_serve(arguments: argparse.Namespace) -> int:
    """Measure the drills of a workspace and show them, or show a folder of results; return the exit code.

    A folder that is new or empty becomes a workspace.

    Raises
    ------
    InputError
        Where the folder holds other things than a workspace does, or no port is free.
    """
    folder = _workspace_of(arguments.folder)
    drills = drill_folders(folder)
    if not drills and folder.is_dir() and any(folder.glob(EVERY_RESULT)):
        config, code = Config(folder, rules=folder / RULE_SHEETS), OK
        if arguments.once:
            say(f"{folder} holds results and no drill: there is nothing to measure.")
    else:
        check_workspace(folder, drills)
        results = arguments.out or folder / RESULTS
        code = _measure(drills, results, table=arguments.once)
        # A drill folder itself can be shown, but is no place for other drills.
        workspace = None if (folder / DRILL_FILE).is_file() else folder
        config = Config(results, drills=tuple(drills), rules=folder / RULE_SHEETS, workspace=workspace)
    if arguments.network is not None and config.workspace is None:
        raise InputError(
            where="--network", what=f"{folder} is no workspace", do="give one to hand files into, or a new folder"
        )
    return code if arguments.once else _show(config, arguments, code)


def _workspace_of(folder: Path) -> Path:
    """Return the workspace that a folder of drills belongs to, else the folder: results have no place among drills."""
    if folder.resolve().name != DRILLS or (folder / DRILL_FILE).is_file() or not drill_folders(folder):
        return folder
    workspace = folder.resolve().parent
    say(f"{folder} holds the drills of the workspace {workspace}, which is opened.")
    return workspace


def check_workspace(folder: Path, drills: Sequence[Path]) -> None:
    """Make a workspace of a folder that is new or empty; say what is wrong with one that holds other things.

    Raises
    ------
    InputError
        Where the folder is a file, cannot be made, or holds other things than a workspace does.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(where=str(folder), what="this is a file", do="give a folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise storage_error(str(folder), error) from None
    shown = {path.name for path in folder.iterdir() if not path.name.startswith(".")}
    if shown and not drills and not shown & SHOWN_NAMES:
        raise InputError(
            where=str(folder),
            what="there is neither a drill.toml nor a result in it, and it is not empty",
            do="give a new folder and load these files into it in the browser, or give a workspace or results",
        )
    if not shown:
        say(f"{folder} is an empty workspace: load files or lay out a drill in the browser.")


def bring_sample(sample: Path, workspace: Path) -> None:
    """Copy a sample drill into a workspace, where runs can be loaded into it.

    A copy that is as it was made follows the sample; one that was changed or that runs were added to is left alone.

    Raises
    ------
    InputError
        Where the workspace is full or cannot be written to.
    """
    copy, key = workspace / DRILLS / sample.name, drill_key(sample, settings=())
    mark = copy / SAMPLE_MARK
    try:
        if copy.is_dir():
            made_of = mark.read_text() if mark.is_file() else ""
            if made_of == key or made_of != drill_key(copy, settings=()):
                return
            shutil.rmtree(copy)
        part = workspace / DRILLS / f".{sample.name}.part"
        shutil.rmtree(part, ignore_errors=True)
        shutil.copytree(sample, part)
        (part / SAMPLE_MARK).write_text(key)
        part.rename(copy)
    except OSError as error:
        raise storage_error(str(copy), error) from None


def _bring_people(sample: Path, copy: Path) -> None:
    """Copy the invented people of the samples, who may be named; people that are there already stay as they are."""
    if sample.is_file() and not copy.exists():
        write_new(copy, sample.read_bytes())


def drill_folders(root: Path) -> list[Path]:
    """Return the folders with a `drill.toml` in `root`, in its folders and in `root/drills`, by name."""
    if not root.is_dir():
        return []
    return sorted(
        {path.parent for pattern in (DRILL_FILE, f"*/{DRILL_FILE}", EVERY_DRILL) for path in root.glob(pattern)}
    )


def _measure(drills: Sequence[Path], out: Path, *, table: bool = True) -> int:
    """Measure drill folders as `searchwake analyze` does; drills that have no run yet are passed over.

    `table`: print a row a run, of which a workspace may have a thousand; else one line.

    Raises
    ------
    InputError
        Where nothing can be written and nothing was measured before that could be shown.
    """
    with_runs = [drill for drill in drills if any((drill / RUNS).glob("*"))]
    if drills and not with_runs:
        say("There is no run in any drill yet: load files in the browser.")
    if not with_runs:
        return OK
    drills = with_runs
    try:
        return analyze(drills, out, jobs=os.cpu_count() or 1, table=table)
    except OSError as error:
        wrong = disk_error(error, where=str(out))
        if not any(out.glob(EVERY_RESULT)):
            raise wrong from None
        complain(f"{wrong}; what was measured before is shown")
        return SOME_FAILED


def _show(config: Config, arguments: argparse.Namespace, code: int) -> int:
    """Serve until stopped; the exit code of the measuring is kept, so that a failure is not forgotten."""
    from dashboard.app import app_to_serve

    # A browser asks for more files at once than there are threads: that some wait is no news for the terminal.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    wanted = getattr(arguments, "network", None)
    outer = None if wanted is None else free_socket(PHONES_PORT, own_address(wanted))
    if outer is not None:
        config = replace(config, network="http://{}:{}/".format(*outer.getsockname()))
    listening = free_socket(arguments.port)
    few_heaps()
    application = app_to_serve(config).server
    server = server_of(application, listening)
    address = f"http://{LOOPBACK}:{listening.getsockname()[1]}/"
    say(f"\nThe debrief is at {address} on this machine only. Stop it with Ctrl+C.")
    if outer is not None:
        _let_phones_in(application.config[PHONES_KEY], outer, address)
    sys.stdout.flush()
    threading.Thread(target=_read_ahead, args=(config,), daemon=True, name="read-ahead").start()
    if not arguments.no_browser:
        webbrowser.open(address)
    server.run()
    return code


def _let_phones_in(phones: Phones, listening: socket.socket, address: str) -> None:
    """Answer phones beside the dashboard, and print how the first one comes in."""
    from dashboard.figures.join_code import join_text
    from dashboard.server.phones.app import phones_app

    server = phones_server_of(phones_app(phones), listening, lets_in=phones.lets_in)
    threading.Thread(target=server.run, daemon=True, name="phones").start()
    say(join_text(f"{phones.address}join/{phones.code()}"))
    say(
        f"Phones on the same network hand in files at {phones.address} The first one scans this, or types the code "
        f"{spaced_code(phones.code())}; the next codes are at {address}phones"
    )


def _read_ahead(config: Config) -> None:
    """Read what the first pages of the season and of each event need, while nobody waits; what is wrong they tell."""
    with contextlib.suppress(AnalyzerError):
        Seasons(config.results, config.workspace).group()
    Events(config.workspace).read_ahead()
