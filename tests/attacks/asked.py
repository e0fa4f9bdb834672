"""Everything that can be asked of a dashboard over the workspace of `stored`: pages, callbacks, files, uploads."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dashboard import ids

TAKEN = ("sheet.pdf", "debrief.html", "account.csv", "timeline.csv", "measures.csv", "measures.json")
PAGES = "/_dash-update-component"
Answer = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask. `name`: for the report; `ask`: asks it of a Flask test client and returns its response.

    `changes`: it may change the workspace. `output`: of the callback that it asks.
    """

    name: str
    ask: Callable[[Any], Any]
    changes: bool = False
    output: str = ""


def questions(basket: str, sheet: str) -> list[Question]:
    """Return all of them; `basket`: token of a load; `sheet`: hash of a stored rule sheet."""
    found = [_page(path, search) for path, search in page_addresses(basket, sheet)]
    found += [_get(f"/take/lower_bowl/{run}/{name}") for run in ("mara-1", "ilo-1") for name in TAKEN]
    found += [
        _get(f"/take-drill/lower_bowl/{name}")
        for name in ("sheet.pdf", "sheet.pdf?day=2026-02-14", "laying-plan.pdf", "x")
    ]
    found += [_get(f"/take-event/cup/{name}") for name in ("standings.csv", "standings.json", "list.html", "x")]
    found += [_get(f"/rule-sheet/{sheet}"), _get(f"/take-in/known?batch={basket}"), _get("/")]
    found += [_upload(basket), _settle(basket), *_callbacks(basket, sheet)]
    return found


def page_addresses(basket: str, sheet: str) -> list[tuple[str, str]]:
    """Return path and search of every page, as an address has them."""
    runs = "run=mara-1&run=ilo-1&run=runa-1"
    return [
        ("/", ""),
        ("/", "?find=mara&page=2"),
        ("/season", ""),
        ("/season", "?group=Own"),
        ("/season/Mara%20Fennick", ""),
        ("/season/Ilo%20Brandt", ""),
        ("/run/lower_bowl/mara-1", ""),
        ("/run/lower_bowl/mara-1", "?from=168&to=202"),
        ("/run/lower_bowl/ilo-1", ""),
        ("/replay/lower_bowl/mara-1", ""),
        ("/replay/lower_bowl/runa-1", ""),
        ("/side-by-side/lower_bowl", ""),
        ("/side-by-side/lower_bowl", f"?{runs}"),
        ("/side-by-side/lower_bowl", f"?{runs}&align=first_reading&base=ilo-1"),
        ("/side-by-side/lower_bowl", f"?{runs}&align=lowest"),
        ("/rules/lower_bowl", ""),
        ("/rules/lower_bowl", f"?sheet={sheet}"),
        ("/standings", ""),
        ("/standings/cup", ""),
        ("/standings/cup", "?field=lower_bowl&class=open"),
        ("/standings/later", ""),
        ("/lay-out", ""),
        ("/lay-out/lower_bowl", ""),
        ("/laying-plan/lower_bowl", ""),
        ("/lay-out/gully", "?start=30,0"),
        ("/particulars/lower_bowl/mara-1", ""),
        ("/particulars/lower_bowl/mara-1", "?said=x&entry=x"),
        ("/bin", ""),
        ("/measured/lower_bowl", ""),
        ("/load", ""),
        ("/load", "?drill=gully"),
        ("/load", f"?batch={basket}"),
        ("/no-such-page", ""),
    ]


def page_body(path: str, search: str) -> dict[str, Any]:
    """Return the body by which the dashboard's own script asks for what a page holds."""
    places = [{"id": "_pages_content", "property": "children"}, {"id": "_pages_store", "property": "data"}]
    inputs = [place_of("_pages_location", "pathname", path), place_of("_pages_location", "search", search)]
    output = ".._pages_content.children..._pages_store.data.."
    changed = ["_pages_location.pathname"]
    return {"output": output, "outputs": places, "inputs": inputs, "state": [], "changedPropIds": changed}


