"""Pages asked for as a browser asks, and callbacks called directly."""

import json
import shutil
import sys
from pathlib import Path

import pytest
from dash import no_update
from dash._callback_context import context_value
from dash._utils import AttributeDict
from dash.exceptions import PreventUpdate

from dashboard import ids

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks"


def test_the_list_links_to_every_run(ask):
    status, text = ask("/")
    assert status == 200
    for part in ("Mara Fennick", "Ilo Brandt", "Invented runs.", "zz-damaged.json: the result has no 'run'"):
        assert part in text
    assert "\\u002frun\\u002flower_bowl\\u002fmara-1" in text


def test_the_debrief_shows_all_its_parts(ask):
    status, text = ask("/run/lower_bowl/mara-1")
    assert status == 200
    for part in (
        "What cost most",
        "Timeline",
        "Account",
        "The reference searcher in all",
        "Plan",
        "Distance, readings and pace",
        "Fine search, transmitter A",
        "Fine search, transmitter B",
        "Measures",
        "Score",
        "Evidence",
        "Track and reading log",
        "11 before the start mark",
        "All views show the whole run.",
    ):
        assert part in text
    assert text.count('"className":"finding"') == 4
    assert "the path is uncertain by more than the length of a leg" in text


def test_no_chart_offers_to_leave_the_machine(ask):
    _, text = ask("/run/lower_bowl/mara-1")
    configs = [node["config"] for node in graphs(json.loads(text))]
    assert len(configs) == 5
    assert all(c["showSendToCloud"] is False and c["plotlyServerURL"] == "" for c in configs)


def graphs(node):
    if isinstance(node, dict):
        if node.get("type") == "Graph":
            yield node["props"]
        for value in node.values():
            yield from graphs(value)
    elif isinstance(node, list):
        for value in node:
            yield from graphs(value)


def test_every_chart_is_in_a_frame_with_a_name(ask):
    _, text = ask("/run/lower_bowl/mara-1")
    assert text.count('"role":"figure"') == text.count('"type":"Graph"') == 5


def test_a_link_with_a_window_opens_in_it(ask):
    _, text = ask("/run/lower_bowl/mara-1", "?from=168.0&to=202.0")
    assert "All views show 2:48 to 3:22." in text
    assert text.count('"aria-pressed":"true"') == 2  # the finding and the wrong way in the account


@pytest.mark.parametrize("search", ["?from=x&to=2", "?from=900&to=950", "?from=1&from=2&to=9"])
def test_a_link_with_an_unusable_window_says_so(ask, search):
    status, text = ask("/run/lower_bowl/mara-1", search)
    assert status == 200
    assert "could not be read, or lies outside the run" in text
    assert "All views show the whole run." in text


@pytest.mark.parametrize(
    ("path", "part"),
    [
        ("/run/lower_bowl/gone", "This run is not here"),
        ("/run/nowhere/mara-1", "This run is not here"),
        ("/run/lower_bowl/zz-damaged", "This result cannot be shown"),
        ("/nothing/here/at/all/x", "There is no such page"),
        ("/run/..%2F..%2Fetc/passwd", "This run is not here"),
    ],
)
def test_a_link_that_leads_nowhere_gets_a_page(ask, path, part):
    status, text = ask(path)
    assert status == 200
    assert part in text
    assert ask("/")[0] == 200


def test_names_with_markup_travel_as_text(ask):
    status, text = ask("/run/lower_bowl/%3Ci%3Eodd%20%26%20run")
    assert status == 200
    assert '"children": "<b>Bold</b>"' in json.dumps(json.loads(text))


def test_the_index_holds_no_address_of_another_host(app):
    text = app.server.test_client().get("/").get_data(as_text=True)
    assert "://" not in text.replace("http://localhost", "")
    assert 'lang="en"' in text
    assert "width=device-width" in text


def test_an_index_asked_with_markup_in_its_address_does_not_echo_it(app):
    text = app.server.test_client().get("/run/%3Cscript%3Ealert(1)%3C/script%3E/x").get_data(as_text=True)
    assert "<script>alert" not in text


def test_every_page_carries_the_safety_words(app):
    text = str(app.layout)
    assert "Never for a real rescue" in text
    assert "50 cm when searching" in text


BUTTONS = [ids.show_window("finding", n) for n in range(4)] + [ids.show_window("whole", 0)]


def called(app, name, *arguments, **context):
    """Call a callback of the debrief as the server does, with its context."""
    token = context_value.set(AttributeDict(**context))
    try:
        with app.server.test_request_context("/"):
            return getattr(sys.modules["dashboard.pages.debrief"], name)(*arguments)
    finally:
        context_value.reset(token)


def choose(app, trigger, value, clicked=None):
    """Return the address after a press on a button or the bar."""
    name = json.dumps(trigger, sort_keys=True, separators=(",", ":")) if isinstance(trigger, dict) else trigger
    prop = "n_clicks" if isinstance(trigger, dict) else "clickData"
    fired = [{"prop_id": f"{name}.{prop}", "value": value}]
    return called(app, "choose_window", [None] * 5, clicked, ["lower_bowl", "mara-1"], triggered_inputs=fired)


