"""Names of a workspace's folders and files stand in one module; no other writes them again as parts of a path."""

import ast
from pathlib import Path

import pytest

from analyzer.files import names
from analyzer.workspace import layout

ROOT = Path(__file__).resolve().parents[3]
HOMES = {"analyzer/files/names.py", "analyzer/workspace/layout.py"}
OTHERS = {("analyzer/events/files/rules_toml.py", "rules"): "a folder of the package, not of a workspace"}
KNOWN = {
    value
    for module in (names, layout)
    for key, value in vars(module).items()
    if key.isupper() and isinstance(value, str) and "*" not in value
}
FILES = {name for name in KNOWN if "." in name}
PATH_CALLS = {"Path", "glob", "rglob", "joinpath", "with_name"}


def texts(node):
    """Return the constants of an expression that may be a string or an f-string, and where they stand."""
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return [(p.value, p.lineno) for p in parts if isinstance(p, ast.Constant) and isinstance(p.value, str)]


def parts_of(node):
    """Return the texts of a node that are parts of a path, or compared, assigned or collected as a file's name."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div):
        return [*texts(node.right), *texts(node.left)]
    if isinstance(node, ast.Call):
        called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        return [t for argument in node.args for t in texts(argument)] if called in PATH_CALLS else []
    values = {
        ast.Compare: lambda n: [n.left, *n.comparators],
        ast.Assign: lambda n: [n.value],
        ast.Subscript: lambda n: [n.slice],
        ast.Tuple: lambda n: n.elts,
        ast.Dict: lambda n: [*(k for k in n.keys if k is not None), *n.values],
    }.get(type(node), lambda n: [])(node)
    return [t for value in values for t in texts(value) if t[0] in FILES]


def copies(source):
    """Return (name, line) of every name of the layout that a source writes again."""
    parts = [part for node in ast.walk(ast.parse(source)) for part in parts_of(node)]
    return [(piece, line) for text, line in parts for piece in text.split("/") if piece in KNOWN]


@pytest.mark.parametrize(
    "source",
    [
        'workspace / "drills" / name',
        'root.glob("*/runs/*")',
        'path.joinpath("results")',
        'NAME = "people.toml"',
        'if path.name == "drill.toml": pass',
        'data["run.toml"]',
        'f(("readings.csv", 1))',
        'folder / f"{name}/event.toml"',
    ],
)
def test_a_copy_is_seen(source):
    assert len(copies(source)) == 1


def test_no_module_writes_a_name_of_the_layout_again():
    found = [
        f"{path.relative_to(ROOT)}:{line} writes {name!r}"
        for top in ("analyzer", "dashboard")
        for path in sorted((ROOT / top).rglob("*.py"))
        if path.relative_to(ROOT).as_posix() not in HOMES
        and "examiner" not in path.parts  # it shares nothing with what it examines, its file names included
        for name, line in copies(path.read_text(encoding="utf-8"))
        if (path.relative_to(ROOT).as_posix(), name) not in OTHERS
    ]
    assert found == []


def test_names_are_those_that_workspaces_of_users_have():
    """Renaming one would leave the files of every workspace behind."""
    assert {
        "drills", "runs", "results", "rules", "events", "originals", "incoming", "bin", "drill.toml", "run.toml",
        "marks.csv", "rules.toml", "checks.toml",
        "readings.csv", "event.toml", "people.toml", "searchwake.db", "basket.json", "log.jsonl", "summary.csv",
        ".searchwake-cache.json", ".searchwake-lock", ".searchwake-workspace", "truth.json", "moved.jsonl",
        ".earlier", "earlier", ".searchwake-facts.json", "forgotten.json",
        ".scored-next.json", "devices.json", "note.json", "whole-run", "single-files", "measured.json", ".runs-lock",
    } == KNOWN  # fmt: skip
