"""`searchwake demo` and `searchwake serve`: measure what has changed, then show it on this machine only."""

import argparse
import errno
import os
import socket
import sys
import webbrowser
from collections.abc import Sequence
from pathlib import Path

from analyzer.errors import InputError
from dashboard.config import DEFAULT_PORT, LOOPBACK, Config

OK, SOME_FAILED = 0, 1
PORTS_TRIED = 20
THREADS = 6
SAMPLES = Path(__file__).resolve().parent.parent / "sample_tracks"
DEMO_NOTE = "Sample drills: people, places and searches are invented, and the tracks are simulated."


def add_demo_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `searchwake demo`."""
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("searchwake-out"),
        metavar="DIR",
        help="where the results are written (default: %(default)s)",
    )
    parser.epilog = "Example: searchwake demo --port 8060"
    _add_serving(parser)


def add_serve_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `searchwake serve`."""
    parser.add_argument(
        "folder",
        type=Path,
        metavar="WORKSPACE",
        help="a folder with drills/, or with drill folders, or with results (<drill>/<run>.json)",
    )
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="where the results are written (default: WORKSPACE/results)"
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
    """Measure the sample drills and show them; return the exit code.

    Raises
    ------
    InputError
        Where the sample drills are not beside the program, or no port is free.
    """
    # Installed from a checkout, the samples are not beside the program but in the folder the command is given in.
    drills = drill_folders(SAMPLES) or drill_folders(Path.cwd() / SAMPLES.name)
    if not drills:
        raise InputError(
            where=str(SAMPLES),
            what="there are no sample drills here",
            do="run searchwake demo from a checkout of the project, or use searchwake serve WORKSPACE",
        )
    code = _measure(drills, arguments.out)
    config = Config(arguments.out, DEMO_NOTE, tuple(drills), arguments.out / "rules")
    return code if arguments.once else _show(config, arguments, code)


def run_serve(arguments: argparse.Namespace) -> int:
    """Measure the drills of a workspace and show them, or show a folder of results; return the exit code.

    Raises
    ------
    InputError
        Where the folder holds neither drills nor results, or no port is free.
    """
    folder = arguments.folder
    if not folder.is_dir():
        raise InputError(where=str(folder), what="there is no such folder", do="give a folder that holds drills")
    drills = drill_folders(folder)
    if not drills and not any(folder.glob("*/*.json")):
        raise InputError(
            where=str(folder),
            what="there is neither a drill.toml nor a result in it",
            do="give a folder with drills/<drill>/drill.toml, or the --out folder of searchwake analyze",
        )
    results = (arguments.out or folder / "results") if drills else folder
    code = _measure(drills, results) if drills else OK
    config = Config(results, drills=tuple(drills), rules=folder / "rules")
    return code if arguments.once else _show(config, arguments, code)


def drill_folders(root: Path) -> list[Path]:
    """Return the folders with a `drill.toml` in `root`, in its folders and in `root/drills`, by name."""
    if not root.is_dir():
        return []
    return sorted(
        {
            path.parent
            for pattern in ("drill.toml", "*/drill.toml", "drills/*/drill.toml")
            for path in root.glob(pattern)
        }
    )


def _measure(drills: Sequence[Path], out: Path) -> int:
    """Measure drill folders as `searchwake analyze` does, with its progress bar, table and messages."""
    from analyzer.cli import main

    return main(["analyze", *[str(drill) for drill in drills], "--out", str(out)])


def _show(config: Config, arguments: argparse.Namespace, code: int) -> int:
    """Serve until stopped; the exit code of the measuring is kept, so that a failure is not forgotten."""
    import waitress

    from dashboard.app import create_app

    listening = free_socket(arguments.port)
    app = create_app(config)
    server = waitress.create_server(app.server, sockets=[listening], threads=THREADS, ident=None)
    address = f"http://{LOOPBACK}:{listening.getsockname()[1]}/"
    sys.stdout.write(f"\nThe debrief is at {address} on this machine only. Stop it with Ctrl+C.\n")
    sys.stdout.flush()
    if not arguments.no_browser:
        webbrowser.open(address)
    server.run()
    return code


def free_socket(first: int) -> socket.socket:
    """Return a socket bound to the first free loopback port from `first` on.

    Raises
    ------
    InputError
        Where none of the next ports is free.
    """
    last = min(first + PORTS_TRIED - 1, 65535)
    for port in range(first, last + 1):
        candidate = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # else a port stays closed for a minute after a stop; elsewhere this would share it
            candidate.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            candidate.bind((LOOPBACK, port))
            candidate.listen(64)
        except OSError as error:
            candidate.close()
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise
        else:
            return candidate
    raise InputError(
        where=f"--port {first}",
        what=f"the ports {first} to {last} are all in use or closed to us",
        do="give another --port",
    )
