"""The Load page and the addresses that it sends to, asked without a browser."""

import errno
import io
import json
import os
import time
import zipfile
from pathlib import Path

import pytest

from analyzer.workspace.intake import import_files
from analyzer.workspace.intake import recognise as recognise_module
from analyzer.workspace.intake.originals import storage_error
from dashboard.config import INTAKE_KEY, Config
from dashboard.services.intake import Intake

SAMPLES = Path(__file__).resolve().parents[3] / "sample_tracks" / "lower_bowl"
TOKEN = "AAAABBBBCCCC"


@pytest.fixture
def make_app(tmp_path):
    """Return a function that starts a dashboard over a workspace; each call is a restart."""
    from dash import _pages

    from dashboard.app import create_app

    def make():
        _pages.PAGE_REGISTRY.clear()
        return create_app(Config(tmp_path / "results", rules=tmp_path / "rules", workspace=tmp_path))

    yield make
    _pages.PAGE_REGISTRY.clear()


@pytest.fixture
def app(make_app):
    """Return a dashboard over an empty workspace."""
    return make_app()


@pytest.fixture
def client(app):
    """Return who asks it."""
    return app.server.test_client()


def send(client, name, data, token=TOKEN, headers=None, **query):
    answer = client.post(
        "/take-in",
        query_string={"batch": token, "name": name} | query,
        data=data,
        headers=headers,
        content_type="application/octet-stream",
    )
    return answer.status_code, (answer.get_json(silent=True) or {}).get("line", answer.text)


def sample(path):
    return (SAMPLES / path).read_bytes()


def settle(client, **form):
    return client.post("/take-in/settle", query_string={"batch": TOKEN}, data=form)


def waited(app):
    intake = app.server.config[INTAKE_KEY]
    for _ in range(600):
        if intake.basket(TOKEN).state == "done":
            return intake.basket(TOKEN)
        time.sleep(0.05)
    raise AssertionError("the work did not end")


def test_three_files_become_a_measured_run(app, client, ask, tmp_path):
    assert "Drop the files" in ask("/load")[1]
    for name in ("drill.toml", "runs/ilvo-2/track.gpx", "runs/ilvo-2/readings.csv"):
        assert send(client, Path(name).name, sample(name)) == (200, "")
    assert "Everything has one clear place" in ask("/load", f"?batch={TOKEN}")[1]
    answer = settle(client, drill="new:1", folder="bowl")
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/load?batch={TOKEN}")
    assert waited(app).outcome.runs == ("ilvo-2",)
    page = ask("/load", f"?batch={TOKEN}")[1]
    assert "/run/bowl/ilvo-2" in page.replace("\\u002f", "/")
    assert "3 files put in" in page
    assert (tmp_path / "results/bowl/ilvo-2.json").is_file()
    assert "ilvo-2" in ask("/")[1]


def test_a_bad_file_has_its_line_and_the_rest_goes_on(client, ask):
    status, line = send(client, "<i>r</i>.csv", b"time,reading_m\nnoon,3\n")
    assert (status, line.startswith("<i>r</i>.csv, line 2: the time 'noon'")) == (200, True)
    send(client, "a.gpx", sample("runs/mara-1/track.gpx"))
    page = ask("/load", f"?batch={TOKEN}")[1]
    assert "1 not used; the rest goes on" in page
    assert "1 track" in page
    send(client, "drill.toml", sample("drill.toml"))
    page = ask("/load", f"?batch={TOKEN}")[1]
    assert "Not used, as told above: 1 file. Everything else has one clear place" in page
    assert "Everything has" not in page


def test_what_is_open_is_asked_before_anything_is_moved(client, ask, tmp_path):
    send(client, "drill.toml", sample("drill.toml"))
    send(client, "mara-1.gpx", sample("runs/mara-1/track.gpx"))
    send(client, "ilvo-1.gpx", sample("runs/ilvo-1/track.gpx"))
    send(client, "video.csv", b"elapsed,reading_m\n10,30\n20,25\n")
    settle(client, **{"name-2": "mara <1>"})
    page = ask("/load", f"?batch={TOKEN}")[1]
    assert "To decide: 1" in page  # a title is any words: the folder's name takes care of itself
    assert "Folder mara-1" in page
    assert "video.csv: choose its run" in page
    assert not (tmp_path / "drills").exists()


def test_what_was_shown_and_not_changed_is_no_choice(app, client):
    """A default that was right for one drill must not decide for another one."""
    send(client, "drill.toml", sample("drill.toml"))
    send(client, "mara-1.gpx", sample("runs/mara-1/track.gpx"))
    send(client, "x.csv", b"elapsed,reading_m\n10,30\n")
    settle(client, **{"name-2": "mara-1", "use-2": "yes", "of-3": "", "folder": "other", "unknown": "x"})
    basket = app.server.config[INTAKE_KEY].basket(TOKEN)
    assert basket.choices == {"folder": "other"}


