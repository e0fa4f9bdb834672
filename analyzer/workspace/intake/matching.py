"""Which files belong together: tracks become runs, and logs go to tracks by folder, time and name; pure.

One clear candidate is a match. Several, none, or signs that speak against each other are for a person to decide: the
proposal is open then, and its line says why. What a person has chosen replaces the proposal.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analyzer.workspace.intake.doubts import Spot, distance_words, doubts, spot_of, weeks_early
from analyzer.workspace.intake.model import (
    COMPANIONS,
    DRILL,
    NEW,
    NO,
    OLD,
    OTHER,
    RULES,
    RUN,
    TRACK,
    UNDECIDED,
    WAYPOINTS,
    YES,
    CompanionRow,
    DrillPlace,
    IncomingFile,
    Plan,
    RunRow,
)
from analyzer.workspace.intake.names import folded, free_name, safe_name, without_role, words_of
from analyzer.workspace.intake.questions import questions
from analyzer.workspace.intake.repairs import (
    added_s,
    as_chosen,
    log_words,
    moved,
    moved_log,
    moved_words,
    valid_move,
    weeks_offer,
    with_offers,
    zoned,
)
from analyzer.workspace.intake.spans import (
    MOSTLY,
    Span,
    apart_s,
    by_zone,
    minutes,
    same_part,
    share,
    shared_mostly,
    together,
)

CLOCKS_DIFFER_S = 90.0
"""The offset of a log's clock is searched for within so much; further apart a person has to say what belongs."""


def plan_of(files: Sequence[IncomingFile], drills: Sequence[DrillPlace], choices: Mapping[str, str]) -> Plan:
    """Return where all files go, from proposals and from what a person has chosen.

    Parameters
    ----------
    files : sequence of IncomingFile
    drills : sequence of DrillPlace
        Those that the workspace has.
    choices : mapping
        "drill" and "folder"; per track "name-<id>" and "use-<id>"; per other file "of-<id>".
    """
    waiting = [f for f in files if f.waits]
    new_drills = tuple(f for f in waiting if f.kind == DRILL)
    drill = _drill(new_drills, drills, choices)
    folder = choices.get("folder", "").strip() or _folder_name(new_drills, drill, drills)
    place = next((d for d in drills if OLD + d.key == drill), DrillPlace("", ""))
    strangers = _of_other_drills(waiting, new_drills, drill, place)
    spot = spot_of(place, next((f for f in new_drills if drill == f"{NEW}{f.id}"), None))
    tracks = [as_chosen(f, choices) for f in waiting if f.kind == TRACK]
    runs = _runs(tracks, place, strangers, spot, choices)
    companions = _companions([f for f in waiting if f.kind in COMPANIONS], runs, choices)
    new = next((f for f in new_drills if drill == f"{NEW}{f.id}"), None)
    runs = zoned(runs, companions, new.zone if new is not None else place.zone, choices)
    runs, companions = with_offers(runs, companions)
    others = tuple(f for f in waiting if f.kind in (WAYPOINTS, RULES, OTHER))
    plan = Plan(drill, folder, new_drills, runs, companions, others)
    return replace(plan, open=questions(plan, drills, place))


def _drill(new: Sequence[IncomingFile], drills: Sequence[DrillPlace], choices: Mapping[str, str]) -> str:
    """Return the one drill that is meant. A drill.toml with the bytes of a drill that there is means that one."""
    known = {d.sha256: OLD + d.key for d in drills if d.sha256}
    possible = {known.get(f.sha256, f"{NEW}{f.id}") for f in new} or {OLD + d.key for d in drills}
    chosen = choices.get("drill", "")
    if chosen in (*(f"{NEW}{f.id}" for f in new), *(OLD + d.key for d in drills)):
        return chosen
    only = possible.pop() if len(possible) == 1 else UNDECIDED
    if only.startswith(NEW) and folded(_wanted_folder(new[0])) in {folded(d.key) for d in drills}:
        return UNDECIDED  # another drill of that name, or a new state of that drill
    return only


def _wanted_folder(file: IncomingFile) -> str:
    return safe_name(file.folder.rpartition("/")[2]) or safe_name(file.title.lower()) or "drill"


def _folder_name(new: Sequence[IncomingFile], drill: str, drills: Sequence[DrillPlace]) -> str:
    file = next((f for f in new if drill in (f"{NEW}{f.id}", UNDECIDED)), None)
    return free_name(_wanted_folder(file), [d.key for d in drills]) if file is not None else ""


def _of_other_drills(
    files: Sequence[IncomingFile], new: Sequence[IncomingFile], drill: str, place: DrillPlace
) -> dict[int, IncomingFile]:
    """Return the files that lie in the folder of a drill.toml other than the chosen one, with that drill.toml."""
    chosen = next((f for f in new if drill == f"{NEW}{f.id}" or f.sha256 == place.sha256), None)
    if chosen is None:
        return {}
    strangers = {}
    for file in files:
        homes = [d for d in new if not d.folder or f"{file.folder}/".startswith(f"{d.folder}/")]
        home = max(homes, key=lambda d: len(d.folder), default=chosen)
        if home.folder != chosen.folder:
            strangers[file.id] = home
    return strangers


