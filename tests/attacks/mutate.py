"""Seeded mutators of files: what damage, spreadsheets, other programs and people who mean harm make of a good one."""

import contextlib
import datetime as dt
import io
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Callable
from functools import reduce
from random import Random
from typing import Any

from tests.attacks.samples import fit_crc, samples
from tests.support.sheets import packed

MOST_BYTES = 400_000
"""Mutated files stay below it; the larger ones that hurt are in `bombs`."""
INSIDE = 0.8
"""So many spreadsheets are changed inside: the zip around them is soon broken, and nothing else is seen then."""
NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
MOMENT = re.compile(rb"\d{4}-\d\d-\d\d(?:T[\d:.]+)?(?:Z|[+-]\d\d:\d\d)?")
_WORDS = (
    b"0 -1 1 1e308 -1e308 1e-320 nan inf -inf 1e999 NaN Infinity 0x10 1_000 1,5 1e9 1e15 1e-6 0.001 90.0000001 180 "
    b"-0.0 true null [] {} +5 .5 5. 1e5 \xd9\xa3 \xc2\xbd 99999999999999999999 3.4028236e38 2147483648 -32768 65535"
)
ALONE = re.compile(rb"(?<![\w:.+-])-?\d+(?:\.\d+)?(?![\w:.-])")
NUMBERS = (*_WORDS.split(b" "), b"", b'"5"', b"9" * 400, b"9" * 5000, b"0x" + b"f" * 5000, b"0." + b"1" * 3000)
EDGES = b"0 1e-6 1e-4 0.01 1 2 3 10 50 60 90 150 180 360 599 2000 -2000 86400 1e9 -1e9 1e5".split(b" ")
MOMENTS = (
    b"9999-12-31T23:59:59-14:00",
    b"0001-01-01T00:00:00+14:00",
    b"1970-01-01T00:00:00Z",
    b"2026-02-30T10:00:00Z",
    b"2026-01-17T09:30:00+99:00",
    b"2026-01-17T09:30:00+23:59",
    b"2026-01-17T24:00:00Z",
    b"2026-01-17T09:30:60Z",
    b"2026-01-17 09:30:00",
    b"2026-01-17",
    b"2026-W03-6T09:30:00Z",
    b"20260117T093000Z",
    b"17.01.2026 09:30",
    b"1768642200",
    b"46045.395",
    b"2199-12-31T23:59:59.999999999Z",
    b"",
)
SIGNS = (
    [bytes([c]) for c in (0, 7, 8, 11, 12, 13, 27, 28, 30, 127, 133, 255)]
    + [c.encode() for c in ("\u202e", "\u2028", "\u0085", "\ufeff", "\U0001f3d4", "é", "\u0661", "\u00a0")]
    + [
        b'"',
        b"'",
        b'"""',
        b"'''",
        b"#",
        b"=",
        b"\\",
        b"\\u0000",
        b"\\ud800",
        b"]]>",
        b"<!--",
        b"&#0;",
        b"&lol;",
        b"%s{0}",
    ]
    + [
        b"<!DOCTYPE gpx [<!ENTITY a 'b'>]>",
        b"<?xml version='1.0' encoding='utf-7'?>",
        b"<![CDATA[",
        b"\n\n",
        b",,,\n",
        b"$",
    ]
)
NESTS = (
    b"[",
    b"{",
    b"(",
    b"<a>",
    b'{"a":',
    b"a.",
    b"{a=",
    b"[[a]]\n",
    b"[a.b]\n",
    b"'",
    b"<a b='",
    b"\\",
    b"$GPGGA,",
    b"=",
    b" ",
)
ENCODINGS = ("utf-16", "utf-16-be", "utf-32", "utf-8-sig", "utf-7", "cp500", "shift_jis", "latin-1")

Mutator = Callable[[bytes, Random], bytes]


def _flip(data: bytes, rng: Random) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 5, 50))):
        if out:
            out[rng.randrange(len(out))] = rng.randrange(256)
    return bytes(out)


def _span(data: bytes, rng: Random) -> tuple[int, int]:
    a, b = sorted((rng.randint(0, len(data)), rng.randint(0, len(data))))
    return (a, min(b, a + 200)) if rng.random() < 0.5 else (a, b)


def _cut(data: bytes, rng: Random) -> bytes:
    a, b = _span(data, rng)
    return rng.choice((data[:a], data[a:], data[:a] + data[b:]))


def _double(data: bytes, rng: Random) -> bytes:
    a, b = _span(data, rng)
    return data[:b] + data[a:b] * rng.choice((1, 1, 2, 20)) + data[b:]


def _lines(data: bytes, rng: Random) -> bytes:
    lines = data.splitlines(keepends=True) or [b""]
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    kind = rng.randrange(4)
    if kind == 0:
        lines[i], lines[j] = lines[j], lines[i]
    elif kind == 1:
        lines.insert(i, lines[j])
    elif kind == 2:
        rng.shuffle(lines)
    else:
        del lines[min(i, j) : max(i, j)]
    return b"".join(lines)


