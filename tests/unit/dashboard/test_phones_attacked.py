"""A phone, or a stranger on the network, that means harm: what attacks on served pages found, each with its date."""

import dataclasses
import io
import json
import re
import socket
import threading
import zipfile

import pytest

from analyzer.files.results.result_json import write_result
from analyzer.files.rules_toml import default_rules_bytes
from analyzer.model.people import Person
from analyzer.model.result import SharedFit, SharedRun
from analyzer.workspace.people.changes import add_person
from analyzer.workspace.people.forget import forget_person
from dashboard.server import listen
from dashboard.server.phones.app import COOKIE, phones_app
from dashboard.services.phones import phones
from tests.support.phones import ADDRESS, OTHER, OWN, SAMPLE, TRACK, come_in, post, send, text, with_track


def guess(client, source):
    data = {"code": "AAAABBBB", "name": "A", "agreed": "1"}
    environ = {"REMOTE_ADDR": source}
    return client.post("/join", base_url=ADDRESS, data=data, headers={"Origin": OWN}, environ_overrides=environ)


def names_on(page):
    return re.findall(r"(ilo-1|runa-1|mara-1)", page)


def test_a_debrief_on_a_phone_names_no_run_of_others(result):
    """2026-11-27: "Places and axes estimated from" listed the runs of the whole drill, whose names are people's."""
    from dashboard.export.standalone import standalone_page

    runs = tuple(SharedRun(name, "0" * 64) for name in ("ilo-1", result.run_id, "runa-1"))
    shown = standalone_page(dataclasses.replace(result, shared=SharedFit(("places",), runs))).decode()
    assert {"ilo-1", "runa-1"}.isdisjoint(names_on(shown))
    assert f"{result.run_id}, 2 other runs of the drill" in shown


def test_one_who_tries_codes_locks_nobody_else_out(here, phone):
    """2026-11-27: sixty wrong codes, sent in a tenth of a second, kept all phones out for a minute."""
    attacker = phone()
    answers = [guess(attacker, "192.0.2.66") for _ in range(200)]
    assert "too many codes" in text(answers[-1])
    assert sum("too many codes" not in text(a) for a in answers) == phones.CODE_TRIES_OF_ONE
    assert come_in(phone(), here).status_code == 303


def test_another_sender_cannot_be_made_up(here, phone):
    answers = [
        phone().post(
            "/join",
            base_url=ADDRESS,
            data={"code": "AAAABBBB", "name": "A", "agreed": "1"},
            headers={"Origin": OWN, "X-Forwarded-For": f"198.51.100.{n}", "Forwarded": f"for=198.51.100.{n}"},
        )
        for n in range(phones.CODE_TRIES_OF_ONE + 1)
    ]
    assert "too many codes" in text(answers[-1])


def test_all_together_may_try_so_many_codes_and_no_more(here, phone, monkeypatch):
    monkeypatch.setattr(here.code_tries, "most", 5)
    answers = [guess(phone(), f"192.0.2.{n}") for n in range(6)]
    assert ["too many codes" in text(a) for a in answers] == [False] * 5 + [True]


@pytest.mark.parametrize("end", ["taken back", "forgotten by its owner", "the next day"])
def test_what_a_phone_handed_in_stays_with_the_coach(here, phone, monkeypatch, end):
    """2026-11-27: with the phone, the coach's only way to the files that waited was gone."""
    from dashboard.components.phones import phone_list

    client = phone()
    come_in(client, here, "Ana Zwick")
    send(client, ("run.gpx", TRACK))
    (device,) = here.devices()
    if end == "taken back":
        here.take_back(device.id)
    elif end == "forgotten by its owner":
        post(client, "/leave")
    else:
        monkeypatch.setattr(phones.time, "time", lambda now=phones.time.time: now() + 17 * 3600.0)
    assert client.get("/mine", base_url=ADDRESS).status_code == 401
    come_in(phone(), here, "Bo Lerch")
    ended = here.devices()[-1]
    assert (ended.name, ended.handed) == ("Ana Zwick", device.handed)
    shown = str(phone_list([(d, here.own_files(d)) for d in here.devices()]).to_plotly_json())
    assert device.handed[0].batch in shown
    assert "let in no more" in shown
    here.intake.close(device.handed[0].batch, "lower_bowl/run")
    come_in(phone(), here, "Cleo Amsel")
    assert [d.name for d in here.devices()] == ["Cleo Amsel", "Bo Lerch"], "what does not wait any more is no reason"