def _runs(
    tracks: Sequence[IncomingFile],
    place: DrillPlace,
    strangers: Mapping[int, IncomingFile],
    spot: Spot,
    choices: Mapping[str, str],
) -> tuple[RunRow, ...]:
    rows: list[RunRow] = []
    taken = {folded(run) for run, _ in place.runs}
    windows = {run: (begin, end) for run, begin, end in place.windows}
    have: dict[str, list[tuple[str, Span | None]]] = {}
    for run, sha in place.runs:
        have.setdefault(sha, []).append((run, windows.get(run)))
    for track in tracks:
        name, by_folder = _run_name(track, tracks)
        row = RunRow(track, name, YES)
        before = next((r.track for r in rows if r.track.sha256 == track.sha256 and same_part(r.track, track)), None)
        part = moved(track, -added_s(track.id, choices)).window_s  # on the clock of the file, as windows of runs are
        again = next((run for run, window in have.get(track.sha256, []) if shared_mostly(part, window)), "")
        beside = [t for t in tracks if t.sha256 != track.sha256 and together(t, track)]
        if track.id in strangers:
            row = replace(row, use=NO, note=f"It lies in the folder of another drill, {strangers[track.id].path}.")
        elif again:
            words = "This part of these bytes is" if part else "These bytes are"
            row = replace(row, use=NO, note=f"{words} already the run {again} of this drill.")
        elif before is not None:
            row = replace(row, use=NO, note=f"The same bytes as {before.path}.")
        elif folded(name) in taken:
            note = f"The drill has a run {name} already, of another track. It is never overwritten."
            row = replace(row, use=UNDECIDED, note=note, name=free_name(name, taken))
        elif beside and not by_folder:
            others = ", ".join(t.path for t in beside)
            row = replace(row, use=UNDECIDED, note=f"Recorded at the same time as {others}: one run or two?")
        rows.append(_chosen(_of_the_drill(row, spot), choices))
    return tuple(rows)


def _of_the_drill(row: RunRow, spot: Spot) -> RunRow:
    """Return a row with what is set aside in its track, and with what speaks against its being of this drill."""
    track = row.track
    doubt = doubts(track, spot) if row.use != NO else ""
    notes = (
        row.note,
        doubt,
        f"Set aside in it: {track.aside}." if track.aside else "",
        f"How it was read: {track.told}." if track.told else "",
    )
    use = UNDECIDED if doubt else row.use
    weeks = weeks_early(track, spot) if doubt else 0
    offers = (weeks_offer(weeks),) if weeks and track.begin_s is not None else ()
    note, near = " ".join(filter(None, notes)), distance_words(track, spot)
    return replace(row, use=use, doubt=doubt, note=note, near=near, offers=offers)


def _chosen(row: RunRow, choices: Mapping[str, str]) -> RunRow:
    """Return a row as the person wants it; an empty choice is none."""
    choice = choices.get(f"use-{row.track.id}", "")
    told = moved_words(choice)
    return replace(
        row,
        name=choices.get(f"name-{row.track.id}", "").strip() or row.name,
        use=valid_move(choice) or row.use,
        moved=choice if told else "",
        note=" ".join(filter(None, (told, row.note))),
    )


def _run_name(track: IncomingFile, tracks: Sequence[IncomingFile]) -> tuple[str, bool]:
    """Return a run's name, and whether it is that of a folder of its own."""
    folder = track.folder.rpartition("/")[2]
    alone = sum(t.folder == track.folder for t in tracks) == 1
    if folder and folder.casefold() != "runs" and (alone or not words_of(track)):
        return safe_name(folder) or "run", alone
    stem = without_role(track.name.rpartition(".")[0]) if words_of(track) else track.title
    return safe_name(stem) or "run", False


@dataclass(frozen=True, slots=True)
class _Match:
    """A track that was found for a file, or none; and why."""

    track: IncomingFile | None
    why: str


def _companions(
    files: Sequence[IncomingFile], runs: Sequence[RunRow], choices: Mapping[str, str]
) -> tuple[CompanionRow, ...]:
    """Return every log with its track. Bytes that a track has already are left out the second time."""
    rows: list[CompanionRow] = []
    tracks = [row.track for row in runs]
    for file in files:
        match = _match(file, tracks) if not file.cut_for else _dealt(file, tracks)
        row = CompanionRow(file, str(match.track.id) if match.track else UNDECIDED, match.why)
        twin = next(
            (r for r in rows if r.of == row.of and r.of and r.file.kind == file.kind and _same(r.file, file)), None
        )
        if twin is not None:
            row = CompanionRow(file, NO, f"The same bytes as {twin.file.path}.")
        elif match.track and next(r.use for r in runs if r.track is match.track) == NO:
            row = replace(row, of=NO, note=f"Its track {match.track.path} is left out.")
        also = [f"Set aside in it: {file.aside}."] if file.aside and row.of != NO else []
        also += [f"How it is read: {file.told}."] if file.told and row.of != NO else []
        row = replace(row, note=" ".join([row.note, *also]).lstrip())
        chosen, hours = moved_log(choices.get(f"of-{file.id}", ""))
        rows.append(replace(row, of=chosen or row.of, hours=hours, note=log_words(hours) or row.note))
    return tuple(rows)


