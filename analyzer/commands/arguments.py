"""What arguments of commands have in common."""

import argparse


def count(text: str) -> int:
    """Return a whole number of 1 or more, as an argument's type."""
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text} is below 1")
    return value
