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
from analyzer.workspace.intake.archive import Room
from analyzer.workspace.intake.model import TRACK
from analyzer.workspace.people.changes import add_person
from analyzer.workspace.people.people_toml import read_people
from dashboard.services.intake import Intake
from dashboard.services.phones.codes import Codes, Limit, OneAtATime, plain_code
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
from dashboard.services.phones.own_files import LINE, OwnFile, basket_of, files_of, looked_over
from dashboard.services.phones.searchers_files import for_searchers
from dashboard.services.results import RunMissingError, Service
from dashboard.view_models.run_form import YES

MOST_NAME = 60
MOST_FILES, MOST_BYTES = 60, 200_000_000
"""Of one phone. Our choice: a day has ten runs of three files, and a day's recording as text some 12 MB."""
HAND_IN_BYTES = 40_000_000
"""Of one form; our choice, three times a day's recording."""
CODE_TRIES, CODE_TRIES_OF_ONE = 3000, 20
"""Of all, and of one address; our choice: a group of thirty needs two a minute each, and one that guesses keeps nobody
else out."""
FILE_TRIES = 30
DEBRIEF_TRIES = 20
"""Of one phone; our choice: each is 5 MB and an eighth of a second of the processor, which others wait for."""
PER_S = 60.0
SLOW_DOWN = "wait a minute, then try again"


