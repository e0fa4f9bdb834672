"""The table of measures: every list of them is read off it, and what is computed is in it."""

import ast
import importlib.util
from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from analyzer.api import analyze
from analyzer.engine.result import of_the_table
from analyzer.engine.run_line import run_line
from analyzer.events.files.rules_toml import BUILT_IN, built_in_rules
from analyzer.files.rules_toml import default_rules
from analyzer.lab.evaluate.truths import TRUTHS
from analyzer.model.account import Search
from analyzer.model.figure import Figure, exact
from analyzer.model.measures import (
    BY_NAME,
    FOLLOWED,
    GROUPS,
    LESS,
    MEASURES,
    MORE,
    NEITHER,
    RUN,
    SCORABLE,
    ZONE,
    Followed,
    Measure,
    measure_of,
)
from analyzer.model.phases import COARSE, FINE

ROOT = Path(__file__).resolve().parents[3]
OF_A_SEARCH = tuple(m for m in MEASURES if m.phase != RUN)
# Module -> why more than two measures stand in one list of it.
LISTS = {
    "analyzer/lab/evaluate/truths.py": "the truth of every measure",
    "dashboard/view_models/recording_guide.py": "which piece of evidence opens which measure",
    "analyzer/lab/evaluate/trial.py": "the errors that the accuracy table sets limits to",
}
# Where measures, or the truths of them, are computed, where findings rest on them, and the contract of the files.
COMPUTED = (
    "analyzer/files/results/",
    "analyzer/engine/measures/",
    "analyzer/engine/run_line.py",
    "analyzer/engine/verdict/",
    "analyzer/lab/simulate/",
    "analyzer/lab/examiner/",
)


@pytest.fixture(scope="module")
def results():
    return [r for drill in ("long_gully", "lower_bowl") for r in analyze(ROOT / "sample_tracks" / drill)]


@pytest.fixture(scope="module")
def lines(results):
    return [run_line(result, "drill", result.run_id) for result in results]


def figures_of(results):
    return [
        (group, key, figure)
        for result in results
        for search in result.searches
        for group in GROUPS
        for key, figure in getattr(search, group)
    ]


def test_no_two_measures_share_a_name_or_a_title():
    assert len(BY_NAME) == len(MEASURES)
    assert len({m.title for m in MEASURES}) == len(MEASURES)
    followed = [m.key for m, _ in FOLLOWED]
    assert len(set(followed)) == len(followed)  # a run's line has them by key alone


def test_every_figure_of_a_result_is_in_the_table_and_the_other_way_round(results):
    """2026-11-26: three measures had names on the pages that no result carries."""
    carried = {f"{group}.{key}" for group, key, _ in figures_of(results)}
    assert {m.name for m in OF_A_SEARCH} == carried
    units = {(f"{g}.{k}", f.unit) for g, k, f in figures_of(results) if isinstance(f, Figure)}
    assert units <= {(m.name, m.unit) for m in OF_A_SEARCH}


def test_every_search_has_the_measures_that_are_always_there(results):
    always = {m.name for m in OF_A_SEARCH if m.always}
    for search in (s for r in results for s in r.searches):
        assert always <= {f"{group}.{key}" for group in GROUPS for key, _ in getattr(search, group)}


def _search(**figures):
    empty = Search("A", False, (), (), (), (), (), ())
    return (replace(empty, **figures),)


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ({"coarse": (("zigzag_m", exact(1.0, "m")),)}, "coarse.zigzag_m is not in the table"),
        ({"fine": (("wrong_way_m", exact(1.0, "m")),)}, "fine.wrong_way_m is not in the table"),
        ({"fine": (("reach_m", exact(100.0, "cm")),)}, "fine.reach_m is in 'cm'"),
    ],
)
def test_what_the_table_does_not_have_is_in_no_result(figures, said):
    with pytest.raises(ValueError, match=said):
        of_the_table(_search(**figures))


def test_what_the_table_has_passes():
    searches = _search(fine=(("reach_m", exact(1.0, "m")),))
    assert of_the_table(searches) is searches


