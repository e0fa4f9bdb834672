"""Who may import whom, who may touch files and the clock, and how long a module may be; read off the source.

A part may import parts of lower rows only; parts of one row do not import each other. Departures are listed by name
with their reason, and a departure that is no longer needed fails the test as well.
"""

import ast
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

# Part -> (row, third-party packages it may import). A module belongs to the part with the longest matching name.
PARTS = {
    "analyzer.cli": (19, set()),
    "dashboard.command": (18, set()),
    "dashboard.app": (17, {"dash"}),
    "dashboard.pages": (16, {"dash", "flask"}),
    "dashboard.server": (16, {"flask", "ifaddr", "waitress", "werkzeug"}),
    "dashboard.export": (15, {"dash", "flask", "matplotlib", "numpy", "plotly"}),
    "dashboard.components": (14, {"dash"}),
    "dashboard.figures": (13, {"plotly", "numpy", "segno"}),
    "dashboard.services": (12, set()),
    "dashboard.view_models": (11, {"numpy"}),
    "dashboard": (10, set()),  # ids, wording, config
    "analyzer.commands": (9, {"rich"}),
    "analyzer.api": (9, {"pandas"}),
    "analyzer.lab.evaluate.events": (9, {"numpy"}),  # holds events against the truth, so it lies above both
    "analyzer.events": (8, {"cattrs", "sqlalchemy", "numpy"}),
    "analyzer.seasons": (8, {"numpy", "scipy", "pandas", "sqlalchemy"}),
    "analyzer.lab.evaluate": (7, {"numpy", "scipy", "joblib", "rich"}),
    "analyzer.workspace": (7, {"sqlalchemy", "alembic", "joblib", "rich", "tomlkit", "numpy", "PIL"}),
    "analyzer.lab.simulate": (6, {"numpy", "scipy"}),
    "analyzer.lab.examiner": (6, {"numpy"}),
    "analyzer.lab": (6, set()),  # the package itself: its words
    "analyzer.engine.pipeline": (5, {"numpy"}),
    "analyzer.engine.run_line": (5, {"numpy"}),
    "analyzer.engine": (5, set()),  # the package itself: its words
    "analyzer.files": (5, {"numpy", "gpxpy", "pandas", "fitdecode", "cattrs", "python_calamine"}),
    "analyzer.engine.evidence": (4, {"numpy"}),
    "analyzer.engine.result": (4, {"numpy"}),
    "analyzer.engine.fusion": (4, {"numpy", "scipy"}),
    "analyzer.engine.phases": (4, {"numpy", "scipy"}),
    "analyzer.engine.ideal": (4, {"numpy", "scipy"}),
    "analyzer.engine.measures": (4, {"numpy", "scipy"}),
    "analyzer.engine.range_check": (4, {"numpy", "scipy"}),
    "analyzer.engine.cutting": (4, {"numpy"}),
    "analyzer.engine.verdict": (4, {"numpy", "scipy"}),
    "analyzer.geometry": (3, {"numpy", "scipy", "pyproj"}),
    "analyzer.physics": (3, {"numpy", "scipy"}),
    "analyzer.model": (2, {"numpy"}),
    "analyzer.errors": (1, set()),
    "analyzer": (0, set()),  # the package itself: its version
}

# (module, imported part or package) -> why this one may.
DEPARTURES = {
    ("analyzer.files.tracks.track", "pyproj"): "distances from the drill over the ellipsoid, before there is a plane",
    ("dashboard.components.charts", "numpy"): "turns arrays of a figure into what the browser takes",
}

# Modules that may open files, look at folders or read the clock.
OUTER = (
    "analyzer.files",
    "analyzer.cli",
    "analyzer.api",
    "analyzer.workspace",
    "analyzer.events",
    "analyzer.seasons.source",
    "analyzer.commands",
    "analyzer.lab.simulate.write",
    "analyzer.lab.examiner.__main__",
    "analyzer.lab.examiner.noise",
    "dashboard.command",
    "dashboard.config",
    "dashboard.server.listen",
    "dashboard.services",
    "dashboard.export.own_files",
)
OUTER_MODULES = {
    "os",
    "pathlib",
    "time",
    "shutil",
    "subprocess",
    "socket",
    "tempfile",
    "urllib.request",
    "http",
    "random",
}
OUTER_CALLS = {
    "open",
    "read_text",
    "write_text",
    "read_bytes",
    "write_bytes",
    "mkdir",
    "unlink",
    "iterdir",
    "glob",
    "rglob",
    "now",
    "utcnow",
    "today",
    "perf_counter",
    "monotonic",
    "print",
    "input",
}

