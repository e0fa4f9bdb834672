"""Every id that a callback names, in one place. No Dash."""

from urllib.parse import quote

MAIN = "main"
FAILED = "failed"
FIND = "find"
ANEW, ANEW_SAID = "measure-anew", "measure-anew-said"
RUN_REF = "run-ref"
ADDRESS = "window-address"
SHOWN = "window-shown"
CAPTION = "window-caption"
TIMELINE = "timeline-bar"
PLAN = "plan"
OVER_TIME = "over-time"

REPLAY, REPLAY_DATA, REPLAY_READY = "replay", "replay-data", "replay-ready"

COMPARE, COMPARED_DRILL, COMPARED_SHOWN = "compare", "compared-drill", "compared-shown"
COMPARED_ADDRESS, COMPARED_BODY = "compared-address", "compared-body"
TIMELINES, PLANS, RANGES = "timelines", "plans", "ranges"

RULE_FIELD, RULE_REF, PREVIEW, MEASURE = "rule", "rule-ref", "preview", "measure"
SAVE, SAVED, SHEET_LIST, SHEET_NAME, SHEET_VERSION = "save", "saved", "sheet-list", "sheet-name", "sheet-version"

IN_FORCE, PUT_IN_FORCE, SAVE_IN_FORCE = "in-force", "put-in-force", "save-in-force"

DROP_ZONE, LOAD_REF, LOAD_TICK, LOAD_WORK = "drop-zone", "load-ref", "load-tick", "load-work"

TEAM_PLAN, CUT_LINE = "team-plan", "cut-line"

PHONES_TICK, PHONES_LIST, PHONES_SHOWN = "phones-tick", "phones-list", "phones-shown"

EVENT_REF, ENTRY_FOLD, ENTRY_LINES = "event-ref", "entry-fold", "entry-lines"

RUN_TICK, RUN_MEASURED, RUN_AT = "run-tick", "run-measured", "run-at"
DRILL_TICK, DRILL_MEASURED, DRILL_AT = "drill-tick", "drill-measured", "drill-at"

SHOW_WINDOW = "show-window"
CLOSE_UP = "close-up"


def show_window(place: str, number: int) -> dict[str, str | int]:
    """Return the id of a button that moves all views to a time window.

    `place`: finding | loss | timeline | account | phase.
    """
    return {"type": SHOW_WINDOW, "place": place, "number": number}


def close_up(number: int) -> dict[str, str | int]:
    """Return the id of the close-up of the fine search `number`."""
    return {"type": CLOSE_UP, "number": number}


def season_chart(key: str) -> dict[str, str]:
    """Return the id of the chart of a measure over a season."""
    return {"type": "season-chart", "key": key}


def rule_field(key: str) -> dict[str, str]:
    """Return the id of a field of the rule sheet."""
    return {"type": RULE_FIELD, "key": key}


def put_in_force(place: str, sha256: str) -> dict[str, str]:
    """Return the id of a button that puts a rule sheet in force; `place`: list | undo."""
    return {"type": PUT_IN_FORCE, "place": place, "sheet": sha256}


def compare(kind: str, value: str) -> dict[str, str]:
    """Return the id of a button of the comparison; `kind`: run | align | base."""
    return {"type": COMPARE, "kind": kind, "value": value}


LAY_REF, LAY_PICKED, LAY_TARGET = "lay-ref", "lay-picked", "lay-target"
LAY_PLAN, LAY_ANSWER, LAY_PICKS, LAY_ROWS, LAY_SAID = "lay-plan", "lay-answer", "lay-picks", "lay-rows", "lay-said"
LAY_FILE, LAY_SAVED, LAY_ADD, LAY_GPX, LAY_ADDRESS = "lay-file", "lay-saved", "lay-add", "lay-gpx", "lay-address"
LAY_GPX_OPEN, LAY_DETAILS = "lay-gpx-open", "lay-details"
LAY_FIELD, LAY_ERROR, LAY_REMOVE, LAY_PICK, LAY_SAVE = "lay-field", "lay-error", "lay-remove", "lay-pick", "lay-save"


def lay_field(key: str) -> dict[str, str]:
    """Return the id of a field of a drill."""
    return {"type": LAY_FIELD, "key": key}


def lay_error(key: str) -> dict[str, str]:
    """Return the id of the line beside a field that says what is wrong with it."""
    return {"type": LAY_ERROR, "key": key}


def lay_remove(number: int) -> dict[str, str | int]:
    """Return the id of the button that takes a transmitter away."""
    return {"type": LAY_REMOVE, "number": number}


def lay_pick(what: str) -> dict[str, str]:
    """Return the id of a button that says what a click on the plan sets: start | corner | new | t0, t1, ..."""
    return {"type": LAY_PICK, "what": what}


def lay_save(how: str) -> dict[str, str]:
    """Return the id of a button that saves a drill; `how`: own | new | sure."""
    return {"type": LAY_SAVE, "how": how}


def lay_out_address(drill: str) -> str:
    """Return the address at which a drill is laid out."""
    return f"/lay-out/{quote(drill, safe='')}"


def entry_fold(bib: str) -> dict[str, str]:
    """Return the id of what unfolds an entry of the standings."""
    return {"type": ENTRY_FOLD, "bib": bib}


def entry_lines(bib: str) -> dict[str, str]:
    """Return the id of the place for an entry's lines."""
    return {"type": ENTRY_LINES, "bib": bib}
