"""The tables of docs/formats.md, written from the words of the program: `python -m tests.support.formats_doc`."""

import re
from pathlib import Path

from analyzer.files.tracks.format_words import formats_table, recorders_list

DOC = Path(__file__).resolve().parents[2] / "docs" / "formats.md"
TABLE = re.compile(r"\| format \| endings .*?\n(?=\n)", re.DOTALL)
LIST = re.compile(r"(?<=## How to export\n\n).*?\n(?=\n)", re.DOTALL)


def renewed(text: str) -> str:
    """Return the page with its table of formats and its list of recorders as the program has them."""
    for pattern, words in ((TABLE, formats_table()), (LIST, recorders_list())):
        text, count = pattern.subn(lambda _, words=words: words, text, count=1)
        if not count:
            raise ValueError(pattern.pattern)
    return text


if __name__ == "__main__":
    DOC.write_text(renewed(DOC.read_text(encoding="utf-8")), encoding="utf-8")
