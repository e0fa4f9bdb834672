"""What a page needs of the dashboard it belongs to, taken from the request that is being answered."""

from flask import current_app

from dashboard.config import (
    CONFIG_KEY,
    CUTS_KEY,
    GROUNDS_KEY,
    INTAKE_KEY,
    PHONES_KEY,
    RUNS_KEY,
    SERVICE_KEY,
    SHEETS_KEY,
    Config,
)
from dashboard.services.cuts import Cuts
from dashboard.services.ground import Grounds
from dashboard.services.intake import Intake
from dashboard.services.phones.phones import Phones
from dashboard.services.results import Service
from dashboard.services.rules import Sheets
from dashboard.services.runs import Runs
from dashboard.services.sheet_in_force import SheetsInForce


def service() -> Service:
    """Return the service of the dashboard that answers."""
    found: Service = current_app.config[SERVICE_KEY]
    return found


def sheets() -> Sheets:
    """Return the rule sheets of the dashboard that answers."""
    found: Sheets = current_app.config[SHEETS_KEY]
    return found


def config() -> Config:
    """Return the settings of the dashboard that answers."""
    found: Config = current_app.config[CONFIG_KEY]
    return found


def intake() -> Intake:
    """Return the way in of the dashboard that answers."""
    found: Intake = current_app.config[INTAKE_KEY]
    return found


def phones() -> Phones | None:
    """Return the phones of the dashboard that answers, None where it has no workspace."""
    found: Phones | None = current_app.config[PHONES_KEY]
    return found


def in_force() -> SheetsInForce | None:
    """Return the rule sheets in force of the dashboard that answers, None where it has no workspace."""
    found = runs()
    return None if found is None else SheetsInForce(found.workspace, sheets(), found.measuring)


def runs() -> Runs | None:
    """Return the runs of the dashboard that answers, None where it has no workspace."""
    found: Runs | None = current_app.config[RUNS_KEY]
    return found


def grounds() -> Grounds:
    """Return the pictures of the ground of the dashboard that answers."""
    found: Grounds = current_app.config[GROUNDS_KEY]
    return found


def cuts() -> Cuts:
    """Return the recordings to cut of the dashboard that answers."""
    found: Cuts = current_app.config[CUTS_KEY]
    return found
