"""The dashboard's rooms: who may know whom, read from the import statements."""

import ast
from pathlib import Path

import pytest

import dashboard

ROOT = Path(dashboard.__file__).parent
NO_DASH = (
    "figures",
    "ids",
    "selection",
    "order",
    "entries",
    "wording",
    "config",
    "service",
    "reference",
    "stretches",
    "comparison",
    "sheets",
    "seasons",
    "rule_form",
    "drill_fields",
    "drill_words",
    "drill_checks",
    "drills",
)
ALLOWED = {
    "figures": (
        "analyzer.model",
        "dashboard.figures",
        "dashboard.selection",
        "dashboard.order",
        "dashboard.stretches",
        "dashboard.wording",
    ),
    "components": (
        "analyzer.model",
        "dashboard.components",
        "dashboard.ids",
        "dashboard.selection",
        "dashboard.order",
        "dashboard.wording",
        "dashboard.entries",
        "dashboard.comparison",
        "dashboard.event_view",
        "dashboard.rule_form",
        "dashboard.drill_fields",
        "dashboard.drill_words",
    ),
    "pages": ("analyzer.model", "dashboard."),
    "takeaway": ("analyzer.model", "dashboard."),
    "debrief_parts": ("analyzer.model", "dashboard."),
    "service": ("analyzer.", "dashboard.entries", "dashboard.reference", "dashboard.stretches"),
    "reference": ("analyzer.model", "analyzer.geo", "analyzer.ideal", "dashboard.stretches"),
    "stretches": ("analyzer.model",),
    "comparison": ("analyzer.model", "dashboard.wording"),
    "seasons": ("analyzer.",),
    "sheets": ("analyzer.", "dashboard.entries", "dashboard.rule_form", "dashboard.service"),
    "rule_form": ("analyzer.model", "analyzer.errors", "dashboard.wording"),
    "drill_fields": ("analyzer.model", "analyzer.errors"),
    "drill_words": ("analyzer.model", "dashboard.drill_fields", "dashboard.wording"),
    "drill_checks": ("analyzer.", "dashboard.drill_fields"),
    "drills": ("analyzer.", "dashboard.drill_checks", "dashboard.drill_fields"),
    "intake": ("analyzer.", "dashboard.config", "dashboard.intake"),
}


def imported(path):
    """Return every module that a file imports, as dotted names."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def files(room):
    found = sorted((ROOT / room).glob("*.py")) if (ROOT / room).is_dir() else [ROOT / f"{room}.py"]
    assert found
    return found


@pytest.mark.parametrize("room", NO_DASH)
def test_rooms_without_dash(room):
    for path in files(room):
        assert not [name for name in imported(path) if name.split(".")[0] in ("dash", "flask")], path.name


@pytest.mark.parametrize("room", ALLOWED)
def test_rooms_know_only_what_they_may(room):
    for path in files(room):
        own = [name for name in imported(path) if name.split(".")[0] in ("analyzer", "dashboard")]
        assert [name for name in own if not name.startswith(ALLOWED[room])] == [], path.name


def test_the_engine_knows_nothing_of_pages_and_charts():
    import analyzer

    for path in sorted(Path(analyzer.__file__).parent.rglob("*.py")):
        if path.name != "cli.py":
            assert not [n for n in imported(path) if n.split(".")[0] in ("dash", "plotly", "dashboard")], path.name


def test_only_the_service_the_values_and_the_commands_read_files():
    for path in sorted(ROOT.rglob("*.py")):
        calls = {
            ast.unparse(node.func)
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call)
        }
        if path.name not in ("service.py", "command.py", "own_files.py", "sheets.py", "seasons.py", "events.py"):
            assert not [c for c in calls if c == "open" or c.endswith((".read_text", ".read_bytes", ".glob"))], (
                path.name
            )