def test_a_restart_finds_the_basket_and_says_what_was_broken_off(make_app, client, ask, tmp_path):
    send(client, "drill.toml", sample("drill.toml"))
    path = tmp_path / "incoming" / TOKEN / "basket.json"
    values = json.loads(path.read_text())
    path.write_text(json.dumps(values | {"state": "working", "owner": "earlier"}))
    again = make_app()
    basket = again.server.config[INTAKE_KEY].basket(TOKEN)
    assert basket.state == "open"
    assert "broken off" in basket.refused[-1]


@pytest.mark.parametrize("token", ["AAAABBBBCCCD", "../../etc", "<script>"])
def test_a_stale_link_says_so(ask, token):
    status, page = ask("/load", f"?batch={token}")
    assert status == 200
    assert "This load is not here" in page


def test_a_decision_on_a_load_that_is_gone_says_so(client):
    answer = settle(client)
    assert answer.status_code == 422
    assert "it is not in the workspace" in answer.get_data(as_text=True)


def test_files_for_a_load_at_work_are_refused(app, client):
    send(client, "drill.toml", sample("drill.toml"))
    settle(client)
    waited(app)
    status, line = send(client, "a.gpx", sample("runs/mara-1/track.gpx"))
    assert status == 422
    assert "open Load again for further files" in line


def test_what_was_left_out_can_be_decided_on_again(app, client, tmp_path):
    send(client, "drill.toml", sample("drill.toml"))
    send(client, "ilvo-2.gpx", sample("runs/ilvo-2/track.gpx"))
    settle(client, **{"use-2": "no"})
    assert [f.path for f in waited(app).files if f.waits] == ["ilvo-2.gpx"]
    assert client.post("/take-in/reopen", query_string={"batch": TOKEN}).status_code == 303
    settle(client)
    assert waited(app).outcome.runs == ("ilvo-2",)
    assert (tmp_path / "drills/lower-bowl-invented/runs/ilvo-2/track.gpx").is_file()


def test_a_file_of_500_megabytes_is_refused_by_its_size(client, ask, tmp_path):
    send(client, "a.gpx", sample("runs/mara-1/track.gpx"))
    status, line = send(client, "huge.gpx", b"", size="500000000")
    assert (status, "500 MB; at most 100 MB" in line) == (413, True)
    assert "huge.gpx: the file has 500 MB" in ask("/load", f"?batch={TOKEN}")[1]
    assert len(list((tmp_path / "originals").glob("[!.]*"))) == 2


def test_a_file_that_is_larger_than_it_says_is_stopped(client, monkeypatch, tmp_path):
    from analyzer.workspace.intake import import_files as taking

    monkeypatch.setattr(taking, "MAX_UPLOAD", 1000)
    status, line = send(client, "a.gpx", b"x" * 2000, size="10")
    assert status == 422
    assert "at most 0 MB are taken" in line
    assert list((tmp_path / "originals").iterdir()) == []


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS])
def test_a_workspace_that_is_full_or_read_only_says_so_and_the_server_stays_up(client, ask, monkeypatch, code):
    def refuse(*_):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "fsync", refuse)
    status, line = send(client, "a.gpx", b"x")
    monkeypatch.undo()
    assert status == 422
    assert ("no room left" if code == errno.ENOSPC else "read-only") in line
    assert send(client, "a.gpx", sample("runs/mara-1/track.gpx")) == (200, "")
    assert "1 track" in ask("/load", f"?batch={TOKEN}")[1]


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Host": "elsewhere.example"},
        {"Host": "127.0.0.1.elsewhere.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://localhost:1"},
    ],
)
def test_other_pages_cannot_send(client, headers, tmp_path):
    assert send(client, "a.gpx", b"x", headers=headers)[0] == 403
    for address in ("/take-in/settle", "/take-in/reopen"):
        assert client.post(address, query_string={"batch": TOKEN}, headers=headers).status_code == 403
    assert not (tmp_path / "originals").exists()


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://localhost"},
        {"Host": "127.0.0.1:8050"},
        {"Host": "[::1]:8050", "Origin": "http://[::1]:8050"},
    ],
)
def test_our_own_pages_can(client, headers):
    assert send(client, "a.gpx", sample("runs/mara-1/track.gpx"), headers=headers)[0] == 200


def test_without_a_workspace_nothing_is_taken_in(results_folder, tmp_path):
    intake = Intake(None, results_folder)
    assert (intake.places(), intake.folders(), intake.basket(TOKEN)) == ((), (), None)
    with pytest.raises(ValueError, match="it has no workspace to load into"):
        intake.take(TOKEN, "a.gpx", 1, [b"x"])


