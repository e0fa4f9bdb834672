"""`searchwake verify`: the proof that an event's places still hold."""

import argparse

from analyzer.commands.arguments import add_event
from analyzer.commands.output import OK, SOME_FAILED, complain, one_thread_each, say
from analyzer.events.decisions_log import log_head, shown_head
from analyzer.events.verify import verify_event


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    add_event(parser)
    parser.epilog = "Exit code 1 where anything differs. Example: searchwake verify club/events/cup"


def run(arguments: argparse.Namespace) -> int:
    """Compute the event anew, name every difference, and return the exit code."""
    one_thread_each()
    lines, compared = verify_event(arguments.event, jobs=arguments.jobs)
    for line in lines:
        complain(line)
    ending = "all as stored" if not lines else f"{len(lines)} difference{'' if len(lines) == 1 else 's'}"
    say(f"{compared} files computed anew and compared: {ending}")
    event = arguments.event.parent if arguments.event.is_file() else arguments.event
    say(f"Log head {shown_head(log_head(event)) or 'none'}; every list that was given out of this standing shows it")
    return SOME_FAILED if lines else OK
