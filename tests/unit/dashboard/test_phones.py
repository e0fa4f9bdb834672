"""Phones that hand in files: codes, tokens, limits, and that a phone sees what is its own and nothing else.

What browsers do with the cookie and the headers is the standards' (RFC 6265bis, Fetch, CSP Level 3); here is what is
sent.
"""

import dataclasses
import re

import pytest

from analyzer.errors import InputError
from analyzer.files.results.result_json import write_result
from analyzer.workspace.people.people_toml import read_people
from dashboard.config import Config
from dashboard.server import listen
from dashboard.server.phones.app import COOKIE, HAND_IN_BYTES, phones_app
from dashboard.services.phones import codes, devices, phones
from tests.support.phones import ADDRESS, OTHER, SAMPLE, TRACK, come_in, post, send, text, with_track


def settle(here):
    """Do what the coach does on Load with everything that waits, and write a result for each run put in."""
    for device in here.devices():
        for batch in {h.batch for h in device.handed if not h.line}:
            basket = here.intake.basket(batch)
            plan = here.intake.plan(basket, "lower_bowl")
            placed = here.intake._put(dataclasses.replace(basket, choices={"drill": plan.drill}))
            where = dict(placed.files)
            files = tuple(dataclasses.replace(f, placed=where.get(f.id, f.placed)) for f in basket.files)
            here.intake._save(dataclasses.replace(basket, files=files, state="done"))


def test_a_phone_comes_in_hands_in_and_reads_its_own_debrief(here, phone, make_result):
    client = phone()
    assert "Hand in your search" in text(client.get("/", base_url=ADDRESS))
    shown = text(client.get(f"/join/{here.code()}", base_url=ADDRESS))
    assert f'value="{here.code()}"' in shown
    assert come_in(client, here).status_code == 303
    assert send(client, ("Mara's run.gpx", TRACK)).status_code == 303
    mine = text(client.get("/mine", base_url=ADDRESS))
    assert "Mara&#39;s run.gpx" in mine
    assert "the coach looks it over" in mine
    assert not list((here.workspace / "drills" / "lower_bowl").glob("runs/*")), "nothing goes into a drill by itself"
    settle(here)
    assert "being measured" in text(client.get("/mine", base_url=ADDRESS))
    (run,) = (here.workspace / "drills" / "lower_bowl" / "runs").iterdir()
    write_result(
        here.service.results / "lower_bowl" / f"{run.name}.json", with_track(make_result(run_id=run.name), TRACK)
    )
    mine = text(client.get("/mine", base_url=ADDRESS))
    (link,) = re.findall(r'href="(/debrief/[^"]+)"', mine)
    debrief = client.get(link, base_url=ADDRESS)
    assert debrief.status_code == 200
    assert "sandbox" in debrief.headers["Content-Security-Policy"]
    other = phone()
    come_in(other, here, "Ilo Brandt")
    send(other, ("mine.gpx", OTHER))
    answer = other.get(link, base_url=ADDRESS)
    assert answer.status_code == 404
    assert "This phone handed in no such run" in text(answer)
    assert "Mara" not in text(other.get("/mine", base_url=ADDRESS))


def test_a_run_of_the_same_name_with_another_track_is_not_shown(here, phone, make_result):
    client = phone()
    come_in(client, here)
    send(client, ("a.gpx", TRACK))
    settle(here)
    (run,) = (here.workspace / "drills" / "lower_bowl" / "runs").iterdir()
    write_result(
        here.service.results / "lower_bowl" / f"{run.name}.json", with_track(make_result(run_id=run.name), OTHER)
    )
    assert "/debrief/" not in text(client.get("/mine", base_url=ADDRESS))
    assert client.get(f"/debrief/lower_bowl/{run.name}", base_url=ADDRESS).status_code == 404


def test_files_that_the_coach_adds_to_a_load_are_not_the_phones(here, phone, make_result):
    client = phone()
    come_in(client, here)
    send(client, ("a.gpx", TRACK))
    (handed,) = here.devices()[0].handed
    here.intake.take(handed.batch, "of-another.gpx", len(OTHER), [OTHER])
    settle(here)
    for run in (here.workspace / "drills" / "lower_bowl" / "runs").iterdir():
        data = (run / "track.gpx").read_bytes()
        write_result(here.service.results / "lower_bowl" / f"{run.name}.json", with_track(make_result(), data))
    links = re.findall(r'href="(/debrief/[^"]+)"', text(client.get("/mine", base_url=ADDRESS)))
    assert len(links) == 1
    assert "of-another" not in text(client.get("/mine", base_url=ADDRESS))


