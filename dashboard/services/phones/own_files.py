"""What became of the files that a phone handed in, as its owner and the coach see it."""

import contextlib
from dataclasses import dataclass

from analyzer.errors import AnalyzerError
from analyzer.workspace.intake.model import TRACK, Basket, IncomingFile
from dashboard.services.intake import DONE, Intake
from dashboard.services.phones.devices import Device, HandedIn
from dashboard.services.results import RunMissingError, Service

LINE = 300
WAITS, MEASURED, REFUSED, LEFT_OUT = "waits", "measured", "refused", "left out"


@dataclass(frozen=True, slots=True)
class OwnFile:
    """A file that a phone handed in, and what became of it. `run`: drill and run of a debrief that can be opened.

    `batch`: the load in which it waits to be looked over, empty where it does not.
    """

    name: str
    state: str
    line: str
    at_s: float
    run: tuple[str, str] | None = None
    batch: str = ""


def files_of(intake: Intake, service: Service, device: Device) -> tuple[OwnFile, ...]:
    """Return what became of the files of a phone, the last first."""
    return tuple(file for handed in reversed(device.handed) for file in _files(intake, service, handed))


def looked_over(intake: Intake, device: Device) -> bool:
    """Return whether nothing that a phone handed in waits for the coach any more."""
    baskets = [basket_of(intake, handed) for handed in device.handed]
    return not any(b is not None and b.state != DONE and any(f.waits for f in b.files) for b in baskets)


def basket_of(intake: Intake, handed: HandedIn) -> Basket | None:
    """Return the load that a file came into, None where it is gone or cannot be read."""
    try:
        return intake.basket(handed.batch) if handed.batch else None
    except AnalyzerError:
        return None


def _files(intake: Intake, service: Service, handed: HandedIn) -> list[OwnFile]:
    basket = basket_of(intake, handed)
    if basket is None:
        return [OwnFile(handed.name, REFUSED, handed.line or "it is not here any more", handed.at_s)]
    files = []
    for file in (f for f in basket.files if f.sha256 in handed.sha256):
        if file.problem:
            files.append(OwnFile(file.name, REFUSED, file.problem, handed.at_s))
        elif file.placed and file.kind == TRACK:
            files.append(_placed(service, file, handed.at_s))
        elif not file.placed:
            waits = basket.state != DONE
            line = "the coach looks it over" if waits else "the coach left it out"
            batch = basket.token if waits else ""
            files.append(OwnFile(file.name, WAITS if waits else LEFT_OUT, line, handed.at_s, batch=batch))
    told = {file.line[:LINE] for file in files}
    refused = [OwnFile(handed.name, REFUSED, handed.line, handed.at_s)] if handed.line not in ("", *told) else []
    return [*refused, *files]


def _placed(service: Service, file: IncomingFile, at_s: float) -> OwnFile:
    """Return what became of a track that is part of a run; a run of the same name with another track is not it."""
    drill, _, run = file.placed.partition("/")
    with contextlib.suppress(RunMissingError, AnalyzerError):
        if any(item.sha256 == file.sha256 for item in service.result(drill, run).inputs):
            return OwnFile(file.name, MEASURED, "", at_s, (drill, run))
    return OwnFile(file.name, WAITS, "it is being measured, or could not be: ask the coach", at_s)