def _page(path: str, search: str) -> Question:
    body = page_body(path, search)
    return Question(f"{path}{search}", lambda client: client.post(PAGES, json=body), output=body["output"])


def _get(address: str) -> Question:
    return Question(address, lambda client: client.get(address))


def _upload(basket: str) -> Question:
    def ask(client: Any) -> Any:
        return client.post(
            "/take-in", query_string={"batch": basket, "name": "more.csv"}, data=b"time,reading_m\nx,3\n"
        )

    return Question("POST /take-in", ask, changes=True)


def _settle(basket: str) -> Question:
    """Return a decision that leaves something open, so that no work begins."""

    def ask(client: Any) -> Any:
        return client.post("/take-in/settle", query_string={"batch": basket}, data={"drill": "", "use-2": "no"})

    return Question("POST /take-in/settle", ask, changes=True)


def _callbacks(basket: str, sheet: str) -> list[Question]:
    run = place_of(ids.RUN_REF, "data", ["lower_bowl", "mara-1"])
    ilo = place_of(ids.RUN_REF, "data", ["lower_bowl", "ilo-1"])
    return [
        _show_window(run),
        _show_window(ilo),
        _choose_window(run, "finding"),
        _choose_window(ilo, "account"),
        _look(basket),
        _unfold("cup", "overall", "3"),
        _unfold("cup", "lower_bowl", "1"),
        _count_points(sheet),
        _compare(),
        _save_drill(),
    ]


def _show_window(run: dict[str, Any]) -> Question:
    buttons = [ids.show_window("finding", 0), ids.show_window("account", 1)]
    single = (ids.SHOWN, "data"), (ids.CAPTION, "children"), *[(i, "figure") for i in (ids.TIMELINE, ids.OVER_TIME)]
    outputs: list[Any] = [{"id": i, "property": p} for i, p in (*single, (ids.PLAN, "figure"))]
    outputs += [[{"id": ids.close_up(0), "property": "figure"}]]
    outputs += [[{"id": button, "property": "aria-pressed"} for button in buttons]]
    close_ups, pressed = (
        _pattern("figure", number="ALL", type=ids.CLOSE_UP),
        _pattern("aria-pressed", number="ALL", place="ALL", type=ids.SHOW_WINDOW),
    )
    names = [f"{o['id']}.{o['property']}" for o in outputs[:5]]
    output = f"..{'...'.join([*names, close_ups, pressed])}.."
    inputs = [place_of(ids.ADDRESS, "search", "?from=168.0&to=202.0")]
    return _call("show_window", output, outputs, inputs, [run, place_of(ids.SHOWN, "data", "")])


def _choose_window(run: dict[str, Any], place: str) -> Question:
    inputs = [[place_of(ids.show_window(place, 1), "n_clicks", 1)], place_of(ids.TIMELINE, "clickData", None)]
    output = {"id": ids.ADDRESS, "property": "search"}
    changed = f"{key_of(ids.show_window(place, 1))}.n_clicks"
    return _call("choose_window", f"{ids.ADDRESS}.search", output, inputs, [run], changed)


def _look(basket: str) -> Question:
    outputs = [{"id": ids.LOAD_WORK, "property": "children"}, {"id": ids.LOAD_TICK, "property": "disabled"}]
    output = f"..{ids.LOAD_WORK}.children...{ids.LOAD_TICK}.disabled.."
    return _call(
        "look", output, outputs, [place_of(ids.LOAD_TICK, "n_intervals", 1)], [place_of(ids.LOAD_REF, "data", basket)]
    )


def _unfold(event: str, scope: str, bib: str) -> Question:
    lines, fold = ids.entry_lines(bib), ids.entry_fold(bib)
    state = [place_of(lines, "children", None), place_of(ids.EVENT_REF, "data", [event, scope])]
    output = {"id": lines, "property": "children"}
    inputs = [place_of(fold, "n_clicks", 1)]
    name = _pattern("children", bib="MATCH", type=ids.ENTRY_LINES)
    return _call("unfold", name, output, inputs, state, f"{key_of(fold)}.n_clicks")


