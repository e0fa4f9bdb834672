"""Files that were taken in and are not yet part of a drill: what each is, and where it is proposed to go."""

from dataclasses import dataclass, field

TRACK, READINGS, MARKS, RUN = "track", "readings", "marks", "run"
DRILL, WAYPOINTS, RULES, OTHER = "drill", "waypoints", "rules", "other"
COMPANIONS = (READINGS, MARKS, RUN)
"""Kinds of files that belong to a track."""

YES, NO, UNDECIDED = "yes", "no", ""
NEW, OLD = "new:", "old:"
"""What stands before the file of a new drill, or before the name of one that there is."""
OF_RUN = "run:"
"""What stands before the name of a run that is in the drill already, where a log belongs to it."""


@dataclass(frozen=True, slots=True)
class IncomingFile:
    """One file as recognised by its content.

    `path`: name as given, with the folders that came with it. `begin_s`, `end_s`: seconds since 1970 UTC of its first
    and last row, None where it has no time of day. `elapsed`: its times count from the start mark. `ending`: of a
    track, and of a spreadsheet, how it ends in a run's folder. `title`: the name that it carries inside, or what else
    is in it. `needs`: a file that a drill refers to. `aside`: what of it is not used, and how much. `told`: how it was
    read, where that is a choice. `problem`: why it
    cannot be used, in one line. `placed`: the run or drill that it was put into.
    `window_s`: of a part of a recording, from when to when it is (seconds since 1970 UTC). `cut`: whether it was cut
    into runs, whose parts are files of their own; `cut_for`: of such a part, the id of the recording, `cut_of` that of
    the file whose bytes or rows it has. `cut_to`: of a log, the id of the part that it goes with, 0 where it may be
    another recording's.
    `zone_asked`: some of its times bear no zone; `zone`: of a drill's start, or of run.toml, "" without. `sheet`: which
    one of a workbook with the logs of several runs it is, "" for the whole file.
    `latitude`, `longitude`: degrees, of the middle of a track or drill, None where it has no place on Earth. `day`: of
    a drill, or of a track whose times have no zone, ISO 8601, "" without.
    """

    id: int
    path: str
    sha256: str
    size: int
    kind: str
    ending: str = ""
    begin_s: float | None = None
    end_s: float | None = None
    elapsed: bool = False
    rows: int = 0
    title: str = ""
    needs: str = ""
    aside: str = ""
    told: str = ""
    latitude: float | None = None
    longitude: float | None = None
    day: str = ""
    zone: str = ""
    zone_asked: bool = False
    sheet: str = ""
    problem: str = ""
    placed: str = ""
    window_s: tuple[float, float] | None = None
    cut: bool = False
    cut_for: int = 0
    cut_of: int = 0
    cut_to: int = 0

    @property
    def folder(self) -> str:
        """Folders before the name, "" for a loose file."""
        return self.path.rpartition("/")[0]

    @property
    def name(self) -> str:
        """The name without folders."""
        return self.path.rpartition("/")[2]

    @property
    def waits(self) -> bool:
        """Whether the file can be used and is not part of a drill yet."""
        return not self.problem and not self.placed and not self.cut


@dataclass(frozen=True, slots=True)
class Cut:
    """A run to be: from when to when, seconds since 1970 UTC, and what it is called."""

    begin_s: float
    end_s: float
    title: str


@dataclass(frozen=True, slots=True)
class DrillPlace:
    """A drill of the workspace. `sha256`: of its drill.toml. `runs`: name of each run and SHA-256 of its track.
    `problem`: why its drill.toml cannot be read, empty where it can. `latitude`, `longitude`, `day`: as of a file.
    `windows`: of runs that are a part of their track: name, from, to on its file's clock (seconds since 1970; NaN where
    not in UTC)."""

    key: str
    name: str
    sha256: str = ""
    runs: tuple[tuple[str, str], ...] = ()
    problem: str = ""
    latitude: float | None = None
    longitude: float | None = None
    day: str = ""
    windows: tuple[tuple[str, float, float], ...] = ()
    zone: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """A further choice for a file whose times are off. `value`: of the form's field; `words`: what it does."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class RunRow:
    """A track and the run it would become. `use`: YES, NO or UNDECIDED; `note`: why, or what is to be decided. `doubt`:
    why it seems not to be of this drill, and what to do. `near`: how far from the drill it is, in words.

    `offers`: what else may be done with it; `moved`: the one that was chosen. `zone`: of times in its files that bear
    none, where there are such (`zone_asked`); `zone_said`: whether a person chose it.
    """

    track: IncomingFile
    name: str
    use: str
    note: str = ""
    doubt: str = ""
    near: str = ""
    offers: tuple[Offer, ...] = ()
    moved: str = ""
    zone: str = ""
    zone_asked: bool = False
    zone_said: bool = False


@dataclass(frozen=True, slots=True)
class CompanionRow:
    """A reading log, marks or run settings. `of`: id of the track as text, OF_RUN + a run of the
    drill, NO, or UNDECIDED; `note`: why. `offers`: what else may be done with it; `hours`: added to its times."""

    file: IncomingFile
    of: str
    note: str = ""
    offers: tuple[Offer, ...] = ()
    hours: float = 0.0

    @property
    def choice(self) -> str:
        """What its field in the form holds: the track, with the hours that are added to its times."""
        return f"{self.of}@{self.hours:g}" if self.hours else self.of


@dataclass(frozen=True, slots=True)
class Plan:
    """Where all files go, and what must be decided before.

    `drill`: NEW + id of a drill.toml, OLD + key of a drill, or UNDECIDED. `folder`: name of a new drill's folder.
    `open`: what is to be decided, one line each; nothing is put anywhere before it is empty.
    """

    drill: str = UNDECIDED
    folder: str = ""
    new_drills: tuple[IncomingFile, ...] = ()
    runs: tuple[RunRow, ...] = ()
    companions: tuple[CompanionRow, ...] = ()
    others: tuple[IncomingFile, ...] = ()
    open: tuple[str, ...] = ()

    def parts_of(self, row: RunRow) -> tuple[IncomingFile, ...]:
        """Return the files of a run: its track first."""
        return (row.track, *(c.file for c in self.companions if c.of == str(row.track.id)))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of files that were put into a drill. `runs`: those that were measured; `failures`: one line each.

    `changed`: runs that were there and got further files, each with the folder of the bin that has it as it was.
    `notes`: lines on what else was done.
    """

    drill: str = ""
    runs: tuple[str, ...] = ()
    failures: tuple[str, ...] = ()
    changed: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Basket:
    """Files that were taken in together. `refused`: a line for each that was not taken in or not opened.

    `choices`: what a person decided, by field of the form. `state`: "open", "working" or "done"; `owner`: the
    program's run that does the work; `stage`: what it is doing, since `since_s` (seconds since 1970). `last_id`: the
    largest id of a file that is not in it any more.
    """

    token: str
    files: tuple[IncomingFile, ...] = ()
    refused: tuple[str, ...] = ()
    choices: dict[str, str] = field(default_factory=dict)
    state: str = "open"
    owner: str = ""
    stage: str = ""
    since_s: float = 0.0
    outcome: Outcome = Outcome()
    last_id: int = 0

    @property
    def next_id(self) -> int:
        """The id of a further file: one that no file of this load has, or had."""
        return max([self.last_id, *(file.id for file in self.files)]) + 1
