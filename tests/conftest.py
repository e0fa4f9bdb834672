"""What all tests share: the builders of drills and recordings, importable as `builders` without a search path."""

import importlib.util
import sys
from pathlib import Path


def _load(name: str) -> None:
    """Load a module beside this file once, under its own name."""
    if name in sys.modules:
        return
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)


_load("builders")
