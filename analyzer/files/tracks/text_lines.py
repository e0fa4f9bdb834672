"""Text of logs: UTF-8, UTF-16 with a mark, or the western 8-bit text that older recorders write in their headers."""

from analyzer.errors import InputError
from analyzer.files.source import check_not_empty

MAX_LINES = 1_000_000
"""Our own choice, because a log of an hour at 10 Hz with raw measurements between its fixes has half of them, and so
many damaged ones are looked at in two seconds."""
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


def is_utf16(data: bytes) -> bool:
    """Return whether bytes begin with the mark of UTF-16."""
    return data[:2] in UTF16_MARKS


def lines_of(data: bytes, *, name: str) -> list[str]:
    """Return the lines of a text log without their ends.

    Raises
    ------
    InputError
        Where the file is empty, binary or of too many lines.
    """
    check_not_empty(data, name=name)
    if data.count(b"\n") > MAX_LINES:
        what = f"the log has more than {MAX_LINES} lines"
        raise InputError(where=name, what=what, do="cut the recording to this run and export it again")
    if is_utf16(data):
        text = data.decode("utf-16", "replace")
        return [line.rstrip("\r") for line in text.split("\n")]
    if b"\x00" in data:
        line = data.count(b"\n", 0, data.index(b"\x00")) + 1
        raise InputError(
            where=f"{name}, line {line}",
            what="there is binary data in the text",
            do="copy the file from the recorder again, or name it by its format",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    # Only line feeds count, as in the numbers that editors show; str.splitlines() also breaks at form feeds and more.
    return [line.rstrip("\r") for line in text.split("\n")]
