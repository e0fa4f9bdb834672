"""Who may ask the dashboard, and what every answer says to the browser.

Sources: WHATWG Fetch (Origin header), W3C Fetch Metadata Request Headers, W3C Content Security Policy Level 3, RFC 9110
(Host, Cache-Control, nosniff of WHATWG Fetch section 3.6).
"""

import base64
import hashlib
import json
import re

import pytest

ADDRESSES = [
    "/",
    "/season",
    "/_dash-layout",
    "/_dash-dependencies",
    "/assets/look.css",
    "/take/lower_bowl/mara-1/sheet.pdf",
]
OWN = {"Host": "127.0.0.1:8050"}


@pytest.fixture
def client(app):
    return app.server.test_client()


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize(
    "host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "localhost.elsewhere.example:8050", "", "[::2]"]
)
def test_another_name_is_answered_nowhere(client, address, host):
    """DNS rebinding: the browser believes that the answers are another site's, and lets its scripts read them."""
    answer = client.get(address, headers={"Host": host})
    assert answer.status_code == 403
    assert b"dash" not in answer.data.lower().replace(b"dashboard", b"")


@pytest.mark.parametrize("host", ["127.0.0.1:8050", "localhost:8051", "[::1]:8050", "LOCALHOST"])
def test_our_own_names_are_answered(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "https://127.0.0.1:8050"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"},
        {"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors", "Sec-Fetch-Dest": "empty"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"},
    ],
)
@pytest.mark.parametrize("address", ADDRESSES)
def test_a_page_elsewhere_reads_nothing(client, address, headers):
    assert client.get(address, headers=OWN | headers).status_code == 403


def test_a_page_elsewhere_calls_nothing(client):
    for headers in (
        {"Origin": "https://elsewhere.example"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"},
    ):
        assert client.post("/_dash-update-component", json={}, headers=OWN | headers).status_code == 403


def test_a_link_elsewhere_may_lead_here(client):
    headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert client.get("/", headers=OWN | headers).status_code == 200
    assert client.get("/", headers=OWN | {"Sec-Fetch-Site": "none"}).status_code == 200


@pytest.mark.parametrize("address", [*ADDRESSES, "/no-such-page"])
def test_every_answer_carries_its_headers(client, address):
    with client.get(address, headers=OWN) as answer:
        headers = answer.headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    policy = dict(part.split(" ", 1) for part in headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["object-src"] == policy["base-uri"] == "'none'"
    assert policy["media-src"] == "blob:"  # a film that was chosen, and none from an address
    assert not re.search(r"https?:|\*|unsafe", policy["script-src"])
    assert ("no-store" in headers["Cache-Control"]) == (not address.startswith("/assets/"))


def test_the_policy_lets_the_scripts_of_the_page_run_and_no_others(client):
    answer = client.get("/", headers=OWN)
    inline = [
        text
        for attributes, text in re.findall(r"<script([^>]*)>(.*?)</script>", answer.text, re.DOTALL)
        if "src=" not in attributes and "application/json" not in attributes
    ]
    hashes = {base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in inline}
    assert hashes == set(re.findall(r"'sha256-([^']+)'", answer.headers["Content-Security-Policy"]))
    assert inline


@pytest.mark.parametrize("address", ["/no-such-page", "/run/only-one", "/replay", "/.git/config", "/take"])
def test_an_unknown_page_is_not_found(client, address):
    assert client.get(address, headers=OWN).status_code == 404


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"7",
        b"\xff\xfe",
        b"{}",
        json.dumps({"output": "no.such", "inputs": []}).encode(),
        json.dumps({"output": 5, "inputs": []}).encode(),
        json.dumps({"output": "replay-ready.children", "inputs": {}}).encode(),
        json.dumps({"output": "replay-ready.children", "inputs": [5]}).encode(),
        json.dumps({"output": "replay-ready.children", "inputs": [{"id": 5, "property": "x"}]}).encode(),
        json.dumps({"output": "replay-ready.children", "inputs": [], "changedPropIds": [7]}).encode(),
        json.dumps({"output": "replay-ready.children", "inputs": [], "outputs": "x"}).encode(),
        b"[" * 100_000,
    ],
)
def test_a_malformed_call_is_told_so(client, body):
    client.get("/", headers=OWN)  # the first request sets the callbacks up
    answer = client.post("/_dash-update-component", data=body, content_type="application/json", headers=OWN)
    assert answer.status_code == 400


@pytest.mark.parametrize("file", ["dash/nothing.js", "os/x.js", "dash/..%2f..%2f__init__.py", "../../../etc/passwd"])
def test_a_library_file_that_is_none_is_not_there(app, file):
    """2026-11-27: answered 500, with the list of the libraries' files."""
    answer = app.server.test_client().get(f"/_dash-component-suites/{file}")
    assert answer.status_code == 404
    assert answer.get_data(as_text=True) == "There is no such file.\n"
