"""The place to drop files on; the page's own script fills it with what chooses, sends and shows progress."""

from dash import html

from dashboard import ids


def drop_zone(token: str, *, drill: str = "", most_bytes: int, more: bool = False) -> html.Div:
    """Return the place. `token`: of the basket that files go into; `drill`: to come back to with the page."""
    data = {"data-batch": token, "data-drill": drill, "data-most": str(most_bytes), "data-more": "yes" if more else ""}
    return html.Div(
        html.P("The drop zone needs a moment …", className="quiet"), id=ids.DROP_ZONE, className="drop-zone", **data
    )
