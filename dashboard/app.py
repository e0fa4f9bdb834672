"""Builds the dashboard; nothing else."""

from dash import Dash, page_container, page_registry
from dash.exceptions import DependencyException

from dashboard.components.failed import guard_page, tell_failed
from dashboard.components.shell import page_frame
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
from dashboard.export.routes import add_downloads
from dashboard.server.checks import add_checks
from dashboard.server.compress import add_compression
from dashboard.server.cuts import add_cuts
from dashboard.server.failures import add_failures
from dashboard.server.ground import add_grounds
from dashboard.server.guard import add_guard
from dashboard.server.phones.coach import add_phones
from dashboard.server.range_check import add_range_check
from dashboard.server.run_changes import add_run_changes
from dashboard.server.typed_log import add_typed_log
from dashboard.server.uploads import add_intake
from dashboard.services.cuts import Cuts
from dashboard.services.ground import Grounds
from dashboard.services.intake import Intake, bounded
from dashboard.services.measuring import Measuring
from dashboard.services.phones.phones import Phones
from dashboard.services.results import Service
from dashboard.services.rules import Sheets
from dashboard.services.runs import Runs
from dashboard.wording import NAME

_INDEX = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <title>{%title%}</title>
    <link rel="icon" href="data:,">
    {%css%}
  </head>
  <body>
    {%app_entry%}
    <footer>{%config%}{%scripts%}{%renderer%}</footer>
  </body>
</html>
"""


def create_app(config: Config, intake: Intake | None = None) -> Dash:
    """Return a dashboard over the results of `config`; `.server` is the WSGI application.

    `intake`: what takes files in; a plain one where left out.
    """
    app = Dash(
        "dashboard",
        use_pages=True,
        title=NAME,
        update_title=None,
        serve_locally=True,
        suppress_callback_exceptions=True,
        on_error=tell_failed,
        index_string=_INDEX,
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )
    service = Service(config.results, config.drills, config.workspace)
    app.server.config[SERVICE_KEY] = service
    app.server.config[SHEETS_KEY] = Sheets(service, config.drills, config.rules, config.workspace)
    intake = intake or Intake(config.workspace, config.results, config.drills)
    app.server.config[INTAKE_KEY] = intake
    app.server.config[PHONES_KEY] = config.workspace and Phones(config.workspace, intake, service, config.network)
    app.server.config[RUNS_KEY] = config.workspace and Runs(config.workspace, intake, service, Measuring(intake))
    app.server.config[CUTS_KEY] = Cuts(intake)
    app.server.config[GROUNDS_KEY] = Grounds(intake.folders, config.workspace)
    app.server.config[CONFIG_KEY] = config
    for page in page_registry.values():
        guard_page(page)
    add_failures(app.server, missing=DependencyException)
    add_compression(app.server)
    add_downloads(app.server)
    add_intake(app.server)
    add_phones(app.server)
    add_run_changes(app.server)
    add_range_check(app.server)
    add_checks(app.server)
    add_grounds(app.server)
    add_cuts(app.server)
    add_typed_log(app.server)
    add_guard(app.server, scripts=app.csp_hashes, pages=_addresses(), callbacks=app.callback_map)
    app.layout = page_frame(page_container)
    return app


def _addresses() -> list[str]:
    """Return the addresses of all pages, parts that vary in angle brackets."""
    return [page.get("path_template") or page["path"] for page in page_registry.values()]


def app_to_serve(config: Config) -> Dash:
    """Return a dashboard that several threads may ask at once from the first request on, whatever files it is sent.

    Its first request sets the callbacks up, and two at once (a page's assets) trip over each other there: here one
    comes first, alone.
    """
    app = create_app(config, bounded(Intake(config.workspace, config.results, config.drills)))
    app.server.test_client().get(app.get_asset_url("look.css")).close()
    return app
