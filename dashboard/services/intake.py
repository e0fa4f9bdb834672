"""The only door from the Load page to the workspace. What is in a basket is on the disk; here is only who works now.

Several people may load at once: each basket has its own token, changes of baskets take turns, and so does measuring.
"""

import contextlib
import dataclasses
import itertools
import secrets
import threading
import time
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.folder import run_folders
from analyzer.files.rules_toml import default_rules
from analyzer.workspace.batch import Batch, analyze_drills, outcomes
from analyzer.workspace.intake.archive import ROOM, Room
from analyzer.workspace.intake.bounded import BoundedRecogniser
from analyzer.workspace.intake.import_files import MAX_UPLOAD as MAX_UPLOAD  # pages and server know it from here
from analyzer.workspace.intake.import_files import Recognise, clean_path, take_in, with_files
from analyzer.workspace.intake.matching import plan_of
from analyzer.workspace.intake.model import OLD, Basket, DrillPlace, IncomingFile, Outcome, Plan
from analyzer.workspace.intake.originals import too_large
from analyzer.workspace.intake.recognise import recognise
from analyzer.workspace.intake.store import Placed, drill_paths, drill_places, put, put_sheets
from analyzer.workspace.intake.upload_session import basket_folder, load_basket, save_basket
from analyzer.workspace.moved import move_words
from analyzer.workspace.runs.kept_results import set_all_aside
from analyzer.workspace.runs.later import put_later
from analyzer.workspace.unforeseen import unforeseen_error, unforeseen_line
from dashboard.services.new_runs import NewRun, folders_of, new_runs, note_people, typed_fields
from dashboard.services.new_runs import shown_fields as run_fields
from dashboard.services.people import people_of
from dashboard.services.results import words_at

Told = Callable[[str], None]
OPEN, WORKING, DONE = "open", "working", "done"


