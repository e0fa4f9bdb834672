"""Settings of one dashboard, read once at its start."""

from dataclasses import dataclass
from pathlib import Path

LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8050
PHONES_PORT = 8070
"""First port to try for the pages of phones; our choice, beyond those that the dashboard tries."""
PHONE_COOKIE = "searchwake-phone"
SERVICE_KEY, SHEETS_KEY, CONFIG_KEY = "SEARCHWAKE_SERVICE", "SEARCHWAKE_SHEETS", "SEARCHWAKE_CONFIG"
INTAKE_KEY, PHONES_KEY, RUNS_KEY = "SEARCHWAKE_INTAKE", "SEARCHWAKE_PHONES", "SEARCHWAKE_RUNS"
GROUNDS_KEY, CUTS_KEY = "SEARCHWAKE_GROUNDS", "SEARCHWAKE_CUTS"
"""Where a dashboard's web server keeps its service, rule sheets and settings for the pages."""


@dataclass(frozen=True, slots=True)
class Config:
    """What a dashboard needs to know.

    `results`: folder that holds `<drill>/<run>.json`. `note`: a line shown on the list of runs, such as
    that the runs are invented samples. `drills`: the drill folders that the results are of, where they are at hand.
    `rules`: folder in which rule sheets are saved, None where none are. `workspace`: folder into whose `drills/` new
    drills and runs are put, None where nothing is taken in. `network`: address under which phones hand in files, empty
    where none can.
    """

    results: Path
    note: str = ""
    drills: tuple[Path, ...] = ()
    rules: Path | None = None
    workspace: Path | None = None
    network: str = ""