@dataclass(frozen=True, slots=True)
class Sent:
    """A file as a phone sends it."""

    name: str
    size: int
    chunks: Iterable[bytes]


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
    code_tries_of_one: Limit = field(default_factory=lambda: Limit(CODE_TRIES_OF_ONE, PER_S))
    file_tries: Limit = field(default_factory=lambda: Limit(FILE_TRIES, PER_S))
    debrief_tries: Limit = field(default_factory=lambda: Limit(DEBRIEF_TRIES, PER_S))
    forms: OneAtATime = field(default_factory=OneAtATime)

    def code(self) -> str:
        """Return the code that lets the next phone in."""
        return self.codes.current(time.time())

    def join(
        self, code: str, name: str, *, agreed: bool, named: bool = False, guardian: bool = False, source: str = ""
    ) -> str:
        """Let a phone in and return the token that it holds from now on; the code counts no more.

        `source`: the address that asks, of which too many tries are refused by themselves.

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
        if not (self.code_tries_of_one.allows(source, now_s) and self.code_tries.allows("all", now_s)):
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
        change_devices(self.workspace, lambda all_: Devices((*self._kept(all_, now_s), device)))
        return token

    def device(self, token: str) -> Device | None:
        """Return the phone that holds a token, None where none that is let in does."""
        if not token:
            return None
        digest = token_hash(token)
        known = living(read_devices(self.workspace), time.time())
        return next((d for d in known if hmac.compare_digest(d.token_sha256, digest)), None)

    def lets_in(self, token: str) -> bool:
        """Return whether a token is that of a phone; not, where the list of phones cannot be read."""
        try:
            return self.device(token) is not None
        except AnalyzerError:
            return False

    def devices(self) -> tuple[Device, ...]:
        """Return the phones that are let in, and ended ones whose files wait, the last first; for the coach alone."""
        now_s, all_ = time.time(), read_devices(self.workspace)
        inside = {device.id for device in living(all_, now_s)}
        return tuple(replace(d, ended=d.id not in inside) for d in self._kept(all_, now_s)[::-1])

    def _kept(self, all_: Devices, now_s: float) -> tuple[Device, ...]:
        inside = {device.id for device in living(all_, now_s)}
        return tuple(d for d in all_.devices if d.id in inside or not looked_over(self.intake, d))

    def take_back(self, device_id: str) -> None:
        """Let a phone in no more. What it handed in is kept, and the coach finds it until it is looked over."""

        def ended(all_: Devices) -> Devices:
            marked = (replace(d, ended=True, token_sha256="") if d.id == device_id else d for d in all_.devices)
            return Devices(tuple(d for d in marked if d.id != device_id or not looked_over(self.intake, d)))

        change_devices(self.workspace, ended)

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
            Where the phone sent too much or too often, or its last form is still being taken in; what is wrong with a
            file itself is in its line.
        """
        with self.forms.begun(device.id) as free:
            if not free:
                what = "your last form is still being taken in"
                raise InputError(where="files", what=what, do="wait until it is here, then send these")
            now = next(
                (d for d in self.devices() if d.id == device.id), device
            )  # its last form may have come meanwhile
            return self._taken(now, files)

    def _taken(self, device: Device, files: Sequence[Sent]) -> tuple[HandedIn, ...]:
        now_s, batch = time.time(), self.intake.new_token()
        count, size = _held(device.handed)
        if count + len(files) > MOST_FILES or size + sum(file.size for file in files) > MOST_BYTES:
            limit = f"{MOST_FILES} files or {MOST_BYTES // 1_000_000} MB"
            raise InputError(where="files", what=f"one phone may send {limit}", do="give the rest to the coach")
        if not all(self.file_tries.allows(device.id, now_s) for _ in files):
            raise InputError(where="files", what=f"more than {FILE_TRIES} came in a minute", do=SLOW_DOWN)
        handed: tuple[HandedIn, ...] = ()
        for file in files:
            count, size = _held((*device.handed, *handed))
            room = Room(max(MOST_FILES - count, 0), max(MOST_BYTES - size, 0))
            handed += (self._one(HandedIn(file.name[:MOST_NAME], now_s, file.size, batch), file, room),)
        self.intake.propose(batch, self._proposed(device, handed))
        change_devices(self.workspace, lambda all_: _with(all_, device, handed))
        return handed

    def _one(self, handed: HandedIn, file: Sent, room: Room) -> HandedIn:
        """Take one file, and note which files of the load came out of it, and what was refused of it."""
        before = basket_of(self.intake, handed)
        known = {f.id for f in before.files} if before is not None else set()
        told = before.refused if before is not None else ()
        try:
            for_searchers(self.intake).take(handed.batch, file.name, file.size, file.chunks, room)
        except InputError as error:
            return replace(handed, line=str(error)[:LINE])
        basket = basket_of(self.intake, handed)
        mine = [f for f in basket.files if f.id not in known] if basket is not None else []
        lines = [line for line in basket.refused if line not in told] if basket is not None else []
        if not any(f.waits for f in mine):
            lines += [f.problem for f in mine if f.problem]
        size = max(handed.size, sum(f.size for f in mine))
        return replace(handed, size=size, sha256=tuple(f.sha256 for f in mine), line=lines[0][:LINE] if lines else "")

    def _proposed(self, device: Device, handed: Sequence[HandedIn]) -> dict[str, str]:
        """Return what the fields of the runs hold before the coach has looked: the name, and of somebody new what was
        agreed to; what somebody known decided is not changed by who types their name."""
        try:
            person = read_people(self.workspace).find(device.name)
        except AnalyzerError:
            person = None  # its own page tells what is wrong with people.toml
        named = {"new_searcher": device.name} if person is None else {"searcher": person.name}
        agreed = {"consent": YES} if device.named and person is None else {}
        basket = basket_of(self.intake, handed[0]) if handed else None
        tracks = [f.id for f in basket.files if f.kind == TRACK] if basket is not None else []
        return {f"{key}-{track}": value for track in tracks for key, value in (named | agreed).items()}

    def own_files(self, device: Device) -> tuple[OwnFile, ...]:
        """Return what became of the files of a phone, the last first."""
        return files_of(self.intake, self.service, device)

    def result(self, device: Device, drill: str, run: str) -> RunResult | None:
        """Return a result that a phone may see: of a run whose track it handed in; else None.

        Raises
        ------
        AnalyzerError
            Where the result cannot be used, or the phone asks without end.
        """
        if (drill, run) not in {file.run for file in self.own_files(device)}:
            return None
        if not self.debrief_tries.allows(device.id, time.time()):
            raise InputError(where="debrief", what="it was opened too often", do=SLOW_DOWN)
        with contextlib.suppress(RunMissingError):
            return self.service.result(drill, run)
        return None


def _held(handed: Sequence[HandedIn]) -> tuple[int, int]:
    """Return how many files a phone has handed in, those of a zip each counted, and their bytes."""
    return sum(max(1, len(h.sha256)) for h in handed), sum(h.size for h in handed)


def _with(devices: Devices, device: Device, handed: tuple[HandedIn, ...]) -> Devices:
    """Return the phones with what one handed in, which the coach finds even where it was taken back meanwhile."""
    if all(d.id != device.id for d in devices.devices):
        devices = Devices((*devices.devices, replace(device, ended=True, token_sha256="")))
    return Devices(tuple(replace(d, handed=(*d.handed, *handed)) if d.id == device.id else d for d in devices.devices))