@dataclass(frozen=True, slots=True)
class Intake:
    """What is taken into a workspace. `drills`: further drill folders that the results are of. `recognised_by`: says
    what a file is; a dashboard that serves has a `BoundedRecogniser`."""

    workspace: Path | None
    results: Path
    drills: tuple[Path, ...] = ()
    recognised_by: Recognise = recognise
    owner: str = field(default_factory=lambda: secrets.token_hex(8))
    _turn: threading.RLock = field(default_factory=threading.RLock)
    _measuring: threading.Lock = field(default_factory=threading.Lock)
    _at_work: set[str] = field(default_factory=set)

    def places(self, *, beside: Collection[str] = ()) -> tuple[DrillPlace, ...]:
        """Return the drills that runs can be put into; `beside`: those of these folders' names are left out."""
        return drill_places(self.workspace, beside=beside) if self.workspace is not None else ()

    def folders(self) -> tuple[Path, ...]:
        """Return all drill folders whose runs are shown, those of the workspace as they are now."""
        own = drill_paths(self.workspace) if self.workspace is not None else {}
        others = {path.resolve().name: path for path in self.drills if path.is_dir()}
        return tuple((others | own).values())

    def new_token(self) -> str:
        """Return the token of a basket that is still to be filled."""
        return secrets.token_urlsafe(12)

    def basket(self, token: str) -> Basket | None:
        """Return a basket, None where there is none. One whose work was broken off is open again and says so.

        Raises
        ------
        InputError
            Where its file is damaged.
        """
        basket = load_basket(self.workspace, token) if self.workspace is not None else None
        if basket is None or basket.state != WORKING or token in self._at_work:
            return basket
        line = "The work was broken off, for the program was stopped: what was put in is in its drill. Go on below."
        return dataclasses.replace(basket, state=OPEN, refused=(*basket.refused, line))

    def plan(self, basket: Basket, drill: str = "") -> Plan:
        """Return where the files of a basket go. `drill`: the one to choose where nothing else tells."""
        places = self.places()
        wanted = {"drill": OLD + drill} if any(p.key == drill for p in places) else {}
        choices = wanted | basket.choices
        untitled = {key: value for key, value in choices.items() if not key.startswith("name-")}
        first = plan_of(basket.files, places, untitled)
        place = next((p for p in places if OLD + p.key == first.drill), None)
        plan = plan_of(basket.files, places, folders_of(choices, first, place))
        faults = [line for one in self.new_runs(plan, basket).values() for line in one.faults]
        return dataclasses.replace(plan, open=(*plan.open, *faults))

    def titles(self, drill: str) -> dict[str, str]:
        """Return run -> title, of those runs of a drill that have one."""
        folder = next((f for f in self.folders() if f.resolve().name == drill), None)
        runs = next((p.runs for p in self.places() if p.key == drill), ())
        return {run: title for run, _ in runs if (title := words_at(folder, run).title)}

    def people(self) -> tuple[tuple[str, bool], ...]:
        """Return the names of people.toml, each with whether they agreed to be named."""
        return people_of(self.workspace)[0] if self.workspace is not None else ()

    def new_runs(self, plan: Plan, basket: Basket) -> dict[int, NewRun]:
        """Return id of a track -> what is said of the run that it becomes."""
        return new_runs(self._workspace(), plan, basket.choices) if self.workspace is not None else {}

    def take(self, token: str, path: str, size: int, chunks: Iterable[bytes], room: Room = ROOM) -> str:
        """Take one file into a basket and return a line that says what it is. `room`: what may come out of a zip.

        Raises
        ------
        InputError
            Where it is refused; the basket remembers the line.
        """
        workspace = self._workspace()
        try:
            basket_folder(workspace, token)
        except ValueError:
            raise InputError(where="this load", what="its address is damaged", do="open Load again") from None
        name = clean_path(path)
        try:
            if size > MAX_UPLOAD:
                raise too_large(name, size, MAX_UPLOAD)
            files, lines = take_in(workspace, name, chunks, recognised_by=self.recognised_by, room=room)
        except Exception as found:
            error = found if isinstance(found, InputError) else unforeseen_error(name, "taking it in", found)
            with contextlib.suppress(InputError):
                self._add(token, (), (str(error),))
            raise error from None
        self._add(token, files, lines, source=name)
        problems = [f.problem for f in files if f.problem]
        return "; ".join([*lines, *problems[:1]]) if len(files) <= 1 else f"{name}: {len(files)} files"

    def settle(self, token: str, form: Mapping[str, str], *, drill: str = "") -> None:
        """Note what a person chose; where nothing is open any more, start the work.

        Raises
        ------
        InputError
            Where there is no such basket, or the workspace cannot be written to.
        """
        with self._turn:
            basket = self._open_basket(token)
            shown = self.plan(basket, drill)
            before = shown_fields(shown)
            changed = {k: v for k, v in form.items() if v and k in before and v != before[k]}
            changed |= typed_fields(form, run_fields(self.new_runs(shown, basket)))
            basket = dataclasses.replace(basket, choices=basket.choices | changed)
            drilled = {"drill": form["drill"]} if form.get("drill") else {}
            taken = offered(shown, form.get("take", ""))
            basket = dataclasses.replace(basket, choices=basket.choices | drilled | taken)
            plan = self.plan(basket)
            if plan.open or taken:  # what an offer made of the times is looked over before anything is put in
                save_basket(self._workspace(), basket)
                return
            words = "putting the files in place"
            save_basket(
                self._workspace(),
                dataclasses.replace(basket, state=WORKING, owner=self.owner, stage=words, since_s=time.time()),
            )
            self._at_work.add(token)
        threading.Thread(target=self.work, args=(token,), daemon=True).start()

    def change(self, token: str, by: Callable[[Basket], Basket]) -> None:
        """Change an open basket; who changes one at the same time comes before or after.

        Raises
        ------
        InputError
            As `settle`, and what `by` raises; nothing is changed then.
        """
        with self._turn:
            save_basket(self._workspace(), by(self._open_basket(token)))

    def propose(self, token: str, choices: Mapping[str, str]) -> None:
        """Fill fields of a load that nobody has filled yet; who looks the load over sees them and may change them."""
        with self._turn, contextlib.suppress(InputError):
            basket = self._open_basket(token)
            self._save(dataclasses.replace(basket, choices={**choices, **basket.choices}))

    def reopen(self, token: str) -> None:
        """Open a basket again whose files were not all put in.

        Raises
        ------
        InputError
            As `settle`.
        """
        with self._turn:
            basket = self._found(token)
            if basket.state == DONE:
                save_basket(
                    self._workspace(),
                    dataclasses.replace(basket, state=OPEN, choices={}, outcome=Outcome(), refused=()),
                )

    def close(self, token: str, place: str) -> None:
        """Note that all usable files of a basket are part of a run now."""
        with self._turn, contextlib.suppress(InputError):
            basket = self._found(token)
            files = tuple(dataclasses.replace(f, placed=place) if f.waits else f for f in basket.files)
            save_basket(self._workspace(), dataclasses.replace(basket, files=files, state=DONE))

    def work(self, token: str) -> None:
        """Put the files of a basket in place and measure their drill; whatever happens, the basket says it."""
        basket, placed, outcome = Basket(token), Placed(""), Outcome()
        try:
            basket = load_basket(self._workspace(), token) or basket
            with self._measuring:
                placed = self._put(basket)
                outcome = self._measured(basket, placed)
        except AnalyzerError as error:
            outcome = Outcome(placed.drill, (), (*placed.failures, str(error)))
        except Exception as error:
            line = unforeseen_line("this load", "loading", error)
            outcome = Outcome(placed.drill, (), (*placed.failures, line))
        finally:
            with self._turn, contextlib.suppress(InputError):
                save_basket(
                    self._workspace(),
                    dataclasses.replace(basket, files=_marked(basket, placed), state=DONE, stage="", outcome=outcome),
                )
            self._at_work.discard(token)

    def measure_anew(self, drill: str) -> tuple[str, ...]:
        """Measure all runs of a drill together once more; return a line per run on what moved, and on what failed.

        Raises
        ------
        InputError
            Where the drill's folder is not at hand.
        """
        folders = {folder.resolve().name: folder for folder in self.folders()}
        if drill not in folders:
            raise InputError(where=drill, what="its folder is not at hand", do="measure it where its files are")
        batch = self._batch()
        with self._measuring:
            (outcome,) = outcomes([folders[drill]], batch, anew=(drill,))
            analyze_drills([f for f in folders.values() if _has_runs(f)], batch)  # the others are read for the summary
        return (*map(move_words, outcome.moves), *outcome.failures)

    def measure(self, drill: str, told: Told, *, anew: bool = False) -> tuple[str, ...]:
        """Measure what is new or changed in a drill; return a line for each of its runs that cannot be used.

        Drills that did not change are only read for the summary. `told`: called with the name of each run; `anew`: all
        runs are measured, and what moved is noted.
        """
        batch = self._batch()
        with self._measuring:
            folders = [f for f in self.folders() if _has_runs(f)]
            if drill not in {folder.resolve().name for folder in folders}:
                set_all_aside(self.results, drill)
            _, failures = analyze_drills(folders, batch, anew=(drill,) if anew else (), told=told)
        return tuple(line for line in failures if line.startswith((f"{drill}/", f"{drill}:")))

    def _batch(self) -> Batch:
        """Return how drills are measured here: each with the rule sheet in force for it."""
        return Batch(out=self.results, rules=default_rules(), own=True)

    def run_count(self, drill: str) -> int:
        """Return how many runs a drill has."""
        folder = next((f for f in self.folders() if f.resolve().name == drill), None)
        return len(run_folders(folder)) if folder is not None else 0

    def _put(self, basket: Basket) -> Placed:
        """Put files in place, and return where, with what was changed of runs and people."""
        workspace, plan = self._workspace(), self.plan(basket)
        sheets, new = put_sheets(workspace, plan.others), self.new_runs(plan, basket)
        placed = Placed("")
        if plan.new_drills or plan.runs:
            said = {track: one.changes for track, one in new.items()}
            placed = put(workspace, plan, scratch=basket_folder(workspace, basket.token), said=said)
        later = put_later(workspace, self.results, plan)
        own = [row.track.id for row in plan.runs if row.name in placed.runs]
        notes = note_people(workspace, [new[track].form for track in own])
        return Placed(
            placed.drill or (plan.drill.removeprefix(OLD) if later.changed else ""),
            placed.runs,
            (*placed.files, *later.files, *sheets.files),
            (*placed.failures, *later.failures, *sheets.failures),
            later.changed,
            notes,
        )

    def _measured(self, basket: Basket, placed: Placed) -> Outcome:
        """Measure the drill that files were put into; drills that did not change are only read for the summary."""
        outcome = Outcome(placed.drill, (), placed.failures, placed.changed, placed.notes)
        if not placed.runs and not placed.changed:
            return outcome
        words, count, begun = f"measuring the runs of {placed.drill}", self.run_count(placed.drill), time.time()
        number = itertools.count(1)

        def say(stage: str) -> None:
            marked = dataclasses.replace(basket, files=_marked(basket, placed), state=WORKING, owner=self.owner)
            self._save(dataclasses.replace(marked, stage=stage, since_s=begun))

        say(words)
        batch = self._batch()
        rows, failures = analyze_drills(
            [f for f in self.folders() if _has_runs(f)],
            batch,
            told=lambda run: say(f"measuring run {next(number)} of {count}, {run}"),
        )
        done = {row["run"] for row in rows if row["drill"] == placed.drill}
        mine = tuple(line for line in failures if line.startswith((f"{placed.drill}/", f"{placed.drill}:")))
        runs = (*placed.runs, *(run for run, _ in placed.changed))
        return dataclasses.replace(
            outcome, runs=tuple(r for r in runs if r in done), failures=(*outcome.failures, *mine)
        )

    def _add(self, token: str, files: Iterable[IncomingFile], lines: Iterable[str], source: str = "") -> None:
        with self._turn:
            basket = self.basket(token) or Basket(token)
            if basket.state != OPEN:
                raise InputError(
                    where="this load",
                    what="its files are already being put into a drill",
                    do="open Load again for further files",
                )
            self._save(with_files(basket, files, lines, source=source))

    def _save(self, basket: Basket) -> None:
        save_basket(self._workspace(), basket)

    def _open_basket(self, token: str) -> Basket:
        basket = self._found(token)
        if basket.state != OPEN:
            raise InputError(
                where="this load",
                what="its files are already being put into a drill",
                do="open its page again to see how far it is",
            )
        return basket

    def _found(self, token: str) -> Basket:
        basket = self.basket(token)
        if basket is None:
            raise InputError(where="this load", what="it is not in the workspace", do="open Load and drop files again")
        return basket

    def _workspace(self) -> Path:
        if self.workspace is None:
            raise InputError(
                where="this dashboard", what="it has no workspace to load into", do="start searchwake serve WORKSPACE"
            )
        return self.workspace


