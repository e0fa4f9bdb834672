"""What all tests share: builders of drills, recordings and events, importable as `builders` without a search path."""

import importlib.util
import sys
from pathlib import Path

import pytest


def _load(name: str) -> None:
    """Load a module beside this file once, under its own name."""
    if name in sys.modules:
        return
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)


_load("builders")
_load("event_builder")

LONG_MODULES = pytest.StashKey[dict[str, int]]()


def pytest_configure(config):
    """Give the tests the place where they tell of modules that grow too long."""
    config.long_modules_key = LONG_MODULES


def pytest_terminal_summary(terminalreporter, config):
    """Name modules that are longer than they should be and shorter than they must be."""
    for name, lines in sorted(config.stash.get(LONG_MODULES, {}).items()):
        terminalreporter.write_line(f"long module: {name} has {lines} lines")