def test_a_phone_hands_in_one_form_at_a_time(here, phone, monkeypatch):
    """2026-11-27: forms sent side by side were each counted as if the others were not there."""
    client = phone()
    come_in(client, here)
    device, inside, go_on, answers = here.devices()[0], threading.Event(), threading.Event(), []

    def slowly():
        inside.set()
        go_on.wait(10)
        yield TRACK

    first = threading.Thread(
        target=lambda: answers.append(here.hand_in(device, [phones.Sent("a.gpx", len(TRACK), slowly())]))
    )
    first.start()
    assert inside.wait(10)
    try:
        assert "still being taken" in text(send(client, ("b.gpx", OTHER)))
    finally:
        go_on.set()
        first.join(10)
    assert send(client, ("b.gpx", OTHER)).status_code == 303
    assert len(here.devices()[0].handed) == 2
    monkeypatch.setattr(phones, "MOST_FILES", 2)
    with pytest.raises(phones.InputError, match="one phone may send"):
        here.hand_in(device, [phones.Sent("c.gpx", 1, [b"x"])])  # as it was before the two came


def zipped(*members):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return stream.getvalue()


def stored(here):
    return sum(path.stat().st_size for path in here.workspace.glob("originals/*"))


def test_a_zip_counts_as_what_is_in_it(here, phone, monkeypatch):
    """2026-11-27: a zip of 442 kB left 1990 files and 180 MB with the coach, and counted as one file of 442 kB."""
    client = phone()
    come_in(client, here)
    many = zipped(*((f"{n}.gpx", TRACK + b" " * n) for n in range(phones.MOST_FILES + 1)))
    send(client, ("many.zip", many))
    assert "more than 60 entries" in text(client.get("/mine", base_url=ADDRESS))
    large = zipped(*((f"{n}.gpx", b"<gpx>" + b" " * 4_500_000) for n in range(5)))
    monkeypatch.setattr(phones, "MOST_BYTES", 20_000_000)
    send(client, ("large.zip", large))
    assert "at most 20 MB are unpacked" in text(client.get("/mine", base_url=ADDRESS))
    assert stored(here) < len(many) + len(large) + 2000, "the zips themselves alone"
    send(client, ("fine.zip", zipped(*((f"{n}.gpx", TRACK + b" " * n) for n in range(40)))))
    assert here.devices()[0].handed[-1].size >= 40 * len(TRACK)
    second = send(client, ("again.zip", zipped(*((f"{n}.gpx", OTHER + b" " * n) for n in range(30)))))
    assert second.status_code == 303
    assert "the zip has more than" in text(client.get("/mine", base_url=ADDRESS))
    assert len(here.devices()[0].handed[-2].sha256) == 40


def test_forgetting_a_person_forgets_their_phone(here, phone):
    """2026-11-27: the name, what was handed in and when stayed in incoming/devices.json."""
    for name, data in (("Ana Zwick", TRACK), ("Bo Lerch", OTHER)):
        client = phone()
        come_in(client, here, name)
        send(client, ("run.gpx", data))
    add_person(here.workspace, Person("Ana Zwick"))
    ana = next(d for d in here.devices() if d.name == "Ana Zwick")
    forget_person(here.workspace, "Ana Zwick")
    text_left = (here.workspace / "incoming" / "devices.json").read_text()
    assert "Ana Zwick" not in text_left
    assert "Bo Lerch" in text_left
    assert here.intake.basket(ana.handed[0].batch) is None
    assert not (here.workspace / "originals" / ana.handed[0].sha256[0]).exists()


def test_a_damaged_list_of_phones_is_one_line_on_every_page(here, phone):
    client = phone()
    come_in(client, here)
    (here.workspace / "incoming" / "devices.json").write_text("[")
    for path in ("/", "/mine", "/debrief/lower_bowl/x"):
        answer = client.get(path, base_url=ADDRESS)
        assert answer.status_code == 422, path
        assert "list of phones cannot be read" in text(answer)


@pytest.fixture
def served(here):
    """Return the port of the pages for phones as they are served."""
    listening = listen.free_socket(18770)
    served_here = dataclasses.replace(here, address=f"http://127.0.0.1:{listening.getsockname()[1]}/")
    server = listen.phones_server_of(phones_app(served_here), listening, lets_in=served_here.lets_in)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield listening.getsockname()[1]
    server.close()
    thread.join(timeout=10)


def sent(port, head, body=b""):
    with socket.create_connection(("127.0.0.1", port), timeout=10) as one:
        one.sendall(f"POST /hand-in HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{head}\r\n\r\n".encode())
        one.sendall(body)
        return b"".join(iter(lambda: one.recv(2000), b"")).decode()


@pytest.mark.parametrize("cookie", ["", f"Cookie: {COOKIE}=guessed\r\n", "Cookie: ;=;,\r\n"])
@pytest.mark.parametrize("size", ["Content-Length: 40000000", "Transfer-Encoding: chunked"])
def test_a_large_form_of_a_stranger_is_not_received(served, cookie, size):
    """2026-11-27: a hundred connections without a code filled the temporary folder with 4 GB."""
    answer = sent(served, f"{cookie}{size}")
    assert answer.startswith("HTTP/1.1 401")
    assert "Come in with the code" in answer