def _replace(pattern: re.Pattern[bytes], new: Callable[[bytes, Random], bytes], data: bytes, rng: Random) -> bytes:
    found = list(pattern.finditer(data))
    if not found:
        return data
    for match in sorted(rng.sample(found, min(len(found), rng.choice((1, 1, 2, 10)))), key=lambda m: -m.start()):
        data = data[: match.start()] + new(match.group(), rng) + data[match.end() :]
    return data


def _number(data: bytes, rng: Random) -> bytes:
    return _replace(NUMBER, lambda _, r: r.choice(NUMBERS), data, rng)


def _odd(data: bytes, rng: Random) -> bytes:
    """Replace numbers by others that may be accepted: ten times, a tenth, negative, zero."""

    def new(old: bytes, r: Random) -> bytes:
        with contextlib.suppress(ValueError, OverflowError):
            return repr(float(old) * r.choice((0.0, -1.0, 0.1, 10.0, 0.5, 1.5, 0.99, 1.01, 1e3, 1e-3))).encode()
        return old

    return _replace(NUMBER, new, data, rng)


def _all_of_one(data: bytes, rng: Random) -> bytes:
    """Replace one number wherever it stands."""
    found = NUMBER.findall(data)
    return data.replace(rng.choice(found), rng.choice(NUMBERS)) if found else data


def _moment(data: bytes, rng: Random) -> bytes:
    return _replace(MOMENT, lambda _, r: r.choice(MOMENTS), data, rng)


