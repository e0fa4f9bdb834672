"""Rule sheets of a dashboard: which there are, what another one does to the runs of a drill, and saving it.

A preview changes nothing: results on disk stay those of the sheet that they were measured with. Where only points
differ, scores are counted again from the results. Where the reference searcher differs, the drill's runs are measured
again from their files; a new radius also fits their paths again. Fits are kept under a key of the files' content.
"""

import functools
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from analyzer.api import read_drill
from analyzer.engine.pipeline import analyze_paths, fuse_runs
from analyzer.engine.verdict.rescore import rescore
from analyzer.errors import AnalyzerError, InputError
from analyzer.files.rules_toml import default_rules, default_rules_bytes, parse_rules_toml, read_rules_toml
from analyzer.files.source import read_bytes, write_new
from analyzer.files.writers import write_rules_toml
from analyzer.model.drill import Drill
from analyzer.model.path import FusedPath
from analyzer.model.recording import Recording
from analyzer.model.result import RunResult
from analyzer.model.rules import Rules
from analyzer.workspace.drill_key import drill_key
from analyzer.workspace.intake.store import drill_paths
from analyzer.workspace.lock import locked
from analyzer.workspace.unforeseen import unforeseen_line
from dashboard.services.results import Service
from dashboard.view_models.entries import BUILT_IN, PreviewRow, SheetEntry
from dashboard.view_models.rule_form import same_searcher

KEPT = 4
SAVING = ".saving-lock"
"""Held while a new sheet is compared with those there are and then written."""


@dataclass(frozen=True, slots=True)
class Sheets:
    """The rule sheets in a folder, beside the one that comes with the program.

    `drills`: drill folders at hand, beside those that the workspace has at any time.
    """

    service: Service
    drills: tuple[Path, ...] = ()
    folder: Path | None = None
    workspace: Path | None = None

    def entries(self) -> tuple[SheetEntry, ...]:
        """Return all sheets, the built-in one first; a file that cannot be used says why."""
        rules = default_rules()
        found = [SheetEntry(rules.name, rules.version, rules.sha256, BUILT_IN)]
        return (*found, *(_entry(path) for path in self._files()))

    def entry(self, sha256: str) -> SheetEntry | None:
        """Return the sheet with a hash, or with the beginning of one of at least 8 digits; None where there is none."""
        return next((e for e in self.entries() if len(sha256) >= 8 and e.sha256.startswith(sha256)), None)

    def known(self, sha256: str) -> SheetEntry:
        """Return the sheet with a hash.

        Raises
        ------
        InputError
            Where there is none.
        """
        entry = self.entry(sha256)
        if entry is None:
            raise InputError(where="rule sheet", what="there is no sheet with this hash here", do="choose another one")
        return entry

    def content(self, entry: SheetEntry) -> bytes:
        """Return the bytes of a sheet."""
        if entry.place == BUILT_IN or self.folder is None:
            return default_rules_bytes()
        return read_bytes(self.folder / entry.place)

    def rules(self, entry: SheetEntry) -> Rules:
        """Return the rules of a sheet."""
        return parse_rules_toml(self.content(entry), name=entry.place)

    def _files(self) -> list[Path]:
        return sorted(self.folder.glob("*.toml")) if self.folder is not None and self.folder.is_dir() else []

    def needs_measuring(self, drill: str, rules: Rules) -> bool:
        """Return whether a sheet has another reference searcher than the results of a drill."""
        return not all(same_searcher(rules, result.rules) for result in self._results(drill))

    def by_points(self, drill: str, rules: Rules) -> tuple[PreviewRow, ...]:
        """Return the scores of a drill's runs under another sheet with the same reference searcher."""
        return tuple(PreviewRow(r.run_id, r.searcher, r.scores, rescore(r, rules)) for r in self._results(drill))

    def by_measuring(self, drill: str, rules: Rules) -> tuple[PreviewRow, ...]:
        """Return the scores of a drill's runs measured again with another reference searcher; nothing is written.

        Raises
        ------
        InputError
            Where the drill's own files are not at hand, or cannot be read.
        """
        own = drill_paths(self.workspace) if self.workspace is not None else {}
        folder = next((path for path in (*own.values(), *self.drills) if path.resolve().name == drill), None)
        if folder is None:
            raise InputError(
                where=f"drill {drill}",
                what="its tracks are not at hand: only results were opened",
                do="open the folder with the drills (searchwake serve WORKSPACE) to preview paces and radii",
            )
        key = drill_key(folder, settings=())
        fitted = _fitted(str(folder), key, rules.fine_radius_m)
        again = {
            r.run_id: r
            for r in analyze_paths(fitted.paths, fitted.drill, fitted.recordings, rules)
            if isinstance(r, RunResult)
        }
        why = "it could not be measured again"
        return tuple(
            PreviewRow(
                r.run_id,
                r.searcher,
                r.scores,
                again[r.run_id].scores if r.run_id in again else None,
                "" if r.run_id in again else why,
            )
            for r in self._results(drill)
        )

    def _results(self, drill: str) -> list[RunResult]:
        entry = next((d for d in self.service.drills() if d.key == drill), None)
        runs = [] if entry is None else [run.run for run in entry.runs if run.problem is None]
        return [self.service.result(drill, run) for run in runs]

    def save(self, rules: Rules) -> SheetEntry:
        """Save a sheet under its name and version, never over another one, and return it.

        Raises
        ------
        InputError
            Where it has no name or version, has been saved with other content, or the folder cannot be written to.
        """
        data = write_rules_toml(checked(rules))
        if self.folder is None:
            raise InputError(where="rule sheet", what="there is no folder for sheets here", do="download it instead")
        try:
            with locked(self.folder / SAVING):  # the sheets that are compared are all there are until it is written
                return self._save(self.folder, rules, data)
        except OSError as error:
            raise _unwritten(error) from None

    def take(self, data: bytes) -> SheetEntry:
        """Put a sheet that came from elsewhere among them, byte for byte, and return it; one that is there stays.

        Raises
        ------
        FileError, InputError
            Where it is no rule sheet, or the folder cannot be written to.
        """
        rules = parse_rules_toml(data, name="rule sheet")
        there = self.entry(rules.sha256)
        if there is not None:
            return there
        if self.folder is None:
            raise InputError(
                where="rule sheet", what="there is no folder for sheets here", do="keep a copy of it first"
            )
        path = self.folder / f"{_plain(rules.name)}-{_plain(rules.version)}-{rules.sha256[:8]}.toml"
        try:
            with locked(self.folder / SAVING):
                write_new(path, data)
        except OSError as error:
            raise _unwritten(error) from None
        return _entry(path)

    def _save(self, folder: Path, rules: Rules, data: bytes) -> SheetEntry:
        for entry in self.entries():
            if (entry.name, entry.version) == (rules.name, rules.version):
                if entry.sha256 == parse_rules_toml(data).sha256:
                    return entry
                raise InputError(
                    where="rule sheet",
                    what=f"version {rules.version} of {rules.name!r} exists with other content",
                    do="give it another version: a saved sheet is never changed; the fields are still here",
                )
        path = folder / f"{_plain(rules.name)}-{_plain(rules.version)}.toml"
        write_new(path, data)
        return _entry(path)


