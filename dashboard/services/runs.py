"""The door from the pages to the runs of a workspace: looking one over, changing it, giving it files, and the bin.

What a person typed and what could not be taken is kept for a while under a token, so that a page that is shown again
has all of it; nothing of it is in the workspace's files.
"""

import datetime as dt
import secrets
import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import unquote

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.cut_log import is_cut_out
from analyzer.files.names import RUN_FILE, RUN_WORDS
from analyzer.files.results.result_json import read_result
from analyzer.model.account import Finding
from analyzer.model.recording import words_of
from analyzer.workspace.intake.model import MARKS, READINGS, TRACK, DrillPlace
from analyzer.workspace.intake.originals import read_original
from analyzer.workspace.intake.store import name_in_run
from analyzer.workspace.layout import BIN
from analyzer.workspace.runs.at_hand import RunAtHand, drill_at_hand, file_bytes, run_at_hand, same_log
from analyzer.workspace.runs.bin import Binned as Binned  # the bin's page knows it from here
from analyzer.workspace.runs.bin import binned, binned_one, kept_result
from analyzer.workspace.runs.changes import delete_run, edit_run, move_run, put_evidence
from analyzer.workspace.runs.restore import Restored, restore
from dashboard.services.consent import note_consent
from dashboard.services.intake import Intake
from dashboard.services.measuring import Measuring
from dashboard.services.people import people_of
from dashboard.services.results import RunMissingError, Service
from dashboard.services.staleness import measured_words, stale_words
from dashboard.view_models.coach import ASIDE, gone_lines, with_reasons
from dashboard.view_models.run_form import AS_IT_IS, RunForm, changes_of, filled, form_of, note_faults, several_lines
from dashboard.view_models.what_changed import what_changed

KEPT_SAID = 128
"""Answers that are kept for pages to show; our choice, some megabytes at most."""
MOST_FILES = 10
PARTICULARS, WORDS = "particulars changed", "the coach's words changed"


@dataclass(frozen=True, slots=True)
class Said:
    """What came of something that was asked for. `form`, `words`: what was typed, where it was not taken. `entry`: what
    the bin has of it, "" where nothing was changed."""

    done: str = ""
    faults: tuple[str, ...] = ()
    form: RunForm | None = None
    words: Mapping[str, str] | None = None
    entry: str = ""