def test_a_code_counts_once(here, phone):
    code = here.code()
    assert post(phone(), "/join", code=code, name="A", agreed="1").status_code == 303
    assert here.code() != code
    second = post(phone(), "/join", code=code, name="<b>B</b>", agreed="1")
    assert second.status_code == 422
    assert "used already" in text(second)
    assert "&lt;b&gt;B&lt;/b&gt;" in text(second), "what was typed is kept, and is no markup"
    assert COOKIE not in second.headers.get("Set-Cookie", "")


def test_looking_at_the_scanned_address_uses_no_code_up(here, phone):
    code = here.code()
    for _ in range(3):
        phone().get(f"/join/{code}", base_url=ADDRESS)
    assert here.code() == code
    assert come_in(phone(), here).status_code == 303


@pytest.mark.parametrize("written", ["{0}-{1}", "{0} {1}", " {0}{1} "])
def test_a_code_is_read_as_people_type_it(here, phone, written):
    code = here.code()
    typed = written.format(code[:4], code[4:]).lower()
    assert post(phone(), "/join", code=typed, name="A", agreed="1").status_code == 303


def test_an_old_code_counts_no_more():
    made = codes.Codes()
    code = made.current(1000.0)
    assert made.current(1000.0 + codes.CODE_LIFE_S - 1.0) == code
    assert not made.use(code, 1000.0 + codes.CODE_LIFE_S + 1.0)
    assert made.current(1000.0 + codes.CODE_LIFE_S + 1.0) != code
    assert not codes.Codes().use("", 0.0)


def test_codes_cannot_be_tried_without_end(here, phone):
    client = phone()
    answers = [
        post(client, "/join", code="AAAA-AAAA", name="A", agreed="1") for _ in range(phones.CODE_TRIES_OF_ONE + 1)
    ]
    assert "too many codes" in text(answers[-1])
    assert "too many" not in text(answers[-2])
    assert come_in(client, here).status_code == 422, "the right one neither, for a minute"
    here.code_tries_of_one.per_s = -1.0
    assert come_in(client, here).status_code == 303


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"name": "A"}, "did not agree"),
        ({"name": " ", "agreed": "1"}, "missing"),
        ({"name": "x" * 61, "agreed": "1"}, "more than 60"),
        ({"name": "a\u202eb", "agreed": "1"}, "do not show"),
        ({"agreed": "1"}, "missing"),
        ({}, "missing"),
    ],
)
def test_without_name_or_consent_nobody_comes_in(here, phone, form, says):
    answer = post(phone(), "/join", code=here.code(), **form)
    assert answer.status_code == 422
    assert says in text(answer)
    assert here.devices() == ()


@pytest.mark.parametrize("token", ["", "x", "A" * 43, "\udcff", "0" * 3_000])
def test_a_guessed_token_opens_nothing(here, phone, token):
    come_in(phone(), here)
    assert here.device(token) is None
    client = phone()
    client.set_cookie(COOKIE, token.encode("utf-8", "replace").decode(), domain="192.0.2.7")
    assert client.get("/mine", base_url=ADDRESS).status_code == 401
    assert send(client, ("a.gpx", TRACK)).status_code == 401
    assert client.get("/debrief/lower_bowl/mara-1", base_url=ADDRESS).status_code == 401


def test_the_token_is_on_the_phone_alone_and_ends(here, phone, monkeypatch):
    client = phone()
    cookie = come_in(client, here).headers["Set-Cookie"]
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    token = cookie.split(";")[0].partition("=")[2]
    for path in here.workspace.rglob("*"):
        assert not path.is_file() or token.encode() not in path.read_bytes(), path
    assert here.device(token) is not None
    monkeypatch.setattr(devices, "DEVICE_LIFE_S", -1.0)
    assert here.device(token) is None
    assert client.get("/mine", base_url=ADDRESS).status_code == 401


def test_the_coach_lets_a_phone_in_no_more_and_it_can_leave(here, phone):
    first, second = phone(), phone()
    come_in(first, here, "A")
    come_in(second, here, "B")
    here.take_back(here.devices()[1].id)
    assert first.get("/mine", base_url=ADDRESS).status_code == 401
    assert second.get("/mine", base_url=ADDRESS).status_code == 200
    assert post(second, "/leave").status_code == 303
    assert here.devices() == ()
    assert second.get("/mine", base_url=ADDRESS).status_code == 401


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://192.0.2.7:8050", "http://192.0.2.7"])
def test_forms_of_other_pages_do_nothing(here, phone, origin):
    client = phone()
    assert post(client, "/join", origin=origin, code=here.code(), name="A", agreed="1").status_code == 403
    come_in(client, here)
    assert send(client, ("a.gpx", TRACK), origin=origin).status_code == 403
    assert post(client, "/leave", origin=origin).status_code == 403
    assert len(here.devices()) == 1
    assert here.devices()[0].handed == ()


