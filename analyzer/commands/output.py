"""Exit codes, and the lines that commands say and complain."""

import codecs
import os
import re
import sys

PLAIN_SIGNS = {
    "−": "-", "±": "+/-", "–": "-", "—": "-", "·": ".", "•": "*", "×": "x", "…": "...", "°": " deg", "≤": "<=",
    "≥": ">=", "‘": "'", "’": "'", "“": '"', "”": '"', "→": "->", "²": "2", "\u00a0": " ", "\u202f": " ",
}  # fmt: skip
"""Signs of our own words -> what stands for them on a terminal that does not know them."""
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
"""Control characters (C0, delete, C1) but tab and line end."""
ON_ANY_TERMINAL = "searchwake.plain"
"""Name of the way to write what a terminal does not know."""

OK, SOME_FAILED, WRONG_USAGE, STOPPED = 0, 1, 2, 130


def any_terminal() -> None:
    """Let the output of the process take any text: on a terminal that is not UTF-8 our own signs are written as plain
    ones, and other characters as their numbers, so that nothing is lost."""
    codecs.register_error(ON_ANY_TERMINAL, _plainly)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=ON_ANY_TERMINAL)


def _plainly(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    unknown = error.object[error.start : error.end]
    plain = (PLAIN_SIGNS.get(c) or c.encode("ascii", "backslashreplace").decode("ascii") for c in unknown)
    return "".join(plain), error.end


def visible(text: str) -> str:
    """Return a text whose control characters are written as their numbers: what somebody wrote into a file cannot
    give orders to the terminal (ECMA-48 control functions begin with one of them)."""
    return CONTROL.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


def say(line: str) -> None:
    """Write a line on standard output."""
    sys.stdout.write(visible(line) + "\n")


def complain(line: str) -> None:
    """Write one line on standard error, whatever the text holds; further lines of a list are set in below it."""
    first, *more = (visible(" ".join(part.split())) for part in line.split("\n"))
    sys.stderr.write("".join(f"{part}\n" for part in (first, *(f"  {part}" for part in more if part))))


def one_thread_each() -> None:
    """Keep numpy to one thread a process; to be called before numpy loads.

    The systems are small, and more threads only get in each other's way.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
