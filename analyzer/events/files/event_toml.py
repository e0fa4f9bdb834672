"""event.toml: classes, fields, entries, judges' decisions, and the rule sheet by name."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from analyzer.errors import InputError, quoted
from analyzer.events.files.rules_toml import BUILT_IN, built_in_rules, in_tenths, report_unless_known, rules_of_table
from analyzer.events.model import FASTEST, OVERALL, STATUSES, Entry, EventClass, EventRules, JudgeEntry
from analyzer.files.rules_toml import MEASURES
from analyzer.files.source import sha256_hex
from analyzer.files.toml_table import TomlTable, nearest, read_toml
from analyzer.model.account import FINDINGS

ON_PROPOSALS = ("confirms", "rejects")
"""What becomes of a penalty that the engine proposes, by its finding or measure."""
AMOUNTS = ("penalty_s", "bonus_s", "penalty_points", "bonus_points")
MOST_S, MOST_POINTS = 3600.0, 50.0
"""The largest single decision of a judge. Our own choice: no field of an event lasts longer than an hour, and no rule
sheet wants more than 50 transmitters; what is more is a slip of the hand. Who should have no place is disqualified."""
DECIDING = (*AMOUNTS, "status", *ON_PROPOSALS)
WITHOUT_REASON = ("waiting", "started", "finished", "absent", "stopped")
"""Statuses that the organiser may write with an entry; a disqualification is a judge's and needs a reason."""


@dataclass(frozen=True, slots=True)
class FieldDraft:
    """A field as written: the name of its drill folder, its name, and its own time limit."""

    drill: str
    name: str
    time_limit_s: float | None
    where: str


@dataclass(frozen=True, slots=True)
class EventDraft:
    """An event file, checked in itself; its runs are not matched with the workspace yet.

    `rules`: the sheet where it stands in the file or is built in; `rules_file`, `measuring_file`: names of files.
    `where`: bib -> where its entry stands in the file.
    """

    name: str
    date: dt.date | None
    rules: EventRules | None
    rules_file: str
    measuring_file: str
    classes: tuple[EventClass, ...]
    fields: tuple[FieldDraft, ...]
    entries: tuple[Entry, ...]
    judge: tuple[JudgeEntry, ...]
    where: dict[str, str]


def parse_event_toml(data: bytes, *, name: str = "event.toml") -> EventDraft:
    """Return the checked event file.

    Raises
    ------
    FileError
        With every unknown key, bib, class, field or status, bib given twice, entry in two classes, class without
        entries, penalty that is not above 0 and decision without reason: all at once, each with its place.
    InputError
        Where the file is no TOML.
    """
    return read_toml(lambda outer: _event(outer, sha256_hex(data)), data, name=name)


def _event(outer: TomlTable, sha256: str) -> EventDraft:
    outer.allow("event", "event_rules", "class", "field", "entry", "judge")
    head = outer.table("event", needed=True)
    head.allow("name", "date", "rules", "measuring_rules")
    rules, rules_file = _rules(outer, head, sha256)
    classes, fields = _classes(outer), _fields(outer)
    drills = tuple(field.drill for field in fields)
    known = None if outer.wrong("field") else drills
    entries, where = _entries(outer, tuple(c.id for c in classes), known)
    for one, table in zip(classes, outer.tables("class"), strict=True) if entries and not outer.wrong("entry") else ():
        if not any(entry.class_id == one.id for entry in entries) and not table.wrong("id"):
            table.report(
                "id", f"the class {quoted(one.id)} has no entries", "enter somebody in it, or remove the class"
            )
    judge = tuple(
        d for i, table in enumerate(outer.tables("judge"), start=1) for d in _decisions(table, i, tuple(where), known)
    )
    return EventDraft(
        head.text("name"),
        head.day("date"),
        rules,
        rules_file,
        head.text("measuring_rules", ""),
        classes,
        fields,
        entries,
        judge,
        where,
    )


def _rules(outer: TomlTable, head: TomlTable, sha256: str) -> tuple[EventRules | None, str]:
    word = head.text("rules", "")
    if outer.has("event_rules"):
        if word:
            head.report("rules", "the file holds a table [event_rules] as well", "keep one of the two")
        return rules_of_table(outer.table("event_rules"), sha256=sha256), ""
    if word.endswith(".toml"):
        return None, word
    if word not in BUILT_IN:
        what = f"the rule sheet {quoted(word)} is not known" if word else "there is no rule sheet"
        do = f"write one of {', '.join(BUILT_IN)}, the name of a .toml file beside the event file, or [event_rules]"
        if not head.wrong("rules") and not outer.wrong("event"):
            head.report("rules", what, do)
        return None, ""
    return built_in_rules(word), ""


