"""What became of a run that is not in its drill any more: deleted or moved by people, as the bin tells, or neither."""

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.workspace.runs.bin import DELETED, MOVED, Binned

MOST_MOVES = 20


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where a run is now. `kind`: DELETED, MOVED, or "" where the bin does not know of it. `when`: of the last change,
    as notes have it. `drill`, `run`: where it is, or where it was when it was deleted."""

    kind: str
    when: str
    drill: str
    run: str


def whereabouts(things: Sequence[Binned], drill: str, run: str) -> Whereabouts:
    """Return what became of a run that was in a drill; `things`: of the bin, the newest first."""
    found, place, after = Whereabouts("", "", drill, run), (drill, run), ""
    for _ in range(MOST_MOVES):
        note = next(
            (
                one.note
                for one in things
                if not one.problem and one.note.kind in (DELETED, MOVED) and (one.note.drill, one.note.run) == place
            ),
            None,
        )
        if note is None or note.when < after:
            return found
        if note.kind == DELETED:
            return Whereabouts(DELETED, note.when, *place)
        place, after = (note.to_drill, note.to_run), note.when
        found = Whereabouts(MOVED, note.when, *place)
    return found