STAGES = {f"analyzer.engine.{stage}" for stage in ("cutting", "fusion", "phases", "ideal", "measures", "verdict")}
OWN_ERRORS = {"AnalyzerError", "InputError", "FileError", "EstimationError"}
# What of the engine's packages are plain values, for every module of the dashboard to see.
PLAIN_VALUES = {
    "analyzer.model",
    "analyzer.errors",
    "analyzer.files.csv_cells",  # a function of texts
    "analyzer.events.model",
    "analyzer.events.shown",
    "analyzer.seasons.model",
    "analyzer.workspace.intake.model",
}
DOORS = ("dashboard.services", "dashboard.command")

LONGEST_MODULE, LONG_MODULE, LONGEST_FUNCTION = 400, 300, 40
# Function -> why it is longer than LONGEST_FUNCTION lines without its docstring.
LONG_FUNCTIONS = {
    "analyzer.physics.line_tracing.follow": "one numeric loop over all lines; cut apart it would copy its state",
    "analyzer.lab.simulate.coarse.coarse_search": "one loop over a searcher's steps, with its state",
}


# Packages whose own __init__ holds but words: what is imported from them is a module.
PACKAGES = {
    ".".join(p.parent.relative_to(ROOT).parts)
    for top in ("analyzer", "dashboard")
    for p in (ROOT / top).rglob("__init__.py")
}


NAMES = {
    ".".join(p.relative_to(ROOT).with_suffix("").parts)
    for top in ("analyzer", "dashboard")
    for p in (ROOT / top).rglob("*.py")
} | PACKAGES - {"analyzer", "dashboard"}


@dataclass(frozen=True)
class Module:
    """One source file: dotted name, text, syntax tree."""

    name: str
    text: str
    tree: ast.Module

    @property
    def part(self) -> str:
        """The part of PARTS it belongs to."""
        return part_of(self.name)


def part_of(name: str) -> str:
    return max((p for p in PARTS if name == p or name.startswith(f"{p}.")), key=len)