def _same(a: IncomingFile, b: IncomingFile) -> bool:
    return (a.sha256, a.sheet) == (b.sha256, b.sheet)


def _dealt(file: IncomingFile, tracks: Sequence[IncomingFile]) -> _Match:
    """Return the part of a recording that a log was dealt to; none where it may be another recording's."""
    part = next((t for t in tracks if t.id == file.cut_to), None)
    if part is not None and apart_s(file, part) <= CLOCKS_DIFFER_S:
        return _Match(part, "Dealt out when the recording was cut.")
    return _Match(None, "Dealt out when the recording was cut; it may be of more than one run.")


def clear_track(file: IncomingFile, tracks: Sequence[IncomingFile]) -> IncomingFile | None:
    """Return the one track that a file clearly belongs to, None where none or several may have it."""
    return _match(file, tracks).track


def _match(file: IncomingFile, tracks: Sequence[IncomingFile]) -> _Match:
    """Return the one track that a file clearly belongs to."""
    own = [t for t in tracks if t.folder == file.folder]
    if len(own) == 1 and (file.folder or not words_of(file) or words_of(file) == words_of(own[0])):
        apart = apart_s(file, own[0])
        if apart <= CLOCKS_DIFFER_S:
            return _Match(own[0], "In one folder with it." if file.folder else "Came with it, the only track.")
        told = by_zone(file, own[0]) or f"{minutes(apart)} away"
        return _Match(None, f"It lies beside {own[0].path}, but its times are {told}.")
    near = [t for t in tracks if f"{t.folder}/".startswith(f"{file.folder}/")] if file.folder else []
    near = near or list(tracks)
    by_name = _by_name(file, near)
    if file.begin_s is None:
        if len(by_name) == 1:
            return _Match(by_name[0], "By its name.")
        timed = "It has no time of day" if file.elapsed else "Its times of day have no date or no zone"
        why = timed if file.kind != RUN else "It carries no time"
        return _Match(None, f"{why}, and its name fits {_several(by_name)}.")
    return _by_time(file, near, by_name)


def _by_time(file: IncomingFile, tracks: Sequence[IncomingFile], by_name: Sequence[IncomingFile]) -> _Match:
    some = [t for t in tracks if share(file, t) > 0.0]
    if len(some) == 1 and share(file, some[0]) >= MOSTLY:
        if not by_name or some[0] in by_name:
            return _Match(some[0], "By its times and its name." if by_name else "By its times.")
        return _Match(None, f"Its times fit {some[0].path}, its name fits {_several(by_name)}.")
    if len(by_name) == 1 and (by_name[0] in some or not some):
        apart = apart_s(file, by_name[0])
        if apart <= CLOCKS_DIFFER_S:
            return _Match(by_name[0], "By its name; its times fit." if some else "By its name; its clock is off.")
        told = by_zone(file, by_name[0]) or f"{minutes(apart)} away"
        return _Match(None, f"Its name fits {by_name[0].path}, but its times are {told}.")
    shifted = [t for t in tracks if by_zone(file, t)] if not some else []
    if len(shifted) == 1:
        return _Match(None, f"Its times fit no track; to {shifted[0].path} they are {by_zone(file, shifted[0])}.")
    if shifted:
        words = f"off by whole or half hours, as with a wrong time zone, they would fit {_several(shifted)}"
        return _Match(None, f"Its times fit no track; {words}. Choose below to take it with that mended.")
    return _Match(None, f"Its times fit {_several(some)}.")


def _by_name(file: IncomingFile, tracks: Sequence[IncomingFile]) -> list[IncomingFile]:
    """Return the tracks with the same words in their name, else those whose words hold the file's or are held."""
    words = words_of(file)
    names = {t.id: words_of(t) or words_of(replace(t, path=t.title)) for t in tracks}
    same = [t for t in tracks if words and names[t.id] == words]
    return same or [t for t in tracks if _holds(names[t.id], words) or _holds(words, names[t.id])]


def _holds(long: tuple[str, ...], short: tuple[str, ...]) -> bool:
    """Return whether the words of one name, a number alone not, stand in a row in the other."""
    if not any(word.isalpha() for word in short):
        return False
    return any(long[i : i + len(short)] == short for i in range(len(long) - len(short) + 1))


def _several(tracks: Sequence[IncomingFile]) -> str:
    return " and ".join(t.path for t in tracks) if tracks else "no track"
