"""`searchwake pack` and `searchwake unpack`: a workspace in one file, and back, or into another workspace."""

import argparse

from analyzer.commands.arguments import new_place, place
from analyzer.commands.output import OK, SOME_FAILED, complain, say


def add_pack_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `pack` to a parser."""
    parser.add_argument("workspace", metavar="WORKSPACE", type=place, help="folder with drills/ in it")
    parser.add_argument("file", metavar="FILE", type=new_place, help="the zip to write; must not be there yet")
    parser.epilog = (
        "It holds names and recordings of people: give it to nobody who may not have them. Exit code 1 where "
        "something was "
        "left out. Example: searchwake pack club club.zip"
    )


def run_pack(arguments: argparse.Namespace) -> int:
    """Pack a workspace, say what was packed, and return the exit code."""
    from analyzer.workspace.packing.pack import pack

    done = pack(arguments.workspace, arguments.file)
    say(f"{arguments.file}: {done.files} files, {done.size / 1e6:.1f} MB before packing")
    for line in done.left_out:
        complain(line)
    return SOME_FAILED if done.left_out else OK


def add_unpack_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `unpack` to a parser."""
    parser.add_argument("file", metavar="FILE", type=place, help="what searchwake pack wrote")
    parser.add_argument(
        "workspace", metavar="WORKSPACE", type=new_place, help="a new folder, or a workspace to join it with"
    )
    parser.epilog = (
        "Nothing that stands in the workspace is overwritten: of two files that differ ours stays, the other is "
        "kept in bin/. "
        "Exit code 1 where something is to be looked at. Example: searchwake unpack club.zip club"
    )


def run_unpack(arguments: argparse.Namespace) -> int:
    """Put a pack into a workspace, say what became of it, and return the exit code."""
    from analyzer.workspace.packing.unpack import unpack

    done = unpack(arguments.file, arguments.workspace)
    say(f"{arguments.workspace}: {done.put_in} files put in, {done.same} were here, {len(done.doubts)} to look at")
    for line in (*done.doubts, *done.notes):
        complain(line)
    return SOME_FAILED if done.doubts else OK
