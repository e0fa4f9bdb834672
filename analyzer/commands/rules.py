"""`searchwake rules`: rule sheets checked, and those of the form before written anew."""

import argparse

from analyzer.commands.arguments import place
from analyzer.commands.output import OK, SOME_FAILED, complain, say
from analyzer.errors import AnalyzerError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument("files", nargs="+", type=place, metavar="FILE", help="a rule sheet (.toml)")
    parser.add_argument(
        "--renew", action="store_true", help="write a sheet of the form before anew; the old one is kept as FILE.old"
    )
    parser.epilog = "Without --renew nothing is written. Example: searchwake rules --renew club/rules/cup.toml"


def run(arguments: argparse.Namespace) -> int:
    """Check or renew rule sheets; return the exit code."""
    from analyzer.files.renew_rules import renew_rules
    from analyzer.files.rules_toml import read_rules_toml

    failed = False
    for path in arguments.files:
        try:
            kept = renew_rules(path) if arguments.renew else None
            rules = read_rules_toml(path)
        except AnalyzerError as error:
            failed = True
            complain(str(error))
            continue
        if kept is not None:
            say(f"{path}: written anew, the old sheet is {kept.name}; its points for measures stay, comments are gone")
        say(f"{path}: {rules.name}, version {rules.version}, hash {rules.sha256[:16]}")
    return SOME_FAILED if failed else OK