def _sign(data: bytes, rng: Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + rng.choice(SIGNS) * rng.choice((1, 1, 3)) + data[at:]


def _nest(data: bytes, rng: Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + rng.choice(NESTS) * rng.choice((10, 70, 500, 1000, 20_000)) + data[at:]


def _encode(data: bytes, rng: Random) -> bytes:
    return data.decode("utf-8", "replace").encode(rng.choice(ENCODINGS), "replace")


def _separators(data: bytes, rng: Random) -> bytes:
    old, new = rng.choice(((b",", b";"), (b",", b"\t"), (b".", b","), (b",", b"|"), (b"\n", b"\r"), (b"\n", b"\r\n")))
    return data.replace(old, new)


def _blank(data: bytes, rng: Random) -> bytes:
    """Return what spreadsheets export of empty rows."""
    rows = b"\n".join(rng.choice((b",", b";", b"\t", b" ")) * rng.randrange(9) for _ in range(rng.randrange(40)))
    return rng.choice((rows, rows + b"\n" + data, data + b"\n" + rows))


def _long(data: bytes, rng: Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + bytes([rng.randrange(32, 127)]) * rng.choice((100, 5000, 100_000)) + data[at:]


def _splice(data: bytes, rng: Random) -> bytes:
    other = rng.choice(rng.choice(list(samples().values())))
    a, b = _span(other, rng)
    at = rng.randint(0, len(data))
    return data[:at] + other[a:b] + data[at:]


def _many(data: bytes, rng: Random) -> bytes:
    return data * rng.choice((2, 3, 10))


def _words(data: bytes, rng: Random) -> bytes:
    """Exchange two words wherever they stand: keys, columns, elements."""
    found = sorted(set(re.findall(rb"[A-Za-z_]{2,}", data)))
    if len(found) < 2:
        return data
    one, other = rng.sample(found, 2)
    return data.replace(one, rng.choice((other, b"", one * 30, one.upper())))


def _json(data: bytes, rng: Random) -> bytes:
    """Change one value of a JSON file; other files are left as they are."""
    try:
        values = json.loads(data)
    except (ValueError, RecursionError):
        return data
    at: Any = values
    for _ in range(rng.randrange(1, 7)):
        if not isinstance(at, dict | list) or not at:
            break
        key = rng.choice(list(at)) if isinstance(at, dict) else rng.randrange(len(at))
        if rng.random() < 0.35 or not isinstance(at[key], dict | list):
            strange = (None, 1e308, -1, "x", True, [], {}, [[]], "\ud800", 10**30, [None], {"a": 1}, 0, "NaN")
            if rng.random() < 0.2:
                del at[key]
            else:
                at[key] = rng.choice(strange)
            break
        at = at[key]
    return json.dumps(values).encode()


def _plain(data: bytes, rng: Random) -> bytes:
    """Replace numbers that stand alone, not those in times, by others that a reader may accept."""

    def new(old: bytes, r: Random) -> bytes:
        if r.random() < 0.4:
            return r.choice(EDGES)
        return repr(float(old) * r.choice((0.0, -1.0, 0.1, 10.0, 0.5, 1.5, 0.99, 1.01, 100.0, 1e-3))).encode()

    return _replace(ALONE, new, data, rng)


def _shift(data: bytes, rng: Random) -> bytes:
    """Move times, one or all from one on, forth and back."""
    by_s = rng.choice((0.001, 0.5, 1.0, 5.0, 60.0, 599.0, 3599.0, 86_400.0)) * rng.choice((-1, 1, 1))

    def moved(match: re.Match[bytes]) -> bytes:
        try:
            at = dt.datetime.fromisoformat(match.group().decode()) + dt.timedelta(seconds=by_s)
        except ValueError:
            return match.group()
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z").encode()

    found = list(MOMENT.finditer(data))
    if not found:
        return data
    first = rng.choice(found).start()
    return data[:first] + MOMENT.sub(moved, data[first:], count=rng.choice((0, 0, 1, 20)))


def _thin(data: bytes, rng: Random) -> bytes:
    """Leave lines out: some, a stretch, all but a few."""
    lines = data.splitlines(keepends=True)
    kind, share = rng.randrange(3), rng.choice((0.05, 0.3, 0.7))
    if kind == 0:
        return b"".join(line for line in lines if rng.random() > share)
    a = rng.randrange(len(lines) + 1)
    b = min(len(lines), a + int(share * len(lines)))
    return b"".join(lines[:a] + lines[b:]) if kind == 1 else b"".join(lines[:4] + lines[a:b] + lines[-2:])


def inside_of_sheets(data: bytes, rng: Random) -> bytes:
    """Change one part inside a spreadsheet as any other file is changed; what is none is left as it is."""
    if not data.startswith(b"PK"):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = {entry.filename: archive.read(entry) for entry in archive.infolist()}
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, ValueError, OSError, EOFError):
        return data
    cells = [path for path in parts if path.endswith(("content.xml", "strings.xml", "styles.xml")) or "sheet" in path]
    path = rng.choice(cells or list(parts) or [""])
    inner = rng.choice(
        (_flip, _cut, _double, _number, _number, _odd, _all_of_one, _sign, _nest, _words, _claims, _claims)
    )
    parts[path] = inner(parts.get(path, b""), rng)[:MOST_BYTES]
    return packed(parts)


def _claims(data: bytes, rng: Random) -> bytes:
    """Let a part of a spreadsheet claim a place or a number that it does not have."""
    claim = rng.choice((b"2000000000", b"1048576", b"16384", b"99999", b"0", b"-1", b"4294967296", b"1e9", b""))
    cell = rng.choice((b"XFD1048576", b"A1048576", b"XFD1", b"A0", b"ZZZZ9", b"a1", b"A1:XFD1048576", b""))
    pattern, new = rng.choice((
        (rb'\br="[A-Z]+\d+"', b'r="' + cell + b'"'),
        (rb'\br="\d+"', b'r="' + claim + b'"'),
        (rb"<sheetData>", b'<dimension ref="A1:' + cell + b'"/><sheetData>'),
        (rb'[Cc]ount="\d+"', b'Count="' + claim + b'"'),
        (rb"<table:table-cell", b'<table:table-cell table:number-columns-repeated="' + claim + b'"'),
        (rb"<table:table-row", b'<table:table-row table:number-rows-repeated="' + claim + b'"'),
        (rb"<text:p>", b'<text:p><text:s text:c="' + claim + b'"/>'),
        (rb"PT\d+H", b"PT" + claim + b"H"),
        (rb"<v>[^<]*</v>", b"<v>" + claim + b"</v>"),
        (rb'date1904="\d"', b'date1904="' + claim + b'"'),
        (rb'numFmtId="\d+"', b'numFmtId="' + claim + b'"'),
    ))  # fmt: skip
    return re.sub(pattern, lambda _: new, data, count=rng.choice((1, 1, 0)))


MUTATORS: tuple[Mutator, ...] = (
    _flip, _cut, _double, _lines, _number, _number, _odd, _odd, _all_of_one, _moment, _sign, _nest, _encode,
    _separators, _blank, _long, _splice, _many, _words, _json, _json, inside_of_sheets,
)  # fmt: skip
ACCEPTED: tuple[Mutator, ...] = (_plain, _plain, _plain, _shift, _shift, _thin, _thin, _odd, _lines, _double)
"""Those after which a file is often still read: for whole runs, which are to get far."""


def mutated(data: bytes, kind: str, rng: Random, mutators: tuple[Mutator, ...] = MUTATORS, *, most: int = 3) -> bytes:
    """Return a file after one to `most` mutators, its checksums often made right again."""
    if kind == "sheets" and rng.random() < INSIDE:
        return inside_of_sheets(data, rng)
    for _ in range(min(rng.choice((1, 1, 1, 2, 3)), most)):
        data = rng.choice(mutators)(data, rng)[:MOST_BYTES]
    if rng.random() < 0.6:
        data = {"fit": _with_crc, "nmea": _with_sums}.get(kind, bytes)(data)
    return data


def _with_crc(data: bytes) -> bytes:
    """Return a FIT file with its length and its checksum made right."""
    if len(data) < 16:
        return data
    size = data[0] if data[0] in (12, 14) else 12
    body = data[size:-2]
    head = data[:4] + struct.pack("<I4s", len(body), b".FIT") + (b"\0\0" if size == 14 else b"")
    return head + body + struct.pack("<H", fit_crc(head + body))


def _with_sums(data: bytes) -> bytes:
    """Return an NMEA log with the checksums of its sentences made right."""

    def right(match: re.Match[bytes]) -> bytes:
        return b"$%s*%02X" % (match.group(1), reduce(lambda total, byte: total ^ byte, match.group(1), 0))

    return re.sub(rb"\$([^$*\r\n]{1,300})\*[0-9A-F]{2}", right, data)