def test_another_name_for_this_computer_gets_nothing(here, phone):
    answer = phone().get("/", base_url="http://evil.example:8070/")
    assert answer.status_code == 403
    assert "Searchwake" not in text(answer)


def test_the_same_file_from_two_phones_waits_twice_and_goes_in_once(here, phone):
    for name in ("A", "B"):
        client = phone()
        come_in(client, here, name)
        assert send(client, ("run.gpx", TRACK)).status_code == 303
    for device in here.devices()[::-1]:
        (handed,) = device.handed
        basket = here.intake.basket(handed.batch)
        plan = here.intake.plan(basket, "lower_bowl")
        placed = here.intake._put(dataclasses.replace(basket, choices={"drill": plan.drill}))
        assert len(placed.runs) == (device.name == "A")
    assert len(list((here.workspace / "drills" / "lower_bowl" / "runs").iterdir())) == 1


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("a.gpx", TRACK[: len(TRACK) // 2], "Cannot be used"),
        ("a.gpx", b"", "empty"),
        ("a.pdf", b"%PDF-1.7\n", "PDF"),
        ("../../people.toml", b"[[person]]\n", "Cannot be used"),
        ("<script>x</script>.gpx", b"<gpx>", "&lt;script&gt;"),
    ],
)
def test_a_bad_file_is_told_to_who_sent_it(here, phone, name, data, says):
    client = phone()
    come_in(client, here)
    assert send(client, (name, data)).status_code == 303
    mine = text(client.get("/mine", base_url=ADDRESS))
    assert "Cannot be used" in mine
    assert says in mine
    assert not (here.workspace / "people.toml").exists()


def test_a_track_and_its_readings_wait_together(here, phone):
    client, run = phone(), SAMPLE / "runs" / "mara-1"
    come_in(client, here)
    send(client, ("track.gpx", TRACK), ("readings.csv", (run / "readings.csv").read_bytes()))
    (batch,) = {h.batch for h in here.devices()[0].handed}
    plan = here.intake.plan(here.intake.basket(batch), "lower_bowl")
    assert [len(plan.parts_of(row)) for row in plan.runs] == [2]


def test_the_coach_finds_name_and_consent_filled_in(here, phone):
    for name, more in (("Ana Zwick", {"named": "1"}), ("Bo Lerch", {})):
        client = phone()
        come_in(client, here, name, **more)
        send(client, ("run.gpx", TRACK))
        device = here.devices()[0]
        basket = here.intake.basket(device.handed[0].batch)
        ((_, new),) = here.intake.new_runs(here.intake.plan(basket, "lower_bowl"), basket).items()
        assert new.form.who == name
        assert new.form.consent == ("yes" if more else "")
        here.add_to_people(device.id)
    client = phone()
    come_in(client, here, "ana  zwick")
    send(client, ("run.gpx", OTHER))
    basket = here.intake.basket(here.devices()[0].handed[0].batch)
    ((_, new),) = here.intake.new_runs(here.intake.plan(basket, "lower_bowl"), basket).items()
    assert (new.form.searcher, new.form.new_searcher) == ("Ana Zwick", "")


def test_too_much_is_refused_before_it_is_kept(here, phone, monkeypatch):
    client = phone()
    come_in(client, here)
    assert send(client).status_code == 422
    assert send(client, *[(f"{i}.gpx", b"x") for i in range(13)]).status_code == 422
    large = {"data": b" " * (HAND_IN_BYTES + 2_000_000), "content_type": "multipart/form-data; boundary=x"}
    assert client.post("/hand-in", base_url=ADDRESS, **large).status_code == 413
    monkeypatch.setattr(phones, "MOST_BYTES", 1000)
    assert "one phone may send" in text(send(client, ("a.gpx", b"x" * 1001)))
    monkeypatch.setattr(phones, "MOST_BYTES", 10**9)
    monkeypatch.setattr(phones, "MOST_FILES", 0)
    assert "one phone may send" in text(send(client, ("a.gpx", b"x")))
    monkeypatch.setattr(phones, "MOST_FILES", 99)
    monkeypatch.setattr(here.file_tries, "most", 0)
    assert "came in a minute" in text(send(client, ("a.gpx", b"x")))
    assert here.devices()[0].handed == ()
    assert not list(here.workspace.glob("originals/*"))


