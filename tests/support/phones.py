"""Phones of the tests: browsers that ask the pages for phones, and what they send."""

import dataclasses
import io
from pathlib import Path

from analyzer.files.source import sha256_hex

ADDRESS = "http://192.0.2.7:8070/"
OWN = ADDRESS.rstrip("/")
SAMPLE = Path(__file__).resolve().parents[2] / "sample_tracks" / "lower_bowl"
TRACK = (SAMPLE / "runs" / "mara-1" / "track.gpx").read_bytes()
OTHER = (SAMPLE / "runs" / "bera-1" / "track.gpx").read_bytes()


def post(client, path, origin=OWN, **form):
    headers = {"Origin": origin} if origin else {}
    return client.post(path, base_url=ADDRESS, data=form, headers=headers, content_type="multipart/form-data")


def come_in(client, here, name="Mara Fennick", **more):
    return post(client, "/join", code=here.code(), name=name, agreed="1", **more)


def send(client, *files, **more):
    return post(client, "/hand-in", files=[(io.BytesIO(data), name) for name, data in files], **more)


def text(answer):
    return answer.get_data(as_text=True)


def with_track(result, data):
    first, *rest = result.inputs
    return dataclasses.replace(result, inputs=(dataclasses.replace(first, sha256=sha256_hex(data)), *rest))