def _classes(outer: TomlTable) -> tuple[EventClass, ...]:
    found: list[EventClass] = []
    for table in outer.tables("class"):
        table.allow("id", "name")
        key = _filled(table, "id")
        if key and key in {one.id for one in found}:
            table.report("id", f"the class {quoted(key)} is there twice", "keep one")
        found.append(EventClass(key, table.text("name", key)))
    if not found and not outer.wrong("class"):
        outer.report("class", "there is no class", 'add [[class]] with id = "open"', where=outer.where)
    return tuple(found)


def _fields(outer: TomlTable) -> tuple[FieldDraft, ...]:
    found: dict[str, FieldDraft] = {}
    for table in outer.tables("field"):
        table.allow("drill", "name", "time_limit_s")
        drill = _filled(table, "drill")
        if drill and drill in found:
            table.report("drill", f"the drill {quoted(drill)} is a field twice", "keep one")
        if drill == OVERALL or drill in (".", "..") or "/" in drill or "\\" in drill:
            do = "write the name of a folder in drills/"
            table.report("drill", f"{quoted(drill)} is no name of a drill folder", do)
        limit = table.optional_number("time_limit_s", above=0.0, high=86400.0)
        found[drill] = FieldDraft(drill, table.text("name", drill), limit, table.where)
    if not found and not outer.wrong("field"):
        outer.report("field", "there is no field", 'add [[field]] with drill = "FOLDER"', where=outer.where)
    return tuple(found.values())


def _entries(
    outer: TomlTable, classes: tuple[str, ...], drills: tuple[str, ...] | None
) -> tuple[tuple[Entry, ...], dict[str, str]]:
    entries: list[Entry] = []
    where: dict[str, str] = {}
    for table in outer.tables("entry"):
        table.allow("bib", "name", "class", "runs", "status")
        bib, class_id = bib_of(table), _class(table, None if outer.wrong("class") else classes)
        first = next((entry for entry in entries if bib and bib_number(entry.bib) == bib_number(bib)), None)
        if first is not None:
            at = f"first in {_short(where[first.bib])}"
            twice = "is there twice" if first.bib == bib else f"is the same number as bib {first.bib}"
            what, do = f"bib {bib} {twice} ({at})", "give every entry a bib of its own"
            if first.class_id != class_id:
                what = f"bib {bib} is in two classes, {quoted(first.class_id)} and {quoted(class_id)} ({at})"
                do = "keep the entry in one class"
            table.report("bib", what, do)
        where.setdefault(bib, table.where)
        entries.append(
            Entry(bib, _filled(table, "name"), class_id, _by_drill(table, "runs", drills), _statuses(table, drills))
        )
    if not entries and not outer.wrong("entry"):
        outer.report("entry", "there is no entry", "add [[entry]] with bib, name and class", where=outer.where)
    return tuple(entries), where


def _short(where: str) -> str:
    return where.partition(", ")[2]


def _class(table: TomlTable, classes: tuple[str, ...] | None) -> str:
    """Return the class of an entry; `classes`: None where they are not known for their own faults."""
    if isinstance(table.values.get("class"), list):
        table.report("class", "the entry is in two classes or more", "write one class; ranks would not be fair")
        return ""
    word = _filled(table, "class")
    if classes is not None and word and word not in classes and not table.wrong("class"):
        table.report("class", f"the class {quoted(word)} is not known", nearest(word, classes))
    return word


def _by_drill(table: TomlTable, key: str, drills: tuple[str, ...] | None) -> tuple[tuple[str, str], ...]:
    inner = table.table(key)
    for drill in inner.values:
        if drills is not None and drill not in drills:
            table.report(key, f"the drill {quoted(drill)} is no field of the event", nearest(drill, drills))
    return tuple((drill, _filled(inner, drill)) for drill in inner.values)


def _statuses(table: TomlTable, drills: tuple[str, ...] | None) -> tuple[tuple[str, str], ...]:
    if isinstance(table.values.get("status"), str):
        found = tuple((drill, table.text("status")) for drill in drills or ("",))
    else:
        found = _by_drill(table, "status", drills)
    for _, word in found:
        if table.wrong("status"):
            break
        if word == "excluded":
            do = 'write it as [[judge]] with status = "excluded", reason and by'
            table.report("status", "a disqualification needs a reason", do)
        elif word not in STATUSES:
            table.report("status", f"the status {quoted(word)} is not known", nearest(word, WITHOUT_REASON))
    return found