def zipped(**content):
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        for name, inner in content.items():
            archive.writestr(name, inner)
    return data.getvalue()


def odd_reader(data, name):
    if b"odd" in data:
        raise RecursionError("too deep")
    return usual_reader(data, name)


usual_reader = recognise_module._reader


def test_a_file_whose_reading_fails_unforeseen_has_its_line_and_the_rest_goes_on(app, client, monkeypatch):
    """2026-11-27: it was answered 500, and the page that sent it gave up on the rest of the drop."""
    monkeypatch.setattr(recognise_module, "_reader", odd_reader)
    status, line = send(client, "a.csv", b"odd")
    assert (status, "a.csv: reading itself failed (RecursionError: too deep)" in line) == (200, True)


def test_a_bad_member_does_not_take_its_zip_along(app, client, monkeypatch):
    monkeypatch.setattr(recognise_module, "_reader", odd_reader)
    inner = {"runs/a/track.gpx": sample("runs/mara-1/track.gpx"), "runs/b/readings.csv": b"odd"}
    status, _ = send(client, "drill.zip", zipped(**inner))
    basket = app.server.config[INTAKE_KEY].basket(TOKEN)
    kinds = [(f.path, f.kind, bool(f.problem)) for f in basket.files]
    assert status == 200
    assert kinds == [("runs/a/track.gpx", "track", False), ("runs/b/readings.csv", "other", True)]
    assert "runs/b/readings.csv: reading itself failed" in basket.files[1].problem


def test_a_disk_that_fills_up_half_way_keeps_what_came_out_of_the_zip(app, client, monkeypatch):
    def full(workspace, name, chunks, **settings):
        if name.endswith("b.csv"):
            raise storage_error(name, OSError(errno.ENOSPC, "full"))
        return keep(workspace, name, chunks, **settings)

    keep = import_files.keep
    monkeypatch.setattr(import_files, "keep", full)
    assert send(client, "x.zip", zipped(**{"a.gpx": sample("runs/mara-1/track.gpx"), "b.csv": b"x"}))[0] == 200
    basket = app.server.config[INTAKE_KEY].basket(TOKEN)
    assert [f.path for f in basket.files] == ["a.gpx"]
    assert "b.csv" in basket.refused[0]


def test_any_error_while_a_file_is_taken_in_is_its_line(client, ask, monkeypatch):
    def fail(*_, **__):
        raise RuntimeError("odd")

    monkeypatch.setattr(import_files, "keep", fail)
    status, line = send(client, "a.gpx", b"x")
    monkeypatch.undo()
    assert (status, line) == (
        422,
        "a.gpx: taking it in itself failed (RuntimeError: odd); please report it with the files",
    )
    assert "taking it in itself failed" in ask("/load", f"?batch={TOKEN}")[1]


def test_a_failure_nobody_thought_of_ends_the_work_with_a_line(app, client, monkeypatch):
    from dashboard.services import intake as door

    send(client, "drill.toml", sample("drill.toml"))
    send(client, "a.gpx", sample("runs/ilvo-2/track.gpx"))

    def fail(*_, **__):
        raise RuntimeError("odd")

    monkeypatch.setattr(door, "analyze_drills", fail)
    settle(client)
    basket = waited(app)
    assert "loading itself failed (RuntimeError: odd)" in basket.outcome.failures[0]
    assert all(f.placed for f in basket.files)


def test_a_dashboard_that_serves_recognises_files_in_a_process_of_its_own(tmp_path):
    """2026-11-27: a page waited 16 s while a file of 40 MB was recognised."""
    from dash import _pages

    from dashboard.app import app_to_serve

    _pages.PAGE_REGISTRY.clear()
    app = app_to_serve(Config(tmp_path / "results", rules=tmp_path / "rules", workspace=tmp_path))
    _pages.PAGE_REGISTRY.clear()
    reader = app.server.config[INTAKE_KEY].recognised_by
    assert send(app.server.test_client(), "a.csv", b"time,reading_m\nnoon,3\n")[0] == 200
    assert reader._process.is_alive()
    reader.close()


def test_dashboard_is_set_up_before_others_ask_it(tmp_path):
    """2026-11-26: two assets asked for at once as the very first set up the callbacks twice; one was answered 500."""
    from dash import _pages

    from dashboard.app import app_to_serve

    _pages.PAGE_REGISTRY.clear()
    app = app_to_serve(Config(tmp_path / "results", rules=tmp_path / "rules", workspace=tmp_path))
    before = set(app.callback_map)
    assert before
    with app.server.test_client().get("/assets/load.js") as answer:
        assert answer.status_code == 200
    assert set(app.callback_map) == before
    _pages.PAGE_REGISTRY.clear()
