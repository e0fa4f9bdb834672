"""The door from the page that cuts a recording to the load that it came with."""

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import AnalyzerError, InputError
from analyzer.files.drill_toml import parse_drill_toml, read_drill_toml
from analyzer.files.folder import zone_of_drill
from analyzer.files.names import DRILL_FILE
from analyzer.files.source import sha256_hex
from analyzer.files.tracks.proposed_cuts import Recorded
from analyzer.model.drill import Drill
from analyzer.workspace.intake.cut import checked_cuts, cut_up, is_recording, stem_of, uncut
from analyzer.workspace.intake.cut_logs import moments_of
from analyzer.workspace.intake.model import NEW, OLD, Basket, Cut, IncomingFile
from analyzer.workspace.intake.originals import read_original
from analyzer.workspace.intake.recording import line, pieces, recorded
from analyzer.workspace.intake.store import drill_paths
from dashboard.services.intake import OPEN, Intake
from dashboard.services.new_runs import proposed_title
from dashboard.view_models.cuts import CutRow, CutView, clock_of, posix_of_clock, titles


@dataclass(frozen=True, slots=True)
class Cuts:
    """Recordings of the loads of one dashboard."""

    intake: Intake

    def view(self, batch: str, track: str, typed: tuple[CutRow, ...] | None = None, *, drill: str = "") -> CutView:
        """Return what the page shows of a recording: its cut where it is cut, else what is proposed.

        `typed`: rows that were sent and not taken, which stand in the form again. `drill`: the one that Load was opened
        for, where nothing else tells.

        Raises
        ------
        AnalyzerError
            Where there is no such load or recording, or it cannot be read.
        """
        basket, file = self._found(batch, track)
        known = self._drill(basket, drill)
        recording = self._recorded(file, known)
        zone = (zone_of_drill(known) if known is not None else None) or dt.UTC
        begin, end = float(recording.time_s[0]), float(recording.time_s[-1])
        moments = moments_of(self._workspace(), basket, file)
        parts = [one for one in basket.files if one.cut_of == file.id and one.window_s is not None]
        rows = typed if typed is not None else self._rows(file, basket, recording, known, zone)
        return CutView(
            batch,
            file.id,
            file.path,
            known.name if known is not None else "",
            begin,
            end,
            zone,
            rows,
            line(recording),
            tuple(at - begin for at in moments.starts if begin <= at <= end),
            saved=bool(parts),
            seen=_seen(basket, file),
            opened_for=drill,
        )

    def cut(self, batch: str, track: str, rows: tuple[CutRow, ...], seen: str, *, drill: str = "") -> None:
        """Cut a recording by the rows of the form.

        Raises
        ------
        AnalyzerError
            Where a row is wrong, or somebody else cut it in the meantime; nothing is changed then.
        """
        view = self.view(batch, track, rows, drill=drill)
        taken = [row for row in rows if row.take]
        cuts = [_cut(row, view, number) for number, row in enumerate(taken, start=1)]
        checked = checked_cuts(cuts, view.begin_s, view.end_s)

        def change(basket: Basket) -> Basket:
            _check_seen(basket, view.track, seen)
            return cut_up(self._workspace(), basket, view.track, checked)

        self.intake.change(batch, change)

    def whole(self, batch: str, track: str) -> None:
        """Take a recording whole again.

        Raises
        ------
        AnalyzerError
            Where there is no such load or recording.
        """
        _, file = self._found(batch, track)
        self.intake.change(batch, lambda basket: uncut(basket, file.id))

    def _found(self, batch: str, track: str) -> tuple[Basket, IncomingFile]:
        basket = self.intake.basket(batch)
        if basket is None:
            raise InputError(where="this load", what="it is not in the workspace", do="open Load and drop files again")
        if basket.state != OPEN:
            raise InputError(where="this load", what="its files are put in, or being put in", do="open Load again")
        file = next((one for one in basket.files if str(one.id) == track), None)
        if file is not None and file.cut_of and file.window_s is not None:
            file = next(one for one in basket.files if one.id == file.cut_of)
        if file is None or not is_recording(file):
            what = "it is no recording with times of day that could be cut"
            raise InputError(where=file.path if file else "this load", what=what, do="go back to Load")
        return basket, file

    def _drill(self, basket: Basket, drill: str) -> Drill | None:
        """Return the drill that the load goes into, None where none is chosen or it cannot be read."""
        plan, workspace = self.intake.plan(basket, drill), self._workspace()
        try:
            if plan.drill.startswith(OLD):
                folder = drill_paths(workspace).get(plan.drill.removeprefix(OLD))
                return read_drill_toml(folder / DRILL_FILE) if folder is not None else None
            file = next((f for f in plan.new_drills if plan.drill == f"{NEW}{f.id}"), None)
            return parse_drill_toml(read_original(workspace, file.sha256, name=file.path)) if file else None
        except AnalyzerError:
            return None

    def _recorded(self, file: IncomingFile, drill: Drill | None) -> Recorded:
        data = read_original(self._workspace(), file.sha256, name=file.path)
        return recorded(data, path=file.path, ending=file.ending, drill=drill)

    def _workspace(self) -> Path:
        if self.intake.workspace is None:
            raise InputError(where="this dashboard", what="it has no workspace", do="start searchwake serve WORKSPACE")
        return self.intake.workspace

    def _rows(
        self, file: IncomingFile, basket: Basket, recorded_: Recorded, drill: Drill | None, zone: dt.tzinfo
    ) -> tuple[CutRow, ...]:
        saved = [one for one in basket.files if one.cut_of == file.id and one.window_s is not None]
        if saved:
            return tuple(
                CutRow(
                    clock_of(one.window_s[0], float(recorded_.time_s[0]), zone),
                    clock_of(one.window_s[1], float(recorded_.time_s[0]), zone),
                    basket.choices.get(f"name-{one.id}", ""),
                    take=True,
                )
                for one in saved
                if one.window_s is not None
            )
        found = pieces(recorded_, moments_of(self._workspace(), basket, file), drill)
        begin, base = float(recorded_.time_s[0]), proposed_title(stem_of(file)[0])
        named = titles(base, [piece.take for piece in found])
        return tuple(
            CutRow(clock_of(p.begin_s, begin, zone), clock_of(p.end_s, begin, zone), title, p.take, p.why)
            for p, title in zip(found, named, strict=True)
        )


def _cut(row: CutRow, view: CutView, number: int) -> Cut:
    where = f"run {row.title or number}"
    begin = posix_of_clock(row.begin, view.begin_s, view.zone, where=f"{where}, from")
    end = posix_of_clock(row.end, view.begin_s, view.zone, where=f"{where}, to")
    return Cut(_edge(begin, view.begin_s), _edge(end, view.end_s), row.title or f"run {number}")


def _edge(typed_s: float, edge_s: float) -> float:
    """Return an end of the recording where a time is that to the second, for fields show no more."""
    return edge_s if abs(typed_s - edge_s) <= 1.0 else typed_s


def _seen(basket: Basket, file: IncomingFile) -> str:
    """Return what tells whether a recording is cut as it was when somebody looked."""
    parts = [one for one in basket.files if one.cut_for == file.id]
    return sha256_hex(repr([(one.id, one.window_s) for one in parts]).encode())[:16]


def _check_seen(basket: Basket, track: int, seen: str) -> None:
    file = next(one for one in basket.files if one.id == track)
    if _seen(basket, file) != seen:
        raise InputError(
            where=file.path,
            what="somebody else cut this recording since this page opened it",
            do="what you typed is still here; open the page anew to see theirs",
        )
