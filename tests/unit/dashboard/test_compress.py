"""Answers packed for the way."""

import gzip

import pytest


def asked(app, path, **headers):
    return app.server.test_client().get(path, headers=headers, buffered=True)


@pytest.mark.parametrize("path", ["/assets/look.css", "/assets/replay.js", "/_dash-layout"])
def test_a_packed_answer_is_the_same_answer(app, path):
    plain = asked(app, path)
    packed = asked(app, path, **{"Accept-Encoding": "br, gzip"})
    assert "Content-Encoding" not in plain.headers
    if len(plain.data) >= 1_000:
        assert packed.headers["Content-Encoding"] == "gzip"
        assert int(packed.headers["Content-Length"]) == len(packed.data) < 0.6 * len(plain.data)
        assert gzip.decompress(packed.data) == plain.data
    assert packed.headers["Vary"] == plain.headers["Vary"] == "Accept-Encoding"


def test_the_first_answer_is_packed_too(app):
    answer = asked(app, "/", **{"Accept-Encoding": "gzip"})
    assert b"dash-renderer" in gzip.decompress(answer.data)


def test_a_browser_that_refuses_gzip_gets_it_plain(app):
    assert "Content-Encoding" not in asked(app, "/assets/look.css", **{"Accept-Encoding": "gzip;q=0"}).headers


def test_an_unchanged_file_is_not_sent_again(app):
    first = asked(app, "/assets/look.css", **{"Accept-Encoding": "gzip"})
    tag = first.headers["ETag"]
    assert tag.startswith("W/")
    again = asked(app, "/assets/look.css", **{"Accept-Encoding": "gzip", "If-None-Match": tag})
    assert (again.status_code, again.data) == (304, b"")


def test_a_sheet_is_sent_as_it_is(app):
    answer = asked(app, "/take/lower_bowl/mara-1/sheet.pdf", **{"Accept-Encoding": "gzip"})
    assert answer.data.startswith(b"%PDF")
    assert "Content-Encoding" not in answer.headers


def test_errors_stay_readable(app):
    answer = asked(app, "/take/lower_bowl/gone/sheet.pdf", **{"Accept-Encoding": "gzip"})
    assert "There is no result" in answer.get_data(as_text=True)
