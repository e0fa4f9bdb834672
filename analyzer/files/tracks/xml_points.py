"""A safe first pass over GPX and TCX: refuses what can attack a parser, and keeps each point's text and line.

Entities are the one way in which a small XML file grows or reaches outside itself, and they need a DOCTYPE; no GPX
or TCX writer needs one, so it is refused before any other parser sees the bytes.
"""

from dataclasses import dataclass, field
from xml.parsers import expat

from analyzer.errors import InputError, quoted
from analyzer.files.tracks.fixes import too_many_points

MAX_POINTS = 500_000
MAX_DEPTH = 64


@dataclass(slots=True)
class PointText:
    """One point as text. `fields`: child elements by local name; `deep`: elements further down likewise."""

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


def scan_points(data: bytes, *, name: str, point: str, group: str) -> Scan:
    """Return the text of all `point` elements of an XML file, numbered by their enclosing `group` element.

    Raises
    ------
    InputError
        Where the XML is broken, declares a document type or entities, nests too deep, or has too many points.
    """
    handler = _Handler(name=name, point=point, group=group)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = handler.refuse
    parser.EntityDeclHandler = handler.refuse
    parser.ExternalEntityRefHandler = handler.refuse
    parser.StartElementHandler = lambda tag, attributes: handler.start(tag, attributes, parser.CurrentLineNumber)
    parser.EndElementHandler = handler.end
    parser.CharacterDataHandler = handler.text
    try:
        parser.Parse(data, True)
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
    return handler.scan


class _Handler:
    """Expat call-backs; the one changeable object of this module, never seen outside it."""

    def __init__(self, *, name: str, point: str, group: str) -> None:
        self.scan = Scan()
        self._name, self._point, self._group = name, point, group
        self._depth = 0
        self._open: PointText | None = None
        self._open_depth = 0
        self._parts: list[str] = []

    def refuse(self, *_: object) -> int:
        raise InputError(
            where=self._name,
            what="the XML declares a document type or an entity, which is not read",
            do="export the file again; no recorder needs a DOCTYPE",
        )

    def start(self, tag: str, attributes: dict[str, str], line: int) -> None:
        self._depth += 1
        if self._depth > MAX_DEPTH:
            raise InputError(
                where=f"{self._name}, line {line}",
                what=f"elements are nested over {MAX_DEPTH} deep",
                do="export the file again",
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
            self._open = PointText(line=line, group=self.scan.groups, attributes=dict(attributes))
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
        if "_" in text:  # Python reads 1_000 as a number; no recorder writes it
            raise ValueError(text)
        return float(text)
    except ValueError:
        raise InputError(
            where=where, what=f"{what} {quoted(text)} is not a number", do="mend or remove the point"
        ) from None