def _decisions(
    table: TomlTable, number: int, bibs: tuple[str, ...] | None, drills: tuple[str, ...] | None
) -> list[JudgeEntry]:
    """Return a judge's decision; a status without field holds for every field.

    `bibs`, `drills`: None where they are not known for faults of their own.
    """
    table.allow("bib", "field", "reason", "by", "at", "status", *AMOUNTS, *ON_PROPOSALS, "transmitter")
    bib = bib_of(table)
    if bibs is not None and bib and bib not in bibs and not table.wrong("bib"):
        table.report("bib", f"no entry has the bib {bib}", nearest(bib, bibs))
    given = [key for key in DECIDING if table.has(key)]
    if len(given) != 1:
        what = f"{' and '.join(given)} in one decision" if given else "the decision decides nothing"
        table.report("", what, f"write one of {', '.join(DECIDING)}")
    kind, status = given[0] if given else AMOUNTS[0], ""
    if kind == "status":
        status = table.text("status")
        if status not in STATUSES and not table.wrong("status"):
            table.report("status", f"the status {quoted(status)} is not known", nearest(status, STATUSES))
    amount = _amount(table, kind) if given and kind in AMOUNTS else 0.0
    about, transmitter = _proposal(table, kind)
    reason, by = _filled(table, "reason"), _filled(table, "by")
    at = table.moment("at")
    if at is None and not table.wrong("at"):
        table.missing("at", "write when: at = 2026-02-14T10:12:00+01:00")
    field = table.text("field", "")
    if field and drills is not None and field not in drills:
        table.report("field", f"the drill {quoted(field)} is no field of the event", nearest(field, drills))
    if not field and kind != "status" and not table.wrong("field"):
        table.missing("field", "write the drill that the decision is about")
    stamp = "" if at is None else _as_written(table.values["at"])
    return [
        JudgeEntry(number, bib, drill, kind, amount, status, reason, by, stamp, about, transmitter)
        for drill in ((field,) if field else drills or ())
    ]


def _as_written(moment: Any) -> str:
    """Return a time with the offset that a judge wrote: the local time of whoever decided."""
    told = dt.datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    return str(told.isoformat().replace("+00:00", "Z"))


def _proposal(table: TomlTable, kind: str) -> tuple[str, str]:
    """Return the finding or measure that is confirmed or rejected, and of which search; empty for other decisions."""
    if kind not in ON_PROPOSALS:
        if table.has("transmitter"):
            table.report("transmitter", f"a decision by {kind} is about no transmitter", "take it out")
        return "", ""
    about = _filled(table, kind)
    if about and not table.wrong(kind):
        report_unless_known(table, kind, about, (*FINDINGS, *MEASURES))
    return about, table.text("transmitter", "")


def _amount(table: TomlTable, kind: str) -> float:
    amount = table.number(kind, high=MOST_S if kind.endswith("_s") else MOST_POINTS)
    if not in_tenths(amount):
        table.report(kind, f"{amount:g} has more than one decimal", "times are counted in tenths: write one decimal")
    if amount <= 0.0:  # not so of NaN, which is reported already
        word = "negative" if amount < 0.0 else "nothing"
        table.report(
            kind,
            f"a {kind.split('_', maxsplit=1)[0]} of {amount:g} is {word}",
            "write it above 0; a bonus has keys of its own, bonus_s and bonus_points",
        )
    return amount


def _filled(table: TomlTable, key: str) -> str:
    text = table.text(key).strip()
    if not text and table.has(key) and not table.wrong(key):
        table.report(key, "it is empty", "write it")
    return text


def bib_of(table: TomlTable) -> str:
    """Return a bib as text; it may be written as a number."""
    value = table.need("bib", "add it")
    if isinstance(value, int) and not isinstance(value, bool):
        return table.label("bib")
    return "" if table.wrong("bib") else _filled(table, "bib")


def bib_number(bib: str) -> str:
    """Return what two spellings of one number share: "01", "1" and " 1" are the same bib."""
    text = bib.strip()
    return str(int(text)) if text.isdecimal() else text


def checked_points(draft: EventDraft, rules: EventRules) -> None:
    """Raise `InputError` where a decision is in points and the sheet counts seconds alone."""
    for decision in draft.judge:
        if rules.kind == FASTEST and decision.kind.endswith("_points"):
            raise InputError(
                where=f"event.toml, [[judge]] {decision.number}, {decision.kind}",
                what=f"the rule sheet {quoted(rules.name)} counts seconds, not points",
                do=f"write {decision.kind.removesuffix('points')}s",
            )