def bounded(intake: Intake) -> Intake:
    """Return a way in whose files are recognised in a process of their own, within a limit of time."""
    return dataclasses.replace(intake, recognised_by=BoundedRecogniser())


def seconds_since(basket: Basket) -> float:
    """Return how long the present stage of the work has taken."""
    return max(time.time() - basket.since_s, 0.0)


def shown_fields(plan: Plan) -> dict[str, str]:
    """Return what the form's fields hold as the page shows them, but for those of runs."""
    fields = {"drill": plan.drill, "folder": plan.folder}
    fields |= {f"use-{row.track.id}": row.moved or row.use for row in plan.runs}
    fields |= {f"zone-{row.track.id}": row.zone for row in plan.runs if row.zone_asked}
    return fields | {f"of-{row.file.id}": row.choice for row in plan.companions}


def offered(plan: Plan, press: str) -> dict[str, str]:
    """Return the choice of a button "take it with ...", nothing for one that is not offered. `press`: field=value."""
    field, _, value = press.partition("=")
    offers = {f"use-{row.track.id}": row.offers for row in plan.runs}
    offers |= {f"of-{row.file.id}": row.offers for row in plan.companions}
    return {field: value} if any(offer.value == value for offer in offers.get(field, ())) else {}


def _marked(basket: Basket, placed: Placed) -> tuple[IncomingFile, ...]:
    """Return the files of a basket with what was put in marked so."""
    where = dict(placed.files)
    return tuple(dataclasses.replace(f, placed=where.get(f.id, f.placed)) for f in basket.files)


def _has_runs(folder: Path) -> bool:
    try:
        return bool(run_folders(folder))
    except InputError:
        return False
