"""`searchwake rules`: rule sheets and event files checked, and those of the form before written anew."""

import argparse
from collections.abc import Iterator
from pathlib import Path

from analyzer.commands.arguments import place
from analyzer.commands.output import OK, SOME_FAILED, complain, say
from analyzer.errors import AnalyzerError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("files", nargs="+", type=place, metavar="FILE", help="a rule sheet or an event (.toml)")
    parser.add_argument(
        "--renew", action="store_true", help="write a sheet of the form before anew; the old one is kept as FILE.old"
    )
    parser.epilog = "Without --renew nothing is written. Example: searchwake rules --renew club/rules/cup.toml"


def run(arguments: argparse.Namespace) -> int:
    """Check or renew rule sheets and event files; return the exit code."""
    failed = False
    for path in arguments.files:
        try:
            for line in _done(path, renew=arguments.renew):
                say(f"{path}: {line}")
        except AnalyzerError as error:
            failed = True
            complain(str(error))
    return SOME_FAILED if failed else OK


def _done(path: Path, *, renew: bool) -> Iterator[str]:
    """Yield what was done with a file, and what it holds."""
    from analyzer.events.files.renew_names import check_event_file, is_of_events, renew_names
    from analyzer.files.renew_rules import renew_rules
    from analyzer.files.rules_toml import read_rules_toml
    from analyzer.files.source import read_bytes, sha256_hex

    if is_of_events(read_bytes(path), name=path.name):
        if renew:
            kept = renew_names(path)
            yield f"written anew with the names of today, the old file is {kept.name}"
        data = read_bytes(path)
        yield f"{check_event_file(data, name=path.name)}, hash {sha256_hex(data)[:16]}"
        return
    if renew:
        kept = renew_rules(path)
        yield f"written anew, the old sheet is {kept.name}; its points for measures stay, comments are gone"
    rules = read_rules_toml(path)
    yield f"{rules.name}, version {rules.version}, hash {rules.sha256[:16]}"
