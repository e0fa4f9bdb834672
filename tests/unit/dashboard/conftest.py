"""Fixtures of the dashboard's tests."""

import importlib.util
import shutil
import sys
from pathlib import Path

import pytest

from analyzer.files.results.result_json import parse_result, result_bytes, write_result
from tests.support.phones import ADDRESS, SAMPLE


def _load_builder():
    """Return the builder beside this file; the tests' folders are no packages, so it is loaded by its path."""
    name = "dashboard_result_builder"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name("result_builder.py"))
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name].make_result


@pytest.fixture(scope="session")
def make_result():
    """Return the function that builds invented results."""
    return _load_builder()


@pytest.fixture(scope="session")
def result(make_result):
    """Return an invented run as the pages see it: written to bytes and read back."""
    return parse_result(result_bytes(make_result()))


@pytest.fixture
def results_folder(tmp_path, make_result):
    """Return a results folder with three usable runs and one damaged file."""
    runs = {
        "mara-1": {},
        "ilo-1": {"searcher": "Ilo Brandt", "with_readings": False, "findings": 1},
        "<i>odd & run": {"searcher": "<b>Bold</b>", "drill": "<u>Bowl</u>"},
    }
    for run, changes in runs.items():
        write_result(tmp_path / "lower_bowl" / f"{run}.json", make_result(run_id=run, **changes))
    (tmp_path / "lower_bowl" / "zz-damaged.json").write_text('{"format": "searchwake-result/2"}')
    return tmp_path


@pytest.fixture
def app(results_folder):
    """Return a dashboard over `results_folder`; the page registry, which is global, is emptied before and after."""
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import Config

    _pages.PAGE_REGISTRY.clear()
    yield create_app(Config(results_folder, note="Invented runs."))
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def ask(app):
    """Return a function that asks for a page as a browser does: address in, status and text of the answer out."""
    client = app.server.test_client()

    def answer(path, search=""):
        places = [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}]
        values = [
            {"id": "_pages_location", "property": "pathname", "value": path},
            {"id": "_pages_location", "property": "search", "value": search},
        ]
        body = {
            "output": ".._pages_content.children..._pages_store.data..",
            "outputs": places,
            "inputs": values,
            "changedPropIds": ["_pages_location.pathname"],
            "state": [],
        }
        response = client.post("/_dash-update-component", json=body)
        return response.status_code, response.get_data(as_text=True)

    return answer


@pytest.fixture
def here(tmp_path):
    """Return the phones of a workspace with one drill and no run."""
    from dashboard.services.intake import Intake
    from dashboard.services.phones.phones import Phones
    from dashboard.services.results import Service

    folder = tmp_path / "drills" / "lower_bowl"
    folder.mkdir(parents=True)
    shutil.copy(SAMPLE / "drill.toml", folder)
    results = tmp_path / "results"
    return Phones(tmp_path, Intake(tmp_path, results), Service(results), ADDRESS)


@pytest.fixture
def phone(here):
    """Return a maker of phones: browsers, each with a jar of cookies of its own."""
    from dashboard.server.phones.app import phones_app

    app = phones_app(here)
    return lambda: app.test_client()