@cache
def modules() -> tuple[Module, ...]:
    found = []
    for top in ("analyzer", "dashboard"):
        for path in sorted((ROOT / top).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            text = path.read_text(encoding="utf-8")
            found.append(Module(name, text, ast.parse(text)))
    return tuple(found)


def imported(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Yield dotted names of all imports with their levels (0: absolute), wherever in the module they stand.

    Of `from package import x` the name is `package.x`, for x may be a module.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, 0) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if base in PACKAGES:
                yield from ((f"{base}.{alias.name}", node.level) for alias in node.names)
            else:
                yield base, node.level
        elif isinstance(node, ast.Constant) and node.value in NAMES:  # imported at run time, by its name in a string
            yield node.value, 0


def ours(name: str) -> bool:
    return name.split(".")[0] in ("analyzer", "dashboard")


def crossings(module: Module) -> Iterator[str]:
    """Yield parts and packages that a module imports and may not."""
    row, packages = PARTS[module.part]
    for name, _ in imported(module.tree):
        top = name.split(".")[0]
        if ours(name):
            target = part_of(name)
            # Within one part modules see each other; the plain values of the dashboard are such a part too.
            if target != module.part and PARTS[target][0] >= row:
                yield target
        elif top not in sys.stdlib_module_names and top not in packages:
            yield top


@pytest.mark.parametrize("module", modules(), ids=lambda m: m.name)
def test_imports_run_downwards(module):
    wrong = {name for name in crossings(module) if (module.name, name) not in DEPARTURES}
    assert not wrong, f"{module.name} may not import {', '.join(sorted(wrong))}"


def test_every_departure_is_still_needed():
    taken = {(m.name, name) for m in modules() for name in crossings(m)}
    assert set(DEPARTURES) <= taken


def test_the_table_names_what_there_is():
    """A new folder is put into the table, not into the row of the bare package."""
    bare = {m.name for m in modules() if m.part == "analyzer" and m.name != "analyzer"}
    assert not bare


def renamed_errors(module: Module) -> Iterator[str]:
    """Yield names that a module gives to an error of analyzer.errors: an alias, or a subclass that adds only a name."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.ImportFrom) and node.module == "analyzer.errors":
            yield from (alias.asname for alias in node.names if alias.asname)
        elif isinstance(node, ast.Assign) and isinstance(node.value, ast.Name) and node.value.id in OWN_ERRORS:
            yield from (target.id for target in node.targets if isinstance(target, ast.Name))
        elif isinstance(node, ast.ClassDef) and module.name != "analyzer.errors" and len(node.body) == 1:
            yield from (node.name for base in node.bases if isinstance(base, ast.Name) and base.id in OWN_ERRORS)


def test_an_error_has_one_name():
    """Pages, exports and services let the engine's errors through under the name that they are raised by."""
    assert {m.name: names for m in modules() if (names := list(renamed_errors(m)))} == {}
    made = "from analyzer.errors import InputError as E\nP = AnalyzerError\nclass Q(AnalyzerError):\n    'Only a name.'"
    assert list(renamed_errors(Module("dashboard.services.x", made, ast.parse(made)))) == ["E", "P", "Q"]


def test_imports_are_absolute():
    for module in modules():
        assert all(level == 0 for _, level in imported(module.tree)), module.name


def test_only_the_pipeline_sees_two_stages():
    for module in modules():
        seen = {part_of(name) for name, _ in imported(module.tree) if ours(name)} & STAGES
        others = seen - {module.part}
        if module.part in STAGES:
            assert not others, module.name
        elif module.name != "analyzer.engine.pipeline":
            assert len(seen) <= 1, module.name


def test_simulator_knows_nothing_of_the_estimator():
    allowed = {"analyzer.lab.simulate", "analyzer.model", "analyzer.geometry", "analyzer.physics", "analyzer.errors"}
    for module in modules():
        if module.part == "analyzer.lab.simulate" and module.name != "analyzer.lab.simulate.write":
            assert {part_of(n) for n, _ in imported(module.tree) if ours(n)} <= allowed, module.name


def test_examiner_knows_nothing_but_itself():
    """It keeps the project from fitting to its own simulator: nothing is shared with what it examines."""
    own = [m for m in modules() if m.part == "analyzer.lab.examiner"]
    assert len(own) > 5
    for module in own:
        assert all(part_of(n) == module.part for n, _ in imported(module.tree) if ours(n)), module.name


def test_the_examiner_is_met_at_one_place():
    seers = {
        m.name for m in modules() for n, _ in imported(m.tree) if ours(n) and part_of(n) == "analyzer.lab.examiner"
    }
    assert {n for n in seers if not n.startswith("analyzer.lab.examiner")} <= {"analyzer.lab.evaluate.examined"}


def is_plain(name: str) -> bool:
    """Whether an imported name lies in a module of plain values; of `from x import y` the module is x or x.y."""
    return any(name == plain or name.startswith(f"{plain}.") for plain in PLAIN_VALUES)


def opened(module: Module) -> set[str]:
    """Return what a module of the dashboard imports of the engine beyond plain values."""
    return {name for name, _ in imported(module.tree) if name.split(".")[0] == "analyzer" and not is_plain(name)}


def test_only_services_and_the_command_open_the_engine():
    for module in modules():
        if module.name.startswith("dashboard") and module.part not in DOORS:
            assert not opened(module), module.name


def test_files_see_model_and_geometry_alone():
    for module in modules():
        if module.part == "analyzer.files":
            seen = {part_of(name) for name, _ in imported(module.tree) if ours(name)}
            assert seen <= {"analyzer.files", "analyzer.model", "analyzer.geometry", "analyzer.errors"}, module.name


def test_engine_knows_nothing_of_the_dashboard():
    for module in modules():
        if module.name.startswith("analyzer") and module.part != "analyzer.cli":
            tops = {n.split(".")[0] for n, _ in imported(module.tree)}
            assert not tops & {"dash", "plotly", "flask", "dashboard"}, module.name


def test_pages_are_loaded_by_the_dashboard_alone():
    """Their registry is global: a second import would register every page twice."""
    for module in modules():
        if module.part != "dashboard.pages":
            assert not any(n.startswith("dashboard.pages") for n, _ in imported(module.tree)), module.name


def is_outer(name: str) -> bool:
    return any(name == o or name.startswith(f"{o}.") for o in OUTER)


def called(tree: ast.AST) -> Iterator[tuple[str, int]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name):
                yield node.func.id, node.lineno
            elif isinstance(node.func, ast.Attribute):
                yield node.func.attr, node.lineno


@pytest.mark.parametrize("module", [m for m in modules() if not is_outer(m.name)], ids=lambda m: m.name)
def test_files_and_clock_stay_outside(module):
    names = {n for n, _ in imported(module.tree)}
    assert not (names | {n.split(".")[0] for n in names}) & OUTER_MODULES
    used = [f"line {line}: {name}" for name, line in called(module.tree) if name in OUTER_CALLS]
    assert not used


def lines_of(module: Module) -> int:
    return len(module.text.splitlines())


def test_no_module_is_too_long():
    lengths = {m.name: lines_of(m) for m in modules()}
    assert {name: n for name, n in lengths.items() if n > LONGEST_MODULE} == {}


def test_long_modules_are_told(request):
    """Between the two limits a module is named at the end of the test run and still passes."""
    long = {m.name: lines_of(m) for m in modules() if lines_of(m) > LONG_MODULE}
    request.config.stash.setdefault(request.config.long_modules_key, {}).update(long)
    assert all(n <= LONGEST_MODULE for n in long.values())


def functions(module: Module) -> Iterator[tuple[str, int]]:
    """Yield dotted names of functions and how many lines they have without their docstring."""

    def walk(node: ast.AST, prefix: str) -> Iterator[tuple[str, int]]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                doc = child.body[0].end_lineno - child.body[0].lineno + 1 if ast.get_docstring(child) else 0
                yield f"{prefix}.{child.name}", child.end_lineno - child.lineno + 1 - doc
                yield from walk(child, f"{prefix}.{child.name}")
            elif isinstance(child, ast.ClassDef):
                yield from walk(child, f"{prefix}.{child.name}")
            else:
                yield from walk(child, prefix)

    yield from walk(module.tree, module.name)


def test_functions_are_short():
    long = {name: n for m in modules() for name, n in functions(m) if n > LONGEST_FUNCTION}
    assert {name: n for name, n in long.items() if name not in LONG_FUNCTIONS} == {}
    assert set(LONG_FUNCTIONS) <= set(long), "an exception is no longer needed"


@pytest.mark.parametrize("module", modules(), ids=lambda m: m.name)
def test_every_module_says_what_it_is(module):
    doc = ast.get_docstring(module.tree) or ""
    assert len(doc) > 10
    assert "TODO" not in module.text


def loaded_by(statement: str) -> set[str]:
    """Return the packages in memory after a statement in a fresh interpreter."""
    code = f"import sys\n{statement}\nprint(*sorted({{m.split('.')[0] for m in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


HEAVY = {"numpy", "scipy", "pandas", "gpxpy", "lxml", "fitdecode", "pyproj", "sqlalchemy", "joblib", "dash", "plotly"}


@pytest.mark.parametrize(
    "statement", ["import analyzer", "import analyzer.errors, analyzer.physics.constants", "import analyzer.cli"]
)
def test_import_is_light(statement):
    loaded = loaded_by(statement)
    assert "analyzer" in loaded
    assert not loaded & HEAVY


def test_engine_does_not_load_what_only_readers_and_views_need():
    loaded = loaded_by("import analyzer.engine.pipeline")
    assert "numpy" in loaded
    assert not loaded & {"pandas", "gpxpy", "lxml", "fitdecode", "dash", "plotly", "flask", "sqlalchemy"}


def test_the_checks_see_what_they_look_for():
    """Made-up modules that break each rule are caught."""

    def made(name, text):
        return Module(name, text, ast.parse(text))

    assert set(
        crossings(made("analyzer.engine.phases.split", "from analyzer.engine.fusion.fuse import fuse_drill"))
    ) == {"analyzer.engine.fusion"}
    assert set(crossings(made("analyzer.model.path", "def f():\n    import scipy.linalg"))) == {"scipy"}
    assert set(crossings(made("analyzer.engine.measures.legs", "from analyzer.engine import pipeline"))) == {
        "analyzer.engine.pipeline"
    }
    assert set(crossings(made("analyzer.geometry.a", "from analyzer.physics import dipole"))) == {"analyzer.physics"}
    hidden = made("analyzer.files.source", "import importlib\nimportlib.import_module('analyzer.engine.pipeline')")
    assert set(crossings(hidden)) == {"analyzer.engine.pipeline"}
    fine = made("analyzer.geometry.a", "import math, numpy\nfrom analyzer.model.arrays import frozen")
    assert set(crossings(fine)) == set()
    assert [name for name, _ in called(ast.parse("Path('x').read_text()\nopen('x')"))].count("open") == 1
    method = "class A:\n    def f(self):\n        '''Doc\n        doc.'''\n        return 1\n"
    assert dict(functions(made("m", method))) == {"m.A.f": 2}
