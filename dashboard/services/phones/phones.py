"""What a phone may do: come in with a code, hand in files, see what became of them, and its own debriefs.

Whatever a phone hands in waits in a load of its own until the coach has looked it over; nothing goes into a drill by
itself.
"""

import contextlib
import datetime as dt
import hmac
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.model.people import Person
from analyzer.model.result import RunResult
from analyzer.workspace.intake.model import TRACK, Basket, IncomingFile
from analyzer.workspace.people.changes import add_person
from analyzer.workspace.people.people_toml import read_people
from dashboard.services.intake import DONE, Intake
from dashboard.services.phones.codes import Codes, Limit, plain_code
from dashboard.services.phones.devices import (
    MOST_DEVICES,
    Device,
    Devices,
    HandedIn,
    change_devices,
    living,
    new_device,
    read_devices,
    token_hash,
)
from dashboard.services.results import RunMissingError, Service
from dashboard.view_models.run_form import YES

MOST_NAME = 60
MOST_FILES, MOST_BYTES = 60, 200_000_000
"""Of one phone. Our choice: a day has ten runs of three files, and a day's recording as text some 12 MB."""
HAND_IN_BYTES = 40_000_000
"""Of one form; our choice, three times a day's recording."""
CODE_TRIES = 60
FILE_TRIES = 30
PER_S = 60.0
LINE = 300
SLOW_DOWN = "wait a minute, then try again"
WAITS, MEASURED, REFUSED, LEFT_OUT = "waits", "measured", "refused", "left out"


@dataclass(frozen=True, slots=True)
class Sent:
    """A file as a phone sends it."""

    name: str
    size: int
    chunks: Iterable[bytes]


