"""The page of a drill's ground: the picture, where it is pinned, and turning it off; and the button beside plans."""

from typing import Any
from urllib.parse import quote, urlencode

from dash import dcc, html

from dashboard.components.run_fields import hidden, select, text
from dashboard.components.shell import panel
from dashboard.services.ground import GroundView
from dashboard.view_models.ground import DEGREES, PINS, TYPED, Row

TAKE_NOTE = (
    "From a file of yours, never from a network: an orthophoto as GeoTIFF, which is placed by itself, or a photo as "
    "JPEG, PNG or WebP taken from high above, which you pin at two points. No figure and no score depends on it."
)
PIN_NOTE = (
    "Press on a point in the picture that you know on the ground, then say which it is. Two points far apart are "
    "enough where the photo was taken from straight above; with three or four this page says how well they agree. A "
    "photo from the side fits at its points alone."
)
TURN = "Picture of the ground"
BIG_MISFIT_M = 3.0
"""Above what a phone's position and a tape may disagree by; our choice."""


def ground_switch() -> html.Button:
    """Return the button that takes the picture away from all plans of a page, and back: `assets/ground.js`."""
    return html.Button(TURN, type="button", className="button ground-switch", **{"aria-pressed": "true"})


def ground_link(drill: str, *, there: bool) -> dcc.Link:
    """Return the way to the page of a drill's ground. `drill`: the name of its folder."""
    words = "Change the picture of the ground" if there else "Put a picture of the ground under the plan"
    return dcc.Link(words, href=f"/ground/{quote(drill, safe='')}", className="ground-link")


def ground_parts(view: GroundView, can_change: bool) -> list[Any]:
    """Return the parts of the page."""
    parts = [_state(view)]
    if not can_change:
        return [*parts, html.P("No workspace is open, so nothing can be changed here.", className="quiet")]
    if view.laid is not None:
        parts += [_pin_panel(view), _shown_panel(view)]
    return [*parts, _take_panel(view)]


def _state(view: GroundView) -> html.Section:
    if view.problem:
        return panel("What is wrong with it", html.Ul([html.Li(view.problem)], className="load-bad"))
    if view.laid is None:
        return panel("Under the plans", html.P("Nothing yet: the plans of this drill are drawn on white."))
    if not view.laid.ground.shown:
        return panel("Under the plans", html.P("Nothing: the picture is turned off for this drill."))
    if view.picture is None:
        return panel("Under the plans", html.P("Nothing yet: it is not known where the picture lies. Pin it below."))
    west, east, south, north = view.picture.box
    words = f"The picture, {east - west:.0f} m wide and {north - south:.0f} m high near the drill, north up."
    credit = [html.P(view.picture.credit, className="quiet")] if view.picture.credit else []
    shown = html.Img(
        src=_address(view, "under.jpg"), alt="The picture as it lies under plans", className="ground-under"
    )
    return panel("Under the plans", html.P(words), *_agree(view.picture.misfit_m), *credit, shown)


def _agree(misfit_m: float | None) -> list[Any]:
    if misfit_m is None:
        return []
    doubt = " That is much: is one of them wrong, or was the photo taken from the side?"
    return [html.P(f"Its points agree within {misfit_m:.1f} m.{doubt if misfit_m > BIG_MISFIT_M else ''}")]


def _address(view: GroundView, name: str) -> str:
    return f"/ground-picture/{quote(view.drill, safe='')}/{name}?v={view.seen[:12]}"


def _form(view: GroundView, act: str, *content: Any, **how: Any) -> html.Form:
    action = f"/change-ground/{act}?{urlencode({'drill': view.drill})}"
    return html.Form([hidden("seen", view.seen), *content], action=action, method="post", **how)


def _submit(words: str) -> html.Button:
    return html.Button(words, type="submit", className="button")


def _pin_panel(view: GroundView) -> html.Section:
    laid = view.laid
    if laid is None:
        return html.Section()
    width, height = laid.size_px
    photo = html.Div(
        html.Img(src=_address(view, "whole.jpg"), alt="The whole picture, to press points on"),
        className="ground-photo",
        **{"data-width": str(width), "data-height": str(height)},
    )
    rows = [_row(number, view.rows[number], view) for number in PINS]
    more = html.Details([html.Summary("Further points"), *rows[2:]], className="more", open=len(laid.ground.pins) > 2)
    form = _form(view, "pins", photo, *rows[:2], more, _submit("Save the points"))
    if not laid.own:
        return panel("Pin it", form, note=PIN_NOTE)
    note = html.P(f"Without any point it lies where the file itself says. {PIN_NOTE}", className="panel-note")
    head = html.Summary("Pin it in another place")
    return panel("Where it lies", html.Details([head, note, form], className="more", open=bool(laid.ground.pins)))


def _row(number: str, row: Row, view: GroundView) -> html.Fieldset:
    options = [(TYPED, "metres typed here"), *((key, words) for key, words, _ in view.spots)]
    options.append((DEGREES, "latitude and longitude typed here"))
    return html.Fieldset(
        [
            html.Legend(f"Point {number}"),
            html.Button("Press it in the picture", type="button", className="button ground-pick"),
            text("Pixels from the left", f"x_px-{number}", row["x_px"], 12),
            text("Pixels from the top", f"y_px-{number}", row["y_px"], 12),
            select("It is", f"spot-{number}", options, row["spot"]),
            text("East of the origin, m", f"east_m-{number}", row["east_m"], 12),
            text("North of the origin, m", f"north_m-{number}", row["north_m"], 12),
            text("Latitude and longitude", f"degrees-{number}", row["degrees"], 40),
        ],
        className="ground-pin load-fields",
        **{"data-pin": number},
    )


def _shown_panel(view: GroundView) -> html.Section:
    shown = view.laid is not None and view.laid.ground.shown
    words = "Take it from under all plans" if shown else "Lay it under the plans again"
    form = _form(view, "shown", hidden("shown", "no" if shown else "yes"), _submit(words))
    return panel("Turn it off" if shown else "Turn it on", form)


def _take_panel(view: GroundView) -> html.Section:
    slot = html.Div(className="file-slot", **{"data-name": "picture", "data-label": "A picture, as a file"})
    credit = text("Whose picture it is (shown small beside it)", "credit", "", 200)
    form = _form(view, "picture", slot, credit, _submit("Take this picture"), encType="multipart/form-data")
    title = "Another picture" if view.laid is not None else "A picture of the ground"
    return panel(title, form, note=TAKE_NOTE)