@dataclass(frozen=True, slots=True)
class RunView:
    """What the page of a run's particulars shows. `people`: names of those in people.toml, and whether they agreed to
    be named. `receivers`: of the drill. `findings`: of its result, None where there is none. `problems`: lines."""

    at_hand: RunAtHand
    people: tuple[tuple[str, bool], ...]
    receivers: tuple[str, ...]
    drills: tuple[DrillPlace, ...]
    findings: tuple[Finding, ...] | None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Runs:
    """The runs of one dashboard's workspace."""

    workspace: Path
    intake: Intake
    service: Service
    measuring: Measuring
    _said: dict[str, Said] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def view(self, drill: str, run: str) -> RunView:
        """Return a run as it is now.

        Raises
        ------
        InputError
            Where the workspace has no such run, or its drill cannot be read.
        """
        found = run_at_hand(self.workspace, drill, run)
        people, problems = people_of(self.workspace)
        receivers: tuple[str, ...] = ()
        try:
            receivers = tuple(r.name for r in drill_at_hand(self.workspace, drill)[1].receivers)
        except AnalyzerError as error:
            problems = (*problems, str(error))
        findings = None
        try:
            result = self.service.result(drill, run)
            findings = (*result.findings, *result.possible)
        except RunMissingError:
            pass
        except AnalyzerError as error:
            problems = (*problems, str(error))
        found_problems = (found.problem,) if found.problem else ()
        return RunView(found, people, receivers, self.intake.places(), findings, (*found_problems, *problems))

    def said(self, token: str) -> Said | None:
        """Return an answer that is kept, None where it is not any more."""
        return self._said.get(token)

    def keep(self, said: Said) -> str:
        """Keep an answer and return its token."""
        token = secrets.token_urlsafe(9)
        with self._lock:
            self._said[token] = said
            while len(self._said) > KEPT_SAID:
                self._said.pop(next(iter(self._said)))
        return token

    def save_particulars(self, drill: str, run: str, values: Mapping[str, str]) -> Said:
        """Save who searched, with what, and what the run is called; a new searcher goes into people.toml.

        Raises
        ------
        InputError
            Where the run is gone.
        """
        found = run_at_hand(self.workspace, drill, run)
        form = filled(values, form_of(found.info))
        changes, faults = changes_of(form, found.info)
        if faults:
            return Said(faults=faults, form=form)
        seen = values.get("seen", "")
        try:
            entry = edit_run(self.workspace, self.service.results, drill, run, changes, sha256=seen, what=PARTICULARS)
        except AnalyzerError as error:
            return Said(faults=(str(error),), form=form)
        lines = note_consent(self.workspace, form.who, form.consent, new=bool(form.new_searcher)) if form.who else ()
        if form.consent != AS_IT_IS and not form.who:
            lines = ("Nobody is named as the searcher: the answer about being named was kept for nobody.",)
        if entry and any(getattr(found.info, key) != value for key, value in changes.items() if key not in RUN_WORDS):
            self.measuring.start(drill)
        done = "Saved." if entry else "Nothing of the run was changed."
        return Said(" ".join((done, *lines)), entry=entry)

    def save_words(self, drill: str, run: str, values: Mapping[str, str]) -> Said:
        """Save the coach's words: a note, what was praised, which findings are set aside; no result depends on them.

        Raises
        ------
        InputError
            Where the run is gone.
        """
        view = self.view(drill, run)
        findings, info = view.findings or (), view.at_hand.info
        note, praised = several_lines(values.get("note", "")), several_lines(values.get("praised", ""))
        reasons = {f.id: " ".join(values.get(f"{ASIDE}{f.id}", "").split()) for f in findings}
        faults = (*note_faults(note, reasons | {"praised": praised}), *gone_lines(values, reasons))
        if faults:
            return Said(faults=faults, words=dict(values))
        before = ", ".join(info.praised) if isinstance(info.praised, tuple) else info.praised
        praise = info.praised if praised == before or (praised == "yes" and before is True) else praised or False
        aside = with_reasons(words_of(info), findings, reasons)
        changes = {"note": note, "praised": praise, "set_aside": aside}
        try:
            entry = edit_run(
                self.workspace, self.service.results, drill, run, changes, sha256=values.get("seen", ""), what=WORDS
            )
        except AnalyzerError as error:
            return Said(faults=(str(error),), words=dict(values))
        return Said("Saved: the coach's words." if entry else "Nothing was changed.", entry=entry)

    def add_files(self, drill: str, run: str, files: Iterable[tuple[str, Iterable[bytes]]]) -> Said:
        """Give a run readings or marks that came later; those that it has go into the bin, and it is measured at once.

        Raises
        ------
        InputError
            Where the run is gone.
        """
        run_at_hand(self.workspace, drill, run)
        token, lines = self.intake.new_token(), list[str]()
        for number, (name, chunks) in enumerate(files):
            if number == MOST_FILES:
                lines.append(f"More than {MOST_FILES} files were sent: the others were not looked at.")
                break
            try:
                self.intake.take(token, name, 0, chunks)
            except AnalyzerError as error:
                lines.append(str(error))
        content = self._content(token, lines)
        if lines or not content:
            return Said(faults=tuple(lines) or ("No file was chosen, or there is nothing in it.",))
        try:
            entry = put_evidence(self.workspace, self.service.results, drill, run, content)
        except AnalyzerError as error:
            return Said(faults=(str(error),))
        self.intake.close(token, f"{drill}/{run}")
        self.measuring.start(drill)
        return Said(f"Put in: {', '.join(content)}.", entry=entry)

    def recording(self, drill: str, run: str) -> tuple[str, str]:
        """Load the track of a run once more, with its logs of times of day, to be cut; return the token of the load and
        the id of the track in it. The run itself stays as it is.

        Raises
        ------
        InputError
            Where the run is gone, or its track cannot be read.
        """
        found, token = run_at_hand(self.workspace, drill, run), self.intake.new_token()
        for name in found.files:
            data = file_bytes(found.folder / name)
            if data is not None and name != RUN_FILE and not is_cut_out(data):
                self.intake.take(token, f"{run} {name}", len(data), [data])
        basket = self.intake.basket(token)
        track = next((file for file in basket.files if file.kind == TRACK), None) if basket is not None else None
        if track is None:
            raise InputError(
                where=f"{drill}/{run}", what="it has no track that can be read", do="put one in its folder"
            )
        return token, str(track.id)

    def _content(self, token: str, lines: list[str]) -> dict[str, bytes]:
        """Return name in a run -> bytes, of what was sent; what a run does not take has its line."""
        content: dict[str, bytes] = {}
        basket = self.intake.basket(token)
        for file in basket.files if basket is not None else ():
            name = name_in_run(file) if file.kind in (READINGS, MARKS) else ""
            if file.problem:
                lines.append(file.problem)
            elif not name:
                lines.append(f"{file.path}: neither readings nor marks. A track is a run of its own: use Load.")
            elif any(same_log(name, other) for other in content):
                lines.append(f"{file.path}: a second file for {name}; send one of each kind.")
            else:
                content[name] = read_original(self.workspace, file.sha256, name=file.path)
        return content

    def move(self, drill: str, run: str, to: str) -> tuple[Said, str]:
        """Move a run to another drill, and return its name there.

        Raises
        ------
        InputError
            Where it is gone, does not fit, or cannot be moved; nothing is changed then.
        """
        if not to:
            raise InputError(where=f"{drill}/{run}", what="no drill was chosen", do="choose the drill to move it to")
        entry, name = move_run(self.workspace, self.service.results, drill, run, to)
        self.measuring.start(drill, to)
        return Said(f"Moved here from {drill}.", entry=entry), name

    def delete(self, drill: str, run: str) -> Said:
        """Put a run into the bin.

        Raises
        ------
        InputError
            Where it is gone, or cannot be moved.
        """
        called = run_at_hand(self.workspace, drill, run).info.title or run
        entry = delete_run(self.workspace, self.service.results, drill, run)
        self.measuring.start(drill)
        return Said(f"{called}, a run of {drill}, is in the bin. Nothing of it is lost.", entry=entry)

    def restore(self, entry: str) -> tuple[Restored, Said]:
        """Put something of the bin back.

        Raises
        ------
        InputError
            Where it is not there any more, or its place is gone.
        """
        back = restore(self.workspace, self.service.results, entry)
        self.measuring.start(*dict.fromkeys((back.drill, *([back.left] if back.left else []))))
        return back, Said(" ".join(("Put back as it was.", back.line)).strip())

    def bin(self) -> tuple[Binned, ...]:
        """Return what is in the bin, the newest first."""
        return binned(self.workspace)

    def measured_with(self, drill: str, run: str) -> str:
        """Return with what a run was measured, in words; "" where it was not yet."""
        try:
            return measured_words(self.service.result(drill, run))
        except (AnalyzerError, RunMissingError):
            return ""

    def stale(self, drill: str, run: str) -> str:
        """Return a sentence where a run's result is not of its files as they are now, "" where it is, or is missing."""
        try:
            result = self.service.result(drill, run)
            folder = next(f for f in self.intake.folders() if f.resolve().name in (drill, unquote(drill)))
            return stale_words(folder, result.run_id, result)
        except (AnalyzerError, RunMissingError, StopIteration):
            return ""

    def changed(self, drill: str, run: str, entry: str) -> tuple[str, ...]:
        """Return what a change, of which the bin has the run as it was, did to the run's result; nothing where it
        cannot be said."""
        try:
            note = binned_one(self.workspace, entry).note
            path = kept_result(self.workspace / BIN / entry)
            if (note.drill, note.run) != (drill, run) or not path.is_file():
                return ()
            return what_changed(read_result(path), self.service.result(drill, run))
        except (AnalyzerError, RunMissingError):
            return ()


def day_of(when: str) -> str:
    """Return a moment of the bin on this machine's clock, "27 Nov 2026, 18:25"; as it is written where it is none."""
    try:
        return dt.datetime.fromisoformat(when).astimezone().strftime("%d %b %Y, %H:%M").lstrip("0")
    except ValueError:
        return when
