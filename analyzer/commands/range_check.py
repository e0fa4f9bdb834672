"""`searchwake range-check`: reading scale, usable range and strip width of a receiver from a taped walk."""

import argparse
import json

from analyzer.commands.arguments import number, place
from analyzer.commands.output import OK, say
from analyzer.engine.range_check import check_range
from analyzer.files.range_check_csv import parse_range_csv
from analyzer.files.source import read_bytes
from analyzer.model.figure import Figure, Measured
from analyzer.model.range_check import RangeCheck, RangeSetup

RANGE_FORMAT = "searchwake-range-check/1"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command to a parser."""
    parser.add_argument(
        "files", type=place, nargs="+", metavar="FILE",
        help="table of one receiver: distance_m, reading_m (- where nothing was shown), orientation, walk",
    )  # fmt: skip
    parser.add_argument(
        "--transmitter-height", type=number(0.0, 3.0), default=1.0, metavar="M", help="above the snow; 1 if left out"
    )
    parser.add_argument(
        "--receiver-height", type=number(0.0, 3.0), default=1.0, metavar="M", help="above the snow; 1 if left out"
    )
    parser.add_argument("--antennas", type=int, choices=(1, 2, 3), default=3, help="of the receiver; 3 if left out")
    parser.add_argument("--json", action="store_true", help="print the same as JSON")
    parser.epilog = (
        "Each file is one receiver's. Nothing is written. The strip width is twice the low end of the usable range. "
        "Example: searchwake range-check club_3.csv --transmitter-height 0.5"
    )


def run(arguments: argparse.Namespace) -> int:
    """Print what each table tells, and return the exit code."""
    setup = RangeSetup(arguments.transmitter_height, arguments.receiver_height, arguments.antennas)
    found = [
        (str(path), check_range(parse_range_csv(read_bytes(path), name=str(path)), setup)) for path in arguments.files
    ]
    if arguments.json:
        listed = [{"file": name, **_values(check)} for name, check in found]
        say(json.dumps({"format": RANGE_FORMAT, "checks": listed}, ensure_ascii=False, indent=1))
        return OK
    for name, check in found:
        say(f"{name}: {check.shown} looks with a reading, {check.nothing} with nothing shown")
        say(f"  reading scale  {_words(check.scale, 3)}")
        say(f"  usable range   {_words(check.usable_m, 1)}")
        width = (
            "not assessable: there is no usable range" if check.strip_width_m is None else f"{check.strip_width_m} m"
        )
        say(f"  strip width    {width}")
        for remark in check.remarks:
            say(f"  {remark}")
    return OK


def _values(check: RangeCheck) -> dict[str, object]:
    rest = {key: getattr(check, key) for key in ("scale_sigma", "strip_width_m", "shown", "nothing", "remarks")}
    return {"scale": check.scale.as_json(), "usable_m": check.usable_m.as_json(), **rest}


def _words(figure: Measured, digits: int) -> str:
    if not isinstance(figure, Figure):
        return f"not assessable: {figure.why}"
    unit = "" if figure.unit == "1" else f" {figure.unit}"
    low, high = f"{figure.low:.{digits}f}", f"{figure.high:.{digits}f}"
    return f"{figure.value:.{digits}f}{unit} (90 % interval {low} to {high})"
