"""What is laid where, to take out onto the snow: `/laying-plan/<drill>`. For whoever lays the drill alone."""

from typing import Any
from urllib.parse import unquote

from dash import html, register_page

from analyzer.errors import AnalyzerError
from dashboard.components.laying_plan import laying_page
from dashboard.components.shell import message_page
from dashboard.pages._here import config
from dashboard.services.drills import Drills

register_page(__name__, path_template="/laying-plan/<drill>", title="Laying plan")


def layout(drill: str = "", **_: Any) -> html.Div:
    """Return the page, or a page that says why there is none."""
    try:
        plan = Drills(config().drills, config().workspace).plan(unquote(drill))
    except AnalyzerError as error:
        return message_page("This drill cannot be opened", str(error))
    if plan is None:
        return message_page("This drill is not here", "There is no drill under this name in the folder.")
    about = [html.P(text, className="quiet") for text in plan.about]
    title = html.Div([html.H1(f"Laying plan: {plan.drill.name}"), *about], className="title")
    return html.Div([title, *laying_page(plan)], className="laying")