def checked(rules: Rules) -> Rules:
    """Return the rules as they are read from a file, with the hash of that file.

    Raises
    ------
    InputError
        Where a number is out of its range, or the name or version is missing.
    """
    for key in ("name", "version"):
        if not getattr(rules, key):
            raise InputError(where="rule sheet", what=f"it has no {key}", do=f"give it a {key}")
    return parse_rules_toml(write_rules_toml(rules), name="rule sheet")


def _unwritten(error: OSError) -> InputError:
    return InputError(
        where="rule sheet",
        what=f"it cannot be written ({error.strerror})",
        do="make room, or allow writing to the folder; nothing was changed, the fields are still here",
    )


def _plain(text: str) -> str:
    """Return a name for a file: letters, digits and dashes."""
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9.]+", "-", letters).strip("-.")[:60] or "sheet"


def _entry(path: Path) -> SheetEntry:
    try:
        rules = read_rules_toml(path)
    except AnalyzerError as error:
        return SheetEntry(path.stem, "", "", path.name, str(error))
    except Exception as error:
        return SheetEntry(path.stem, "", "", path.name, unforeseen_line(path.name, "reading", error))
    return SheetEntry(rules.name, rules.version, rules.sha256, path.name)


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    drill: Drill
    recordings: tuple[Recording, ...]
    paths: tuple[FusedPath | AnalyzerError, ...]


@functools.lru_cache(maxsize=KEPT)
def _fitted(folder: str, key: str, fine_radius_m: float) -> _Fitted:
    """Return the fitted paths of a drill; `key`, of its files' content, is there for the memory only."""
    del key
    drill, runs = read_drill(folder)
    recordings = tuple(run for run in runs if isinstance(run, Recording))
    return _Fitted(drill, recordings, tuple(fuse_runs(drill, recordings, fine_radius_m=fine_radius_m)))
