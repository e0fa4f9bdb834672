"""The rule sheet in force for a drill: which one, and another one put in its place, with the runs measured at once."""

from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError
from analyzer.files.names import SHEET_FILE
from analyzer.files.rules_toml import default_rules
from analyzer.files.source import read_bytes, regular_bytes, sha256_hex
from analyzer.workspace.moved import latest_moves, move_words
from analyzer.workspace.runs.at_hand import drill_at_hand
from analyzer.workspace.sheet_in_force import put_in_force, rules_in_force
from dashboard.services.measuring import Measuring
from dashboard.services.rules import Sheets
from dashboard.view_models.entries import SheetEntry

OWN_FILE = f"{SHEET_FILE} in the drill's folder"


@dataclass(frozen=True, slots=True)
class SheetsInForce:
    """Which rule sheets are in force in one workspace."""

    workspace: Path
    sheets: Sheets
    measuring: Measuring

    def of(self, drill: str) -> SheetEntry:
        """Return the sheet in force for a drill; one that cannot be used says why."""
        folder = next((f for f in self.measuring.intake.folders() if f.resolve().name == drill), None)
        try:
            rules = default_rules() if folder is None else rules_in_force(folder)
        except AnalyzerError as error:
            there = b"" if folder is None else regular_bytes(folder / SHEET_FILE) or b""
            return SheetEntry(SHEET_FILE, "", sha256_hex(there), OWN_FILE, str(error))
        known = self.sheets.entry(rules.sha256)
        return known or SheetEntry(rules.name, rules.version, rules.sha256, OWN_FILE)

    def put(self, drill: str, sha256: str, *, seen: str) -> tuple[SheetEntry, SheetEntry]:
        """Put a sheet in force for a drill and have its runs measured; return the sheet before and the one now.

        `seen`: hash of the sheet that was in force when the person began. A sheet that was in force and is not among
        the sheets is put among them first, so that it can be put back.

        Raises
        ------
        AnalyzerError
            Where there is no such sheet, or as `put_in_force`; nothing is changed then.
        """
        before, now = self.of(drill), self.sheets.known(sha256)
        if before.place == OWN_FILE and not before.problem:
            folder = drill_at_hand(self.workspace, drill)[0]
            before = self.sheets.take(read_bytes(folder / SHEET_FILE))
        put_in_force(self.workspace, drill, self.sheets.content(now), seen=seen)
        self.measuring.start(drill)
        return before, now

    def moved(self, drill: str) -> tuple[str, tuple[str, ...]]:
        """Return when a drill was last measured anew, ISO 8601, and a line per run on what moved; "" where never."""
        at, moves = latest_moves(self.sheets.service.results, drill)
        return at, tuple(map(move_words, moves))
