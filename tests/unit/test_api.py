"""The notebook entry points give what the command line writes."""

import json
import shutil
from pathlib import Path

import pytest

from analyzer.api import analyze, measures_table, read_drill
from analyzer.cli import main
from analyzer.errors import InputError
from analyzer.files.results.result_json import result_values
from analyzer.files.rules_toml import default_rules
from analyzer.model.figure import Figure
from analyzer.model.recording import Recording
from analyzer.model.result import RunResult

SAMPLE = Path(__file__).parents[2] / "sample_tracks" / "long_gully"


@pytest.fixture
def drill(tmp_path):
    """A copy of the small sample drill whose second run, by name, has no track."""
    folder = tmp_path / "long_gully"
    shutil.copytree(SAMPLE, folder)
    (folder / "runs" / "ilvo-9").mkdir()
    (folder / "runs" / "ilvo-9" / "marks.csv").write_text("elapsed,mark\n0,start\n", encoding="utf-8")
    return folder


def test_read_drill_gives_recordings_and_errors_in_the_order_of_names(drill):
    site, runs = read_drill(drill)
    assert len(site.transmitters) == 3
    assert [type(run) for run in runs] == [Recording, InputError, Recording, Recording]
    assert [run.run_id for run in runs if isinstance(run, Recording)] == ["ilvo-3", "mara-3", "runa-2"]
    assert {item.role for item in runs[0].inputs} >= {"drill", "track", "readings"}


def test_a_missing_folder_is_one_clear_error(tmp_path):
    with pytest.raises(InputError, match="no such drill folder"):
        read_drill(tmp_path / "nowhere")


def test_analyze_gives_what_the_command_writes(drill, tmp_path):
    found = analyze(str(drill), default_rules(), draws=8)
    assert main(["analyze", str(drill), "--out", str(tmp_path / "out"), "--draws", "8", "--jobs", "1"]) == 1
    assert [type(item) for item in found] == [RunResult, InputError, RunResult, RunResult]
    assert found[1].where == "ilvo-9"
    written = json.loads((tmp_path / "out" / "long_gully" / "mara-3.json").read_bytes())
    ours = json.loads(json.dumps(result_values(found[2])))
    assert {k: v for k, v in ours.items() if k != "drill_key"} == {k: v for k, v in written.items() if k != "drill_key"}


def test_without_draws_a_figure_is_its_own_interval(drill):
    first = analyze(drill, draws=0)[0]
    walked = first.searches[0].figure("coarse", "walked_m")
    assert isinstance(walked, Figure)
    assert walked.low == walked.value == walked.high


def test_the_table_holds_every_figure_and_every_reason(drill):
    results = analyze(drill, draws=4)
    table = measures_table(results)
    whole = [r for r in results if isinstance(r, RunResult)]
    groups = ("signal", "coarse", "fine", "pinpoint")
    assert len(table) == sum(len(getattr(s, g)) for r in whole for s in r.searches for g in groups)
    first = whole[0].searches[0].figure("coarse", "walked_m")
    row = table[(table.run == whole[0].run_id) & (table.measure == "walked_m") & (table.phase == "coarse")].iloc[0]
    assert (row.value, row.low, row.high, row.unit) == (first.value, first.low, first.high, "m")
    assert ((table.value.isna()) == (table.why != "")).all()
    assert measures_table([]).columns.tolist() == table.columns.tolist()
