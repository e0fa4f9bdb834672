"""The door from the page Range check to its engine, and to the drill.toml that a receiver is written into."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from analyzer.engine.range_check import check_range
from analyzer.errors import AnalyzerError, FileError, InputError, quoted
from analyzer.files.drill_toml import SCALE_HIGH, SCALE_LOW
from analyzer.files.names import DRILL_FILE
from analyzer.files.range_check_csv import looks_of, number_of, parse_range_csv
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.model.drill import Receiver
from analyzer.model.figure import Figure
from analyzer.model.range_check import RangeCheck, RangeSetup
from analyzer.workspace.runs.at_hand import drill_at_hand
from analyzer.workspace.runs.drill_files import put_receiver
from dashboard.services.runs import Runs, Said
from dashboard.view_models.range_check import LONGEST_NAME, fields_of, rows_of

MOST_TABLE_BYTES = 200_000
HIGHEST_M = 3.0
MOST_SIGMA = 0.5
"""The largest that drill.toml takes."""


@dataclass(frozen=True, slots=True)
class RangeChecks:
    """Range checks of one dashboard's workspace."""

    runs: Runs

    def answer(self, values: Mapping[str, str]) -> tuple[RangeCheck | None, tuple[str, ...]]:
        """Return what typed looks tell, or None and a line for each thing that is wrong."""
        try:
            setup = RangeSetup(
                number_of(values.get("transmitter_height_m", ""), "Transmitter above the snow", HIGHEST_M, zero=True),
                number_of(values.get("receiver_height_m", ""), "Receiver above the snow", HIGHEST_M, zero=True),
                int(values.get("antennas", "3") if values.get("antennas") in ("1", "2", "3") else 3),
            )
            return check_range(looks_of(rows_of(values), name="looks"), setup), ()
        except FileError as error:
            return None, tuple(f"{p.where}: {p.what}; {p.do}" for p in error.problems)
        except AnalyzerError as error:
            return None, (str(error),)

    def loaded(self, values: Mapping[str, str], name: str, data: Iterable[bytes]) -> Said:
        """Return the form with the looks of a table in place of those typed; where it is refused, with those typed."""
        content = b""
        for chunk in data:
            content += chunk
            if len(content) > MOST_TABLE_BYTES:
                return Said(faults=(f"{name}: the table is larger than {MOST_TABLE_BYTES // 1000} kB",), words=values)
        try:
            looks = parse_range_csv(content, name=name)
        except FileError as error:
            return Said(faults=tuple(f"{p.where}: {p.what}; {p.do}" for p in error.problems), words=values)
        except AnalyzerError as error:
            return Said(faults=(str(error),), words=values)
        kept = {key: value for key, value in values.items() if "." not in key}
        return Said(f"{len(looks)} looks taken from {name}.", words=kept | fields_of(looks))

    def seen(self, drill: str) -> str:
        """Return the SHA-256 of a drill's drill.toml as it is now, "" where there is none."""
        try:
            return sha256_hex(read_bytes(drill_at_hand(self.runs.workspace, drill)[0] / DRILL_FILE))
        except AnalyzerError:
            return ""

    def receivers(self, drill: str) -> tuple[str, ...]:
        """Return the names of a drill's receivers."""
        try:
            return tuple(one.name for one in drill_at_hand(self.runs.workspace, drill)[1].receivers)
        except AnalyzerError:
            return ()

    def use(self, values: Mapping[str, str]) -> Said:
        """Write what typed looks tell into a drill as a receiver, and have its runs measured."""
        try:
            drill, name = values.get("drill", ""), " ".join(values.get("receiver", "").split())
            check, faults = self.answer(values)
            if check is None:
                return Said(faults=faults, words=values)
            receiver = self._receiver(check, name)
            if not drill:
                raise InputError(where="Drill", what="no drill was chosen", do="choose the drill to use it in")
            if name in self.receivers(drill) and values.get("replace") != "yes":
                what = f"{drill} has a receiver {quoted(name)} already"
                raise InputError(where="Receiver", what=what, do="give another name, or say that it replaces that one")
            seen = values.get(f"seen.{drill}", "")
            entry = put_receiver(self.runs.workspace, drill, receiver, seen=seen)
        except FileError as error:
            return Said(faults=tuple(f"{p.where}: {p.what}; {p.do}" for p in error.problems), words=values)
        except AnalyzerError as error:
            return Said(faults=(str(error),), words=values)
        if entry:
            self.runs.measuring.start(drill)
        done = f"{name} is a receiver of {drill} now. Runs that name it are measured anew."
        same = f"{drill} says the same of {name} already."
        return Said(done if entry else same, words=values, entry=entry)

    def _receiver(self, check: RangeCheck, name: str) -> Receiver:
        if not name:
            raise InputError(
                where="Receiver", what="it has no name", do="give it one of your own, as runs will write it"
            )
        if len(name) > LONGEST_NAME:
            raise InputError(where="Receiver", what=f"the name is longer than {LONGEST_NAME} signs", do="shorten it")
        scale: float | None = None
        sigma: float | None = None
        if isinstance(check.scale, Figure) and check.scale_sigma is not None:
            if not SCALE_LOW < check.scale.value < SCALE_HIGH:
                do = "do not search with it; check the distances, the heights and the transmitter"
                raise InputError(where="Scale", what=f"it is {check.scale.value:.2f}", do=do)
            scale, sigma = round(check.scale.value, 4), min(round(check.scale_sigma, 4), MOST_SIGMA)
        elif check.strip_width_m is None:
            raise InputError(where="Receiver", what="neither scale nor range is assessable", do="walk it again")
        width = None if check.strip_width_m is None else float(min(max(check.strip_width_m, 1), 200))
        return Receiver(name, scale, sigma, width)
