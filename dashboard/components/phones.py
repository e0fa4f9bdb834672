"""The coach's page on phones: how one comes in, which are in, and what waits to be looked over."""

import datetime as dt
from typing import Any
from urllib.parse import quote

from dash import dcc, html

from dashboard.components.shell import panel
from dashboard.figures.join_code import join_picture
from dashboard.services.phones.codes import spaced_code
from dashboard.services.phones.devices import DEVICE_LIFE_S, Device
from dashboard.services.phones.own_files import OwnFile
from dashboard.wording import counted

HOW = (
    "The phone has to be on the same wireless network as this computer; no internet is needed. What is sent is not "
    "encrypted: use a network with a password. Each code lets one phone in, and then another one is shown. A phone "
    "sees what it handed in itself, and the debriefs of it, nothing else."
)
CLOSED = (
    "This dashboard answers on this computer alone. To let searchers hand in files with their phones, stop it with "
    "Ctrl+C and start it again with the option --network: searchwake serve WORKSPACE --network"
)


def closed() -> html.Section:
    """Return what to do where no phone can come in."""
    return panel("Phones hand in files", html.P(CLOSED, className="big"))


def way_in(address: str, code: str) -> html.Section:
    """Return the square code, and the same in words for who cannot scan it."""
    return panel(
        "Let a phone in",
        html.Div(
            [
                html.Img(
                    src=join_picture(f"{address}join/{code}"),
                    alt=f"Square code of {address}join/{code}",
                    className="join-code",
                ),
                html.P(["Scan this, or open ", html.Strong(address), " and type ", html.Strong(spaced_code(code))]),
            ],
            className="join-way",
        ),
        note=HOW,
    )


def phone_list(phones: list[tuple[Device, tuple[OwnFile, ...]]]) -> html.Section:
    """Return the phones that are in, the last first, each with what it handed in."""
    if not phones:
        return panel("Phones that are in", html.P("None yet."))
    return panel(
        f"{counted(sum(not device.ended for device, _ in phones), 'phone')} in",
        html.Ul([_phone(device, files) for device, files in phones], className="phones"),
        note=f"A phone is let in for {round(DEVICE_LIFE_S / 3600.0)} hours. Names are as typed on the phone: look at "
        "who it is before a run is put in. What a phone handed in stays here until it is looked over, also when the "
        "phone is let in no more.",
    )


def _phone(device: Device, files: tuple[OwnFile, ...]) -> html.Li:
    ended = ", let in no more" if device.ended else ""
    agreed = "may be named in lists" if device.named else "not named in lists"
    return html.Li(
        [
            html.P([html.Strong(device.name), f" since {_time(device.since_s)}, {agreed}{ended}"]),
            html.Ul([html.Li(_file(file)) for file in files]) if files else html.P("Nothing handed in yet."),
            *[
                html.A("Look it over and put it in", href=f"/load?batch={quote(batch, safe='')}", className="button")
                for batch in sorted({file.batch for file in files if file.batch})
            ],
            html.Div(
                [
                    _form("Add to people", "people", device),
                    *([] if device.ended else [_form("Let in no more", "take-back", device)]),
                ],
                className="phone-do",
            ),
        ]
    )


def _file(file: OwnFile) -> list[Any]:
    words = {"waits": "waits", "measured": "measured", "refused": "cannot be used", "left out": "left out"}[file.state]
    return [file.name, f": {words}" + (f", {file.line}" if file.line and file.state == "refused" else "")]


def _form(words: str, action: str, device: Device) -> html.Form:
    return html.Form(
        [
            dcc.Input(type="hidden", name="device", value=device.id, id=f"{action}-{device.id}"),
            html.Button(words, type="submit", className="button", **{"aria-label": f"{words}: {device.name}"}),
        ],
        action=f"/phones/{action}",
        method="post",
    )


def _time(posix_s: float) -> str:
    return dt.datetime.fromtimestamp(posix_s, tz=dt.UTC).astimezone().strftime("%H:%M")
