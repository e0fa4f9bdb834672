"""Names of the folders and files of a workspace, once; those of a drill folder are `analyzer.files.names`.

WORKSPACE/
  drills/<drill>/drill.toml, rules.toml, runs/<run>/...
  results/<drill>/<run>.json, <run>.json.earlier, moved.jsonl, .searchwake-lock
  results/summary.csv, .searchwake-cache.json, .searchwake-lock; of an event .searchwake-facts.json too
  rules/<sheet>.toml
  events/<event>/event.toml, scored.json, log.jsonl, forgotten.json, results/..., earlier/<scored at another time>.json,
      .scored-next.json, .searchwake-lock
  originals/<sha256>, log.jsonl, .searchwake-lock
  incoming/<token>/basket.json, devices.json, .devices.json.lock
  bin/<pack>/...
  bin/<day and time>-<sign>/note.json, whole-run/..., single-files/..., measured.json
  drills/.runs-lock
  people.toml, searchwake.db, .searchwake-workspace
"""

from analyzer.files.names import DRILL_FILE, RUNS

DRILLS = "drills"
RESULTS = "results"
"""Of a workspace, and of an event, which keeps its own."""
RULE_SHEETS = "rules"
EVENTS = "events"
ORIGINALS = "originals"
INCOMING = "incoming"
BIN = "bin"
"""What was taken out of use and is not lost: runs that were deleted, files that were replaced, and files of a pack that
differ from those of the workspace."""
BIN_NOTE = "note.json"
"""Of what lies in the bin: what it is, and where it was."""
BIN_RUN = "whole-run"
BIN_FILES = "single-files"
BIN_RESULT = "measured.json"
"""Of what lies in the bin: a whole run, single files of one, and what the run was measured to be until then."""
RUNS_LOCK = ".runs-lock"
"""In `drills`, held while a run is looked at and then changed: of two who save at once, one comes second."""

PEOPLE_FILE = "people.toml"
DATABASE_FILE = "searchwake.db"
WORKSPACE_MARK = ".searchwake-workspace"
"""Holds what ties a database on a server to its workspace."""
SUMMARY_FILE = "summary.csv"
CACHE_FILE = ".searchwake-cache.json"
LOCK_FILE = ".searchwake-lock"
OWN_FILES = frozenset({SUMMARY_FILE, CACHE_FILE, LOCK_FILE})
"""Beside the folders of drills in `results`: no drill can have these names."""
MOVED_FILE = "moved.jsonl"
"""Of a drill in `results`: one line each time that it was measured anew."""
EARLIER_ENDING = ".earlier"
"""Of a result whose run cannot be used as its files are now: set aside, no result any more, and not lost."""
LOG_FILE = "log.jsonl"
"""Of `originals` and of an event: one line per thing that was done."""
EARLIER_STANDINGS = "earlier"
"""Of an event: its standings before they were scored again, none of them ever overwritten."""
FACTS_FILE = ".searchwake-facts.json"
"""Of an event's results: what was read from each, so that a judge's entry does not need them read again."""
BEGUN_FILE = ".scored-next.json"
"""Of an event: a scoring that the log tells of next; it is there for a moment, or after a call that was killed."""
FORGOTTEN_FILE = "forgotten.json"
"""Of an event: times of runs whose searchers were forgotten, under their bibs."""
UPLOAD_FILE = "basket.json"
DEVICES_FILE = "devices.json"
"""Of `incoming`: phones that may hand in files; hashes of their tokens, and what they sent."""
EVENT_FILE = "event.toml"

SHOWN_NAMES = frozenset({DRILLS, RESULTS, RULE_SHEETS, EVENTS, ORIGINALS, INCOMING, BIN, PEOPLE_FILE, DATABASE_FILE})
"""What a workspace shows of itself; a folder with none of these is none yet."""

EVERY_DRILL = f"{DRILLS}/*/{DRILL_FILE}"
EVERY_RUN = f"*/{RUNS}/*"
EVERY_RESULT = "*/*.json"
EVERY_EARLIER = f"*/*.json{EARLIER_ENDING}"
EVERY_UPLOAD = f"*/{UPLOAD_FILE}"
EVERY_EVENT = f"*/{EVENT_FILE}"
EVERY_BINNED = f"*/{BIN_NOTE}"
"""Patterns: from a workspace, from `drills`, `results` (two), `incoming`, `events` and `bin`."""