def show(app, search, shown=""):
    """Return the changes of all views for an address."""
    closeups = [{"id": ids.close_up(n), "property": "figure"} for n in range(2)]
    outputs = [{}, {}, {}, {}, {}, closeups, [{"id": b, "property": "aria-pressed"} for b in BUTTONS]]
    return called(app, "show_window", search, ["lower_bowl", "mara-1"], shown, outputs_list=outputs)


def test_a_press_puts_the_window_into_the_address(app):
    assert choose(app, ids.show_window("finding", 1), 1) == "?from=168.0&to=202.0"
    assert choose(app, ids.show_window("timeline", 0), 1) == "?from=0.0&to=88.0"
    assert choose(app, ids.show_window("phase", 1), 1) == "?from=110.0&to=216.0"
    # Windows of the account are numbered over all rows: the reference's, that of covered twice, the wrong way's.
    assert choose(app, ids.show_window("account", 2), 1) == "?from=168.0&to=202.0"
    assert choose(app, ids.show_window("whole", 0), 3) == ""


def test_choosing_a_piece_of_the_bar_puts_it_into_the_address(app):
    clicked = {"points": [{"customdata": [124.0, 158.0]}]}
    assert choose(app, ids.TIMELINE, clicked, clicked) == "?from=124.0&to=158.0"


def test_buttons_that_merely_appear_change_nothing(app):
    assert choose(app, ids.show_window("finding", 0), None) is no_update


def test_a_new_address_moves_all_views(app):
    shown, caption, timeline, curves, plan, closeups, pressed = show(app, "?from=168.0&to=202.0")
    assert shown == "?from=168.0&to=202.0"
    assert caption == "All views show 2:48 to 3:22."
    assert pressed == ["false", "true", "false", "false", "false"]
    assert len(closeups) == 2
    for change in (timeline, curves, plan, *closeups):
        assert change.to_plotly_json()["operations"]


def test_going_back_shows_the_whole_run(app):
    _, caption, *_, pressed = show(app, "", shown="?from=168.0&to=202.0")
    assert caption == "All views show the whole run."
    assert pressed == ["false", "false", "false", "false", "true"]


def test_the_address_that_is_shown_changes_nothing(app):
    with pytest.raises(PreventUpdate):
        show(app, "?from=168.0&to=202.0", shown="?from=168.0&to=202.0")


def test_the_answer_to_a_new_address_is_small(app):
    *_, plan, closeups, _ = show(app, "?from=168.0&to=202.0")
    assert len(json.dumps([plan.to_plotly_json(), *[c.to_plotly_json() for c in closeups]])) < 12_000


def test_two_dashboards_in_one_process_keep_their_own_folders(app, make_result, tmp_path_factory):
    from analyzer.files.results.result_json import write_result
    from dashboard.app import create_app
    from dashboard.config import Config

    folder = tmp_path_factory.mktemp("other")
    write_result(folder / "upper_bowl" / "nils-1.json", make_result(searcher="Nils Torp", run_id="nils-1"))
    other = create_app(Config(folder))
    page = sys.modules["dashboard.pages.overview"]
    with other.server.test_request_context("/"):
        assert "Nils Torp" in str(page.layout())
    with app.server.test_request_context("/"):
        assert "Nils Torp" not in str(page.layout())


def test_runs_that_rest_on_different_knowledge_are_told_and_measured_anew(tmp_path):
    """By the engine itself: two runs together, a third later, then all anew by the press of the button."""
    from analyzer.files.rules_toml import default_rules
    from analyzer.workspace.batch import Batch, analyze_drills
    from dashboard.app import create_app
    from dashboard.config import Config
    from dashboard.services.intake import Intake

    source, drill = SAMPLES / "lower_bowl", tmp_path / "drills" / "lower_bowl"
    drill.mkdir(parents=True)
    shutil.copy(source / "drill.toml", drill)
    one, two, later = sorted(p.name for p in (source / "runs").iterdir())[:3]
    batch = Batch(tmp_path / "results", default_rules())
    for run in (one, two):
        shutil.copytree(source / "runs" / run, drill / "runs" / run)
    analyze_drills([drill], batch)
    app = create_app(Config(tmp_path / "results", workspace=tmp_path))
    page = sys.modules["dashboard.pages.overview"]

    def shown():
        with app.server.test_request_context("/"):
            return str(page.layout())

    assert "rest on different knowledge" not in shown()
    before = (tmp_path / "results/lower_bowl" / f"{one}.json").read_bytes()
    shutil.copytree(source / "runs" / later, drill / "runs" / later)
    analyze_drills([drill], batch)
    assert (tmp_path / "results/lower_bowl" / f"{one}.json").read_bytes() == before
    assert "rest on different knowledge" in shown()
    assert "Measure the drill anew" in shown()
    lines = Intake(tmp_path, tmp_path / "results").measure_anew("lower_bowl")
    assert [line.partition(":")[0] for line in lines] == [one, two, later]
    assert "rest on different knowledge" not in shown()
    noted = (tmp_path / "results/lower_bowl/moved.jsonl").read_text()
    assert [run["run"] for run in json.loads(noted)["runs"]] == [one, two, later]


def test_an_empty_folder_says_what_to_do(tmp_path):
    from dashboard.app import create_app
    from dashboard.config import Config

    app = create_app(Config(tmp_path))
    with app.server.test_request_context("/"):
        assert "searchwake analyze DRILL --out DIR" in str(sys.modules["dashboard.pages.overview"].layout())