def test_a_large_form_of_a_phone_that_is_in_is_received(served, here):
    token = here.join(here.code(), "Ana", agreed=True)
    head = f"Cookie: {COOKIE}={token}\r\nContent-Length: 2000000\r\nConnection: close"
    assert "No file was chosen" in sent(served, head, b"x" * 2_000_000)
    here.take_back(here.devices()[0].id)
    assert "Come in with the code" in sent(served, head)


def test_one_address_cannot_hold_all_connections(served):
    """2026-11-27: a hundred half requests of one phone, and no other phone was answered."""
    held = [socket.create_connection(("127.0.0.1", served), timeout=10) for _ in range(120)]
    try:
        for one in held:
            with_rest = b"GET / HTTP/1.1\r\nX-Slow: "
            try:
                one.sendall(with_rest)
            except OSError:
                continue
        with socket.create_connection(("127.0.0.1", served), timeout=10, source_address=("127.0.0.2", 0)) as other:
            other.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{served}\r\nConnection: close\r\n\r\n".encode())
            assert other.recv(100).startswith(b"HTTP/1.1 200")
    finally:
        for one in held:
            one.close()


def test_a_run_of_another_under_the_name_of_ones_own_is_not_shown(here, phone, make_result):
    """A name in an address may be quoted: it must not lead to a run that is called as the name unquoted."""
    client = phone()
    come_in(client, here)
    send(client, ("%6dara-1.gpx", TRACK))
    write_result(here.service.results / "lower_bowl" / "mara-1.json", make_result(run_id="mara-1"))
    (handed,) = here.devices()[0].handed
    here.intake.close(handed.batch, "lower_bowl/%6dara-1")
    assert "/debrief/" not in text(client.get("/mine", base_url=ADDRESS))
    assert client.get("/debrief/lower_bowl/%256dara-1", base_url=ADDRESS).status_code == 404
    assert json.loads((here.workspace / "incoming" / "devices.json").read_text())


def test_who_types_the_name_of_another_agrees_to_nothing_for_them(here, phone):
    """2026-11-27: a yes of a phone with the name of somebody in people.toml was filled in as theirs."""
    add_person(here.workspace, Person("Mara Lindgrun", consent=False))
    client = phone()
    come_in(client, here, "mara lindgrun", named="1")
    send(client, ("run.gpx", TRACK))
    basket = here.intake.basket(here.devices()[0].handed[0].batch)
    ((_, new),) = here.intake.new_runs(here.intake.plan(basket, "lower_bowl"), basket).items()
    assert (new.form.searcher, new.form.consent) == ("Mara Lindgrun", "")


def test_a_debrief_is_not_made_without_end(here, phone, make_result):
    """2026-11-27: each is 5 MB and an eighth of a second of the processor, which the coach's pages wait for."""
    client, idle = phone(), phone()
    for one, name in ((client, "Ana"), (idle, "Bo")):
        come_in(one, here, name)
        send(one, ("run.gpx", TRACK))
    write_result(here.service.results / "lower_bowl" / "run.json", with_track(make_result(run_id="run"), TRACK))
    for device in here.devices():
        here.intake.close(device.handed[0].batch, "lower_bowl/run")
    asked = [client.get("/debrief/lower_bowl/run", base_url=ADDRESS) for _ in range(phones.DEBRIEF_TRIES + 1)]
    assert [a.status_code for a in asked] == [200] * phones.DEBRIEF_TRIES + [422]
    assert "wait a minute" in text(asked[-1]).lower()
    assert idle.get("/debrief/lower_bowl/run", base_url=ADDRESS).status_code == 200


RUN_TOML = b'searcher = "Mara Lindgrun"\nnote = "The best of the day."\npraised = true\nset_aside = ["wrong_way"]\n'


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("run.toml", RUN_TOML),
        ("drill.toml", (SAMPLE / "drill.toml").read_bytes()),
        ("rules.toml", default_rules_bytes()),
        ("all.zip", zipped(("run/track.gpx", TRACK), ("run/run.toml", RUN_TOML))),
    ],
)
def test_what_is_the_coachs_to_say_comes_from_no_phone(here, phone, name, data):
    """2026-11-27: a run.toml from a phone went in with its run: findings set aside, and praise in the coach's name."""
    client = phone()
    come_in(client, here)
    send(client, ("track.gpx", OTHER), (name, data))
    mine = text(client.get("/mine", base_url=ADDRESS))
    assert "a phone hands in tracks, readings and marks" in mine
    basket = here.intake.basket(here.devices()[0].handed[0].batch)
    assert {f.kind for f in basket.files if f.waits} == {"track"}
