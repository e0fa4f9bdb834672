"""What Load offers for files whose times are off: one press for each offer, and a field for a zone that is missing."""

from dash import html

from analyzer.workspace.intake.model import Offer, RunRow
from dashboard.components.run_fields import select
from dashboard.view_models.zones import ZONES

ZONE = "Zone of its recorder's clock (its times bear none)"


def offer_buttons(field: str, offers: tuple[Offer, ...]) -> list[html.Div]:
    """Return a button for each offer; pressing it notes the choice, and the page shows what it makes of the times."""
    if not offers:
        return []
    buttons = [
        html.Button(_said(offer), type="submit", name="take", value=f"{field}={offer.value}", className="button")
        for offer in offers
    ]
    return [html.Div(buttons, className="load-offers")]


def _said(offer: Offer) -> str:
    words = offer.words.removeprefix("put in ")
    return f"Take it {words}" if words.startswith("with ") else f"Take it for {words}"


def zone_field(row: RunRow, suffix: str) -> html.Label:
    """Return the field of the zone of times that bear none: the drill's, where it has one."""
    known = [] if row.zone in dict(ZONES) else [(row.zone, row.zone or "choose …")]
    return select(ZONE, f"zone{suffix}", [*known, *ZONES], row.zone)