def _count_points(sheet: str) -> Question:
    fields = [[place_of(ids.rule_field("missed_s"), "value", "300")]]
    state = [place_of(ids.RULE_REF, "data", ["lower_bowl", sheet])]
    output = {"id": ids.PREVIEW, "property": "children"}
    return _call("count", f"{ids.PREVIEW}.children", output, fields, state)


def _compare() -> Question:
    buttons = [ids.compare("run", "mara-1"), ids.compare("align", "lowest")]
    outputs: list[Any] = [{"id": ids.COMPARED_SHOWN, "property": "data"}]
    outputs += [{"id": ids.COMPARED_BODY, "property": "children"}]
    outputs += [[{"id": b, "property": p} for b in buttons] for p in ("aria-pressed", "hidden")]
    many = [_pattern(p, kind="ALL", type=ids.COMPARE, value="ALL") for p in ("aria-pressed", "hidden")]
    output = f"..{ids.COMPARED_SHOWN}.data...{ids.COMPARED_BODY}.children...{'...'.join(many)}.."
    inputs = [place_of(ids.COMPARED_ADDRESS, "search", "?run=mara-1&run=ilo-1")]
    state = [place_of(ids.COMPARED_DRILL, "data", "lower_bowl"), place_of(ids.COMPARED_SHOWN, "data", "")]
    return _call("compare", output, outputs, inputs, state)


def drill_fields() -> dict[str, str]:
    """Return the fields of the form in which a drill is laid out, as they are first shown."""
    from dashboard.view_models.drill_form import example

    return dict(example("2026-02-14"))


def _save_drill() -> Question:
    """Return the saving of a drill that was opened before it was changed: it is refused, whatever lies there."""
    button = ids.lay_save("own")
    outputs: list[Any] = [{"id": ids.LAY_SAVED, "property": "children"}, {"id": ids.LAY_REF, "property": "data"}]
    outputs += [{"id": ids.lay_save("new"), "property": "hidden"}]
    output = f"..{ids.LAY_SAVED}.children...{ids.LAY_REF}.data...{key_of(ids.lay_save('new'))}.hidden.."
    fields = [place_of(ids.lay_field(key), "value", value) for key, value in drill_fields().items()]
    state = [place_of(ids.LAY_REF, "data", ["gully", "0" * 64]), fields]
    inputs = [[place_of(button, "n_clicks", 1)]]
    return _call("save drill", output, outputs, inputs, state, f"{key_of(button)}.n_clicks")


def _call(
    name: str, output: str, outputs: Any, inputs: list[Any], state: list[Any], changed: str | None = None
) -> Question:
    first = inputs[0][0] if isinstance(inputs[0], list) else inputs[0]
    key = first["id"] if isinstance(first["id"], str) else key_of(first["id"])
    changed_ids = [changed or f"{key}.{first['property']}"]
    body = {"output": output, "outputs": outputs, "inputs": inputs, "state": state, "changedPropIds": changed_ids}
    return Question(name, lambda client: client.post(PAGES, json=body), output=output)


def place_of(key: Any, prop: str, value: Any) -> dict[str, Any]:
    """Return what a page sends of one property of a component."""
    return {"id": key, "property": prop, "value": value}


def key_of(values: Any) -> str:
    """Return the id of a component as callbacks name it."""
    if isinstance(values, str):
        return values
    return json.dumps(values, sort_keys=True, separators=(",", ":"))


def _pattern(prop: str, **parts: str) -> str:
    """Return the name of an output with a pattern, as the dashboard's own pages send it."""
    open_parts = {k: [v] if v in ("ALL", "MATCH") else v for k, v in parts.items()}
    return f"{key_of(open_parts)}.{prop}"
