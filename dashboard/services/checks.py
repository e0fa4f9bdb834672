"""The door from the page of the checks before a drill to checks.toml."""

from collections.abc import Mapping
from dataclasses import dataclass

from analyzer.errors import AnalyzerError, FileError
from analyzer.files.checks_toml import parse_checks_toml, write_checks_toml
from analyzer.files.names import CHECKS_FILE
from analyzer.files.source import read_bytes, sha256_hex
from analyzer.model.checks import DrillCheck
from analyzer.workspace.runs.at_hand import drill_at_hand
from analyzer.workspace.runs.drill_files import change_drill_file
from dashboard.services.runs import Runs, Said
from dashboard.view_models.checks import checks_of


@dataclass(frozen=True, slots=True)
class ChecksView:
    """The checks of a drill as they are now. `seen`: SHA-256 of the file, "" where there is none. `problem`: a line."""

    drill: str
    name: str
    checks: tuple[DrillCheck, ...]
    seen: str
    receivers: tuple[str, ...] = ()
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Checks:
    """The checks before the drills of one dashboard's workspace."""

    runs: Runs

    def view(self, drill: str) -> ChecksView:
        """Return the checks of a drill.

        Raises
        ------
        AnalyzerError
            Where the workspace has no such drill, or its file cannot be used.
        """
        folder, found = drill_at_hand(self.runs.workspace, drill)
        path = folder / CHECKS_FILE
        names = tuple(one.name for one in found.receivers)
        if not path.is_file():
            return ChecksView(drill, found.name, (), "", names)
        data = read_bytes(path)
        try:
            return ChecksView(drill, found.name, parse_checks_toml(data), sha256_hex(data), names)
        except AnalyzerError as error:
            return ChecksView(drill, found.name, (), sha256_hex(data), names, str(error))

    def save(self, drill: str, values: Mapping[str, str]) -> Said:
        """Write the checks of a form; the file as it was goes into the bin."""
        try:
            view = self.view(drill)
            checks, faults = checks_of(values)
            if view.problem:
                faults.append(f"{view.problem}. Mend the file by hand first: what it says would be lost.")
            if faults:
                return Said(faults=tuple(faults), words=values)
            data = write_checks_toml(checks)
            parse_checks_toml(data)
            entry = change_drill_file(
                self.runs.workspace, drill, CHECKS_FILE, lambda _: data, seen=values.get("seen", ""), what=CHECKS_FILE
            )
        except FileError as error:
            return Said(faults=tuple(f"{p.where}: {p.what}; {p.do}" for p in error.problems), words=values)
        except AnalyzerError as error:
            return Said(faults=(str(error),), words=values)
        return Said("Saved: the checks before the drill." if entry else "Nothing was changed.", entry=entry)
