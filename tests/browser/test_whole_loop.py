"""From an empty folder to a printed sheet, a corrected depth and a log from a film, as a person goes."""

import csv
import json

import pytest

from tests.browser.whole_loop import Hands, correct_depth, lay_out, load, make_files, sheet, type_log


@pytest.fixture
def files(tmp_path):
    return make_files(tmp_path)


@pytest.mark.parametrize("page", [(1280, 900)], indirect=True, ids=["laptop"])
def test_a_day_goes_from_an_empty_folder_to_the_sheet_and_the_film(page, serve, files, tmp_path):
    from analyzer.files.drill_toml import read_drill_toml
    from dashboard.config import Config

    workspace, (buried,) = tmp_path / "workspace", files.drill.transmitters
    workspace.mkdir()
    with serve(Config(workspace / "results", workspace=workspace)) as address:
        hands = Hands(page)
        lay_out(hands, address, files.drill, depth_m=buried.depth_m + 0.6)
        assert hands.presses <= 17
        saved = workspace / "drills" / "morning_slope" / "drill.toml"
        (typed,) = read_drill_toml(saved).transmitters
        assert (typed.east_m, typed.north_m) == (buried.east_m, buried.north_m)
        assert typed.depth_m == pytest.approx(buried.depth_m + 0.6)

        hands = Hands(page)
        load(hands, files.track, files.readings, files.marks, searcher="Jonna Ekdal")
        assert sheet(hands).startswith(b"%PDF-")
        assert hands.presses <= 12
        assert page.run("return document.querySelector('h1').innerText") == "Jonna Ekdal"
        (planted,) = json.loads((tmp_path / "made/runs/run-1/truth.json").read_text())["faults"]
        (result,) = (workspace / "results" / "morning_slope").glob("*.json")
        (found,) = [f for f in json.loads(result.read_text())["findings"] if f["id"].startswith("wrong_way")]
        assert min(found["to_s"], planted["to_s"]) > max(found["from_s"], planted["from_s"])

        hands = Hands(page)
        correct_depth(hands, buried.depth_m)
        assert hands.presses <= 6
        (mended,) = read_drill_toml(saved).transmitters
        assert mended.depth_m == buried.depth_m
        assert result.stem in page.run("return document.body.innerText")

        hands = Hands(page)
        type_log(hands, address, f"morning_slope/{result.stem}", files)
        assert hands.presses <= 3
        written = workspace / "drills" / "morning_slope" / "runs" / result.stem / "readings.csv"
        logged, typed_rows = (list(csv.DictReader(path.read_text().splitlines())) for path in (files.readings, written))
        assert [float(row["reading_m"]) for row in typed_rows] == [float(row["reading_m"]) for row in logged]
        marks = (written.parent / "marks.csv").read_text()
        assert marks.count("start,") == marks.count("probe_hit,") == 1
    assert page.complaints() == []
