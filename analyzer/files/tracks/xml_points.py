"""A safe first pass over GPX and TCX: refuses what can attack a parser, and keeps each point's text and line.

Entities are the one way in which a small XML file grows or reaches outside itself, and they need a DOCTYPE; no GPX
or TCX writer needs one, so it is refused before any other parser sees the bytes.
"""

from dataclasses import dataclass, field
from xml.parsers import expat

from analyzer.errors import InputError, quoted
from analyzer.files.numbers import number_in
from analyzer.files.tracks.fixes import too_many_points

MAX_POINTS = 100_000
"""Our own choice, because a whole day at one fix per second has 86,400, and so many are read in four seconds."""
MAX_DEPTH = 64
MAX_PART_BYTES = 65_536
"""From one < to the next: a tag with its attributes, or a text; our own choice, because notes are a few lines. The
parser keeps a tag whole, with all attributes, before anybody can look at it."""
MAX_NAMES = 10_000
"""Different names of elements and attributes, each kept by the parser; our own choice: real files have dozens."""
MAX_ELEMENTS = 1_000_000
"""Our own choice, because a point has ten elements at most; the tree that is built of them takes 200 bytes for each."""
MAX_FIELDS = 64
"""Elements in a point; our own choice, because sensors write a dozen."""
NEW_LINE = b"\n"
_POSITION = ("lat", "lon")


@dataclass(slots=True)
class PointText:
    """One point as text. `attributes`: its position. `fields`: child elements by local name; `deep`: elements further
    down likewise."""

    line: int
    group: int
    attributes: dict[str, str]
    fields: dict[str, str] = field(default_factory=dict)
    deep: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Scan:
    """What the pass saw. `root`: name of the outermost element as written, with its prefix. `names`: other elements."""

    root: str = ""
    groups: int = 0
    points: list[PointText] = field(default_factory=list)
    elements: set[str] = field(default_factory=set)


STEP_BYTES = 4096
"""The outermost element stands within the first of so many bytes, or after long comments in a later one."""


def scan_points(data: bytes, *, name: str, point: str, group: str) -> Scan:
    """Return the text of all `point` elements of an XML file, numbered by their enclosing `group` element.

    Raises
    ------
    InputError
        Where the XML is broken, declares a document type or entities, nests too deep, or has too many points, names or
        elements, or too much in one.
    """
    _check_parts(data, name)
    handler = _Handler(name=name, point=point, group=group)
    _feed(_parser(handler), data, name, last=True)
    return handler.scan


def root_of(data: bytes, *, name: str) -> str:
    """Return the name of the outermost element of an XML file; what follows its first tag is looked at no further.

    Raises
    ------
    InputError
        As `scan_points`, for what stands up to there.
    """
    _check_parts(data, name)
    handler = _Handler(name=name, point="", group="")
    parser = _parser(handler)
    for at in range(0, len(data), STEP_BYTES):
        _feed(parser, data[at : at + STEP_BYTES], name, last=at + STEP_BYTES >= len(data))
        if handler.scan.root:
            break
    return handler.scan.root


def _parser(handler: "_Handler") -> expat.XMLParserType:
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = handler.refuse
    parser.EntityDeclHandler = handler.refuse
    parser.ExternalEntityRefHandler = handler.refuse
    names = parser.intern  # every name that the parser has met
    parser.StartElementHandler = lambda tag, attributes: handler.start(
        tag, attributes, parser.CurrentLineNumber, len(names)
    )
    parser.EndElementHandler = handler.end
    parser.CharacterDataHandler = handler.text
    return parser


def _feed(parser: expat.XMLParserType, data: bytes, name: str, *, last: bool) -> None:
    try:
        parser.Parse(data, last)
    except expat.ExpatError as error:
        raise InputError(
            where=f"{name}, line {error.lineno}",
            what=f"the XML is broken or cut off ({expat.errors.messages[error.code]})",
            do="export the file again",
        ) from None
    except (LookupError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(
            where=name, what="the XML declares an encoding that is not known", do="export the file again as UTF-8"
        ) from None


def _check_parts(data: bytes, name: str) -> None:
    """Raise `InputError` where a tag or text is too long. In steps from the last < within reach to the next."""
    at = 0
    while at + MAX_PART_BYTES < len(data):
        found = data.rfind(b"<", at + 1, at + MAX_PART_BYTES)
        if found < 0:
            raise InputError(
                where=f"{name}, line {data.count(NEW_LINE, 0, at) + 1}",
                what=f"one element or text is longer than {MAX_PART_BYTES} bytes",
                do="export the file again; no recorder writes such a one",
            )
        at = found


class _Handler:
    """Expat call-backs; the one changeable object of this module, never seen outside it."""

    def __init__(self, *, name: str, point: str, group: str) -> None:
        self.scan = Scan()
        self._name, self._point, self._group = name, point, group
        self._depth = 0
        self._open: PointText | None = None
        self._open_depth = 0
        self._parts: list[str] = []
        self._elements = 0

    def refuse(self, *_: object) -> int:
        raise InputError(
            where=self._name,
            what="the XML declares a document type or an entity, which is not read",
            do="export the file again; no recorder needs a DOCTYPE",
        )

    def start(self, tag: str, attributes: dict[str, str], line: int, names: int) -> None:
        self._depth += 1
        self._elements += 1
        for what, count, most in (
            ("elements nested in one another", self._depth, MAX_DEPTH),
            ("different names", names, MAX_NAMES),
            ("elements", self._elements, MAX_ELEMENTS),
        ):
            if count > most:
                raise InputError(
                    where=f"{self._name}, line {line}",
                    what=f"there are more than {most} {what}",
                    do="cut the recording to this run and export it again",
                )
        local = tag.rpartition(":")[2]
        self._parts = []
        if not self.scan.root:
            self.scan.root = tag
        if self._open is not None:
            return
        self.scan.elements.add(local)
        if local == self._group:
            self.scan.groups += 1
        elif local == self._point:
            if len(self.scan.points) >= MAX_POINTS:
                raise too_many_points(self._name, MAX_POINTS)
            self._open = PointText(
                line=line,
                group=self.scan.groups,
                attributes={key: attributes[key] for key in _POSITION if key in attributes},
            )
            self._open_depth = self._depth

    def text(self, characters: str) -> None:
        if self._open is not None:
            self._parts.append(characters)

    def end(self, tag: str) -> None:
        if self._open is not None:
            if self._depth == self._open_depth:
                self.scan.points.append(self._open)
                self._open = None
            else:
                kept = self._open.fields if self._depth == self._open_depth + 1 else self._open.deep
                if len(kept) >= MAX_FIELDS:
                    raise InputError(
                        where=f"{self._name}, line {self._open.line}",
                        what=f"the point has more than {MAX_FIELDS} elements",
                        do="export the file again",
                    )
                kept.setdefault(tag.rpartition(":")[2], "".join(self._parts).strip())
        self._parts = []
        self._depth -= 1


def number_of(text: str | None, *, where: str, what: str) -> float:
    """Return a number of an XML text, NaN where the element is absent or empty.

    Raises
    ------
    InputError
        Where the text is not a number; `what` names the field.
    """
    if text is None or not text:
        return float("nan")
    try:
        return number_in(text)
    except ValueError:
        raise InputError(
            where=where, what=f"{what} {quoted(text)} is not a number", do="mend or remove the point"
        ) from None