def test_a_limit_counts_each_key_by_itself_and_forgets():
    limit = codes.Limit(2, 60.0)
    assert [limit.allows("a", t) for t in (0.0, 1.0, 2.0)] == [True, True, False]
    assert limit.allows("b", 2.0)
    assert [limit.allows("a", t) for t in (61.5, 61.9, 62.0)] == [True, True, False]
    assert limit.allows("a", 130.0)
    assert set(limit._seen) == {"a"}


def test_no_page_of_the_dashboard_is_there(here, phone, make_result):
    write_result(here.service.results / "lower_bowl" / "x.json", make_result())
    client = phone()
    come_in(client, here)
    for path in (
        "/load",
        "/take/lower_bowl/x/debrief.html",
        "/_dash-layout",
        "/season",
        "/assets/look.css",
        "/people.toml",
    ):
        assert client.get(path, base_url=ADDRESS).status_code == 404, path
    assert client.get("/debrief/lower_bowl/x", base_url=ADDRESS).status_code == 404


def test_people_get_what_was_agreed_to(here, phone):
    come_in(phone(), here, "Ana Zwick", named="1")
    come_in(phone(), here, "Bo Lerch")
    for device in here.devices():
        here.add_to_people(device.id)
    people = read_people(here.workspace)
    assert people.find("Ana Zwick").consent
    assert not people.find("Bo Lerch").consent
    with pytest.raises(InputError, match="stands for somebody already"):
        here.add_to_people(here.devices()[0].id)
    with pytest.raises(InputError, match="let in no more"):
        here.add_to_people("nobody")


def test_a_damaged_list_of_phones_is_one_line(here, phone):
    path = here.workspace / "incoming" / "devices.json"
    path.parent.mkdir()
    path.write_text('{"devices": [3]}')
    answer = come_in(phone(), here)
    assert answer.status_code == 422
    assert "list of phones" in text(answer)


def test_headers_let_nothing_in(here, phone):
    answer = phone().get("/", base_url=ADDRESS)
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert "<script" not in text(answer)


@pytest.mark.parametrize(
    ("have", "wanted", "says"),
    [
        ({}, "", "in no network"),
        ({"192.0.2.7": "a", "198.51.100.4": "b"}, "", "several networks; give one of 192.0.2.7 (a), 198.51.100.4 (b)"),
        ({"192.0.2.7": "a"}, "198.51.100.4", "'198.51.100.4' is no address of this computer"),
        ({"192.0.2.7": "a"}, "", None),
        ({"192.0.2.7": "a", "198.51.100.4": "b"}, "192.0.2.7", None),
    ],
)
def test_the_address_on_the_network(monkeypatch, have, wanted, says):
    class Entry:
        is_IPv4 = True  # noqa: N815 - the library's name

        def __init__(self, ip, name):
            self.ip, self.nice_name, self.ips = ip, name, [self]

    found = [Entry(ip, name) for ip, name in {"127.0.0.1": "lo", **have}.items()]
    monkeypatch.setattr(listen.ifaddr, "get_adapters", lambda: found)
    if says is None:
        assert listen.own_address(wanted) == "192.0.2.7"
    else:
        with pytest.raises(InputError, match=re.escape(says)):
            listen.own_address(wanted)


def test_the_coachs_page_and_decisions(tmp_path):
    from dash import _pages

    from dashboard.app import create_app
    from dashboard.config import PHONES_KEY

    _pages.PAGE_REGISTRY.clear()
    app = create_app(Config(tmp_path / "results", workspace=tmp_path, network=ADDRESS))
    _pages.PAGE_REGISTRY.clear()
    here, own = app.server.config[PHONES_KEY], {"base_url": "http://127.0.0.1:8050/"}
    come_in(phones_app(here).test_client(), here, "Ana", named="1")
    client, device = app.server.test_client(), here.devices()[0].id
    elsewhere = {"headers": {"Origin": "http://192.0.2.7:8070"}}
    assert client.post("/phones/take-back", data={"device": device}, **own, **elsewhere).status_code == 403
    assert client.post("/phones/people", data={"device": device}, **own).status_code == 303
    assert client.post("/phones/people", data={"device": device}, **own).status_code == 422
    assert client.post("/phones/people", data={}, **own).status_code == 422
    assert client.post("/phones/take-back", data={"device": device}, **own).status_code == 303
    assert here.devices() == ()
