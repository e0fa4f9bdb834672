"""Simulate events, measure them and print the report."""

import argparse
import sys

from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.events.counts import report
from analyzer.lab.evaluate.events.known import examined_event, simulated_event


def main() -> None:
    """Simulate, measure and print the report."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.lab.evaluate.events", description=__doc__)
    parser.add_argument("--events", type=int, default=20, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="of the first event")
    parser.add_argument("--second", action="store_true", help="runs of the second simulator")
    arguments = parser.parse_args()
    rules = default_rules()
    made = examined_event if arguments.second else simulated_event
    events = [made(arguments.seed + n, rules) for n in range(arguments.events)]
    sys.stdout.write("\n".join((*report(events, arguments.seed), "")))


if __name__ == "__main__":
    main()