def test_every_measure_of_a_search_has_a_truth_or_a_reason_why_not():
    neither = {m.name for m in OF_A_SEARCH} - set(TRUTHS)
    assert neither == set(), "neither a truth nor a reason why there is none in analyzer/lab/evaluate/truths.py"
    unknown = {name for name in TRUTHS if not name.startswith("evidence.")} - {m.name for m in OF_A_SEARCH}
    assert unknown == set()
    assert all(callable(truth) or len(truth) > 10 for truth in TRUTHS.values())


def test_a_run_has_every_measure_of_the_season_in_its_unit(lines):
    for line in lines:
        assert [key for key, _ in line.measures] == [m.key for m, _ in FOLLOWED]
    units = {(key, f.unit) for line in lines for key, f in line.measures if isinstance(f, Figure)}
    assert units <= {(m.key, m.unit) for m, _ in FOLLOWED}
    assert {key for key, _ in units} >= {m.key for m in MEASURES if m.phase == RUN}
    assert {m for m in MEASURES if m.phase == RUN} <= {m for m, _ in FOLLOWED}


def test_the_sheets_that_come_along_take_points_for_what_is_worse():
    for item in default_rules().deductions:
        better = BY_NAME[item.measure].better
        assert better != NEITHER, item.measure
        assert better == ZONE or (better == LESS) == (item.points_per_unit > 0.0), item.measure
    for item in (p for name in BUILT_IN for p in built_in_rules(name).penalties if p.measure):
        assert BY_NAME[item.measure].better in (LESS, ZONE), item.measure


@pytest.mark.parametrize(
    "entry",
    [
        {"phase": "fine"},
        {"better": "bigger"},
        {"better": NEITHER, "followed": Followed("Falls", "Rises", (-inf, 1.0))},
        {"better": ZONE, "followed": Followed("Falls", "Rises", (0.5, 1.0))},
        {"better": LESS, "followed": Followed("Falls", "Rises", (0.5, inf))},
        {"better": MORE, "followed": Followed("Falls", "Rises", (0.5, 1.0))},
        {"phase": RUN, "scorable": True},
        {"phase": RUN, "printed": True},
    ],
)
def test_an_entry_that_contradicts_itself_is_refused(entry):
    with pytest.raises(ValueError, match="reach_m"):
        Measure(**({"phase": FINE, "key": "reach_m", "title": "Reach", "unit": "m", "better": MORE} | entry))


def test_lookups():
    assert measure_of("coarse", "walked_m") is BY_NAME["coarse.walked_m"]
    assert measure_of("coarse", "walked_m").phase == COARSE
    assert measure_of("coarse", "reach_m") is None
    assert set(SCORABLE) <= set(BY_NAME)


def _sources():
    for top in ("analyzer", "dashboard"):
        for path in sorted((ROOT / top).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            if name != "analyzer/model/measures.py":
                yield name, ast.parse(path.read_text(encoding="utf-8"))


def _strings(node):
    return {n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)}


def test_no_other_module_has_a_title_of_a_measure():
    titles = {m.title for m in MEASURES if " " in m.title}
    assert {(name, t) for name, tree in _sources() for t in _strings(tree) & titles} == set()


def test_no_other_module_lists_measures():
    """More than two in one tuple, list, set or dictionary are a list of measures."""
    named = {word for m in MEASURES for word in (m.key, m.name)} - {"duration_s", "walked_m", "score"}
    found = {
        name
        for name, tree in _sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.Tuple | ast.List | ast.Set | ast.Dict) and len(_strings(node) & named) > 2
    }
    assert {name for name in found if not name.startswith(COMPUTED)} == set(LISTS)


def test_the_glossary_has_every_measure():
    spec = importlib.util.spec_from_file_location("glossary_support", ROOT / "tests" / "support" / "glossary.py")
    glossary = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(glossary)
    page = glossary.PAGE.read_text(encoding="utf-8")
    assert all(f"| {m.title} |" in page for m in MEASURES)
    assert glossary.renewed(page) == page, "write it anew: python -m tests.support.glossary"


def test_luck_is_shown_and_never_scored():
    luck = BY_NAME["signal.luck_s"]
    assert (luck.unit, luck.better, luck.followed) == ("s", NEITHER, None)
    assert luck.name not in SCORABLE