@dataclass(frozen=True, slots=True)
class OwnFile:
    """A file that a phone handed in, and what became of it. `run`: drill and run of a debrief that can be opened."""

    name: str
    state: str
    line: str
    at_s: float
    run: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Phones:
    """The phones of one dashboard. `address`: where they reach it, empty where it is not open to any.

    `clock`: seconds since 1970.
    """

    workspace: Path
    intake: Intake
    service: Service
    address: str = ""
    codes: Codes = field(default_factory=Codes)
    code_tries: Limit = field(default_factory=lambda: Limit(CODE_TRIES, PER_S))
    file_tries: Limit = field(default_factory=lambda: Limit(FILE_TRIES, PER_S))

    def code(self) -> str:
        """Return the code that lets the next phone in."""
        return self.codes.current(time.time())

    def join(self, code: str, name: str, *, agreed: bool, named: bool = False, guardian: bool = False) -> str:
        """Let a phone in and return the token that it holds from now on; the code counts no more.

        Raises
        ------
        InputError
            Where the name or the consent is missing, the code does not count, or there are too many phones.
        """
        now_s = time.time()
        shown = " ".join(name.split())
        if not shown or len(shown) > MOST_NAME or not shown.isprintable():
            what = (
                "the name is missing"
                if not shown
                else f"it has more than {MOST_NAME} letters, or signs that do not show"
            )
            raise InputError(where="name", what=what, do="write the name under which the coach knows you")
        if not agreed:
            raise InputError(
                where="consent", what="you did not agree that your track is kept", do="tick the box, or hand in nothing"
            )
        if not self.code_tries.allows("all", now_s):
            raise InputError(where="code", what="too many codes were tried", do=SLOW_DOWN)
        devices = living(read_devices(self.workspace), now_s)
        if len(devices) >= MOST_DEVICES:
            raise InputError(
                where="phones", what=f"{MOST_DEVICES} are let in already", do="ask the coach to take some back"
            )
        if not self.codes.use(code, now_s):
            what = "it was used already, is too old, or was never shown" if plain_code(code) else "it is missing"
            raise InputError(where="code", what=what, do="take the one that the coach's screen shows now")
        device, token = new_device(shown, now_s, named=named, guardian=guardian)
        change_devices(self.workspace, lambda all_: Devices((*living(all_, now_s), device)))
        return token

    def device(self, token: str) -> Device | None:
        """Return the phone that holds a token, None where none that is let in does."""
        if not token:
            return None
        digest = token_hash(token)
        known = living(read_devices(self.workspace), time.time())
        return next((d for d in known if hmac.compare_digest(d.token_sha256, digest)), None)

    def devices(self) -> tuple[Device, ...]:
        """Return all phones that are let in, the last one first; for the coach alone."""
        return living(read_devices(self.workspace), time.time())[::-1]

    def take_back(self, device_id: str) -> None:
        """Let a phone in no more. What it handed in is kept."""
        change_devices(self.workspace, lambda all_: Devices(tuple(d for d in all_.devices if d.id != device_id)))

    def add_to_people(self, device_id: str) -> Person:
        """Put the owner of a phone into people.toml, with what they agreed to, and return the person.

        Raises
        ------
        InputError
            Where the phone is not let in (any more), somebody has the name already, or the file cannot be used.
        """
        device = next((d for d in self.devices() if d.id == device_id), None)
        if device is None:
            raise InputError(where="phones", what="this phone is let in no more", do="look at the list again")
        when = dt.datetime.fromtimestamp(device.since_s, tz=dt.UTC).astimezone().date()
        agreed = "agreed on their phone; a guardian too" if device.guardian else "agreed on their phone"
        person = Person(device.name, consent=device.named, consent_date=when, note=agreed)
        return add_person(self.workspace, person)

    def hand_in(self, device: Device, files: Sequence[Sent]) -> tuple[HandedIn, ...]:
        """Take the files of one form from a phone into a load of its own, where they wait for the coach together.

        Raises
        ------
        InputError
            Where the phone sent too much or too often; what is wrong with a file itself is in its line.
        """
        now_s = time.time()
        held = sum(h.size for h in device.handed) + sum(file.size for file in files)
        if len(device.handed) + len(files) > MOST_FILES or held > MOST_BYTES:
            limit = f"{MOST_FILES} files or {MOST_BYTES // 1_000_000} MB"
            raise InputError(where="files", what=f"one phone may send {limit}", do="give the rest to the coach")
        if not all(self.file_tries.allows(device.id, now_s) for _ in files):
            raise InputError(where="files", what=f"more than {FILE_TRIES} came in a minute", do=SLOW_DOWN)
        batch = self.intake.new_token()
        handed = tuple(self._taken(HandedIn(file.name[:MOST_NAME], now_s, file.size, batch), file) for file in files)
        self.intake.propose(batch, self._proposed(device, handed))
        change_devices(self.workspace, lambda all_: _with(all_, device.id, handed))
        return handed

    def _proposed(self, device: Device, handed: Sequence[HandedIn]) -> dict[str, str]:
        """Return what the fields of the runs hold before the coach has looked: the name, and what was agreed to."""
        try:
            person = read_people(self.workspace).find(device.name)
        except AnalyzerError:
            person = None  # its own page tells what is wrong with people.toml
        named = {"new_searcher": device.name} if person is None else {"searcher": person.name}
        agreed = {"consent": YES} if device.named else {}
        tracks = [f.id for f in self._files(handed[0]) if f.kind == TRACK] if handed else []
        return {f"{key}-{track}": value for track in tracks for key, value in (named | agreed).items()}

    def _taken(self, handed: HandedIn, file: Sent) -> HandedIn:
        """Take one file, and note which files of the load came out of it."""
        before = {f.id for f in self._files(handed)}
        try:
            self.intake.take(handed.batch, file.name, file.size, file.chunks)
        except InputError as error:
            return replace(handed, line=str(error)[:LINE])
        mine = [f for f in self._files(handed) if f.id not in before]
        refused = "" if any(f.waits for f in mine) else next((f.problem for f in mine if f.problem), "")
        return replace(handed, sha256=tuple(f.sha256 for f in mine), line=refused[:LINE])

    def own_files(self, device: Device) -> tuple[OwnFile, ...]:
        """Return what became of the files of a phone, the last first."""
        return tuple(file for handed in reversed(device.handed) for file in self._own(handed))

    def result(self, device: Device, drill: str, run: str) -> RunResult | None:
        """Return a result that a phone may see: of a run whose track it handed in; else None.

        Raises
        ------
        AnalyzerError
            Where the result cannot be used.
        """
        if (drill, run) not in {file.run for file in self.own_files(device)}:
            return None
        with contextlib.suppress(RunMissingError):
            return self.service.result(drill, run)
        return None

    def _own(self, handed: HandedIn) -> list[OwnFile]:
        basket = self._basket(handed)
        if handed.line or basket is None:
            return [OwnFile(handed.name, REFUSED, handed.line or "it is not here any more", handed.at_s)]
        files = []
        for file in (f for f in basket.files if f.sha256 in handed.sha256):
            if file.problem:
                files.append(OwnFile(file.name, REFUSED, file.problem, handed.at_s))
            elif file.placed and file.kind == TRACK:
                files.append(self._placed(file, handed.at_s))
            elif not file.placed:
                waits = basket.state != DONE
                line = "the coach looks it over" if waits else "the coach left it out"
                files.append(OwnFile(file.name, WAITS if waits else LEFT_OUT, line, handed.at_s))
        return files

    def _placed(self, file: IncomingFile, at_s: float) -> OwnFile:
        """Return what became of a track that is part of a run; a run of the same name with another track is not it."""
        drill, _, run = file.placed.partition("/")
        with contextlib.suppress(RunMissingError, AnalyzerError):
            if any(item.sha256 == file.sha256 for item in self.service.result(drill, run).inputs):
                return OwnFile(file.name, MEASURED, "", at_s, (drill, run))
        return OwnFile(file.name, WAITS, "it is being measured, or could not be: ask the coach", at_s)

    def _files(self, handed: HandedIn) -> tuple[IncomingFile, ...]:
        basket = self._basket(handed)
        return basket.files if basket is not None else ()

    def _basket(self, handed: HandedIn) -> Basket | None:
        try:
            return self.intake.basket(handed.batch) if handed.batch else None
        except AnalyzerError:
            return None


def _with(devices: Devices, device_id: str, handed: tuple[HandedIn, ...]) -> Devices:
    return Devices(tuple(replace(d, handed=(*d.handed, *handed)) if d.id == device_id else d for d in devices.devices))
