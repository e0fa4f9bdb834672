"""Questions for everything that the application itself has registered: pages, addresses, forms on pages, callbacks.

What has no question, or takes a value that nobody gave here, ends the attack: a new page cannot be forgotten.
"""

import inspect
import io
import itertools
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from tests.attacks.asked import PAGES, Question, key_of, page_body, place_of

VALUES: dict[str, tuple[str, ...]] = {
    "drill": ("lower_bowl", "gully", "no-such"),
    "run": ("mara-1", "ilo-1", "no-such"),
    "event": ("cup", "later", "wrong"),
    "person": ("Mara Fennick", "nobody"),
    "name": ("sheet.pdf", "debrief.html", "standings.csv", "under.jpg", "whole.jpg", "x"),
    "sha256": ("0" * 64,),
    "filename": ("look.css", "nothing.css"),
    "package_name": ("dash", "os"),
    "fingerprinted_path": ("deps/nothing.js",),
    "path": ("no-such-page", "..", "%00"),
    "batch": ("an-invented-load", "AAAABBBBCCCC", ".."),
    "entry": ("an-invented-entry", ".."),
    "said": ("x",),
    "track": ("2", "1", "x"),
    "start": ("30,0", "nan,inf"),
    "sheet": ("0" * 64, "x"),
    "find": ("mara", "\x00"),
    "page": ("2", "-1", "1e9"),
    "group": ("Own", "x"),
    "to": ("2026-02-14", "x"),
    "across": ("slope", "x"),
}
"""What stands for each part and each key of an address."""
ANY_VALUE = ("x", "1", "-1e9")
"""What stands for a key of an address of which nobody says more; parts of a path have to be said."""
KEYS = {"drill": "lower_bowl", "run": "mara-1", "batch": "an-invented-load", "day": "x"}
"""All keys that an address takes which is fetched."""
ODD = "=1+1;<b>&\u202e"
STORED_FILE = b"elapsed,reading_m\n10,30\n20,25\n"
SENT: dict[str, list[tuple[Mapping[str, str], Any]]] = {
    "/take-in": [({"batch": "AAAABBBBCCCC", "name": "more.csv"}, STORED_FILE)],
    "/take-in/settle": [({"batch": "an-invented-load"}, {"drill": "", "use-2": "no"})],
    "/take-in/reopen": [({"batch": "an-invented-load"}, {}), ({"batch": "x"}, {})],
    "/typed-log/save": [
        ({"drill": drill, "run": "mara-1"}, json.dumps({"readings": "elapsed,reading_m\n1,9\n", "marks": ""}).encode())
        for drill in ("lower_bowl", "no-such")
    ]
    + [({"drill": "gully", "run": "run-2"}, b"[")],
    "/cut-recording": [({"batch": "an-invented-load", "track": "2"}, {"cut": "1", "from": "08:59:54", "to": ODD})],
    "/cut-recording/whole": [({"batch": "an-invented-load", "track": "2"}, {})],
    "/change-run/restore": [({"entry": "x"}, {})],
    "/phones/take-back": [({}, {"device": "x"})],
    "/phones/people": [({}, {"device": "x"})],
    "/change-run/cut": [({"drill": "lower_bowl", "run": "mara-1"}, {})],
    "/change-run/files": [({"drill": "lower_bowl", "run": "mara-1"}, {"files": "more.csv"})],
    "/range-check/send": [({}, {"table": "walk.csv"})],
    "/change-ground/picture": [({"drill": "lower_bowl"}, {"picture": "a.jpg"})],
    "/change-ground/pins": [({"drill": "lower_bowl"}, {"seen": "x"})],
    "/change-ground/shown": [({"drill": "lower_bowl"}, {"seen": "x"})],
}
"""What is sent to addresses whose forms are on no page of the attacked workspace, or are sent by a script."""
FILE_FIELDS = ("files", "picture", "table")
PLACES: dict[str, dict[str, tuple[Any, ...]]] = {
    "lay-target": {"data": ("start", "corners", "t0", None)},
    "lay-picked": {"data": (None, [3.0, 4.0])},
    "lay-gpx": {"contents": (None, "data:;base64,AAAA"), "filename": (None, "a.gpx")},
    "phones-shown": {"data": ("",)},
}
"""Id of a component -> property -> what is sent of it, beside what stands on a page."""
PATTERNS: dict[str, tuple[dict[str, Any], ...]] = {
    "measure-anew": ({"drill": "gully"},),
    "measure-anew-said": ({"drill": "gully"},),
    "put-in-force": ({"place": "list", "sheet": "0" * 64},),
}
"""Type of components that are on no page of the attacked workspace -> parts of their ids."""
MOST_OF_ONE = 6
"""Questions of one callback."""
COUNTS = ("n_clicks", "n_intervals")
Shown = dict[str, list[tuple[Any, dict[str, Any]]]]
"""Id or type of a component -> id and properties of each that stands on a page; of a type those of one page."""


def registered(app: Any, workspace_asked: Iterable[Question]) -> list[Question]:
    """Return questions for all that is registered and that `workspace_asked` does not ask.

    Raises
    ------
    SystemExit
        Where something has no question, naming it.
    """
    pages, found = list(_pages()), list(workspace_asked)
    client = app.server.test_client()
    trees = [json.loads(page.ask(client).get_data() or b"null") for page in pages]
    forms = list(_forms(trees))
    more = [*pages, *_fetched(app), *forms, *_sent(app, forms)]
    more += _callbacks(app, {question.output for question in found}, _shown(trees))
    return more


def _pages() -> Iterator[Question]:
    """Yield every page of the registry, with every key of an address that its function takes."""
    from dash import page_registry

    for page in page_registry.values():
        template = page.get("path_template") or page["path"]
        parts = re.findall(r"<([^<>]+)>", template)
        keys = [k for k, p in inspect.signature(page["layout"]).parameters.items() if p.kind is not p.VAR_KEYWORD]
        searches = [
            "",
            *(f"?{key}={value}" for key in keys if key not in parts for value in VALUES.get(key, ANY_VALUE)),
        ]
        for path in _filled(template, parts):
            for search in searches:
                yield _page(path, search)


def _page(path: str, search: str) -> Question:
    body = page_body(path, search)
    return Question(f"page {path}{search}", lambda client: client.post(PAGES, json=body))


def _fetched(app: Any) -> Iterator[Question]:
    """Yield every address that is fetched, with all keys that any address takes."""
    for rule in app.server.url_map.iter_rules():
        if "GET" in rule.methods:
            plain = re.sub(r"<(?:[^<>:]+:)?([^<>]+)>", r"<\1>", rule.rule)
            for path in _filled(plain, sorted(rule.arguments)):
                yield _get(path, {})
            yield _get(path, KEYS)


def _get(path: str, keys: Mapping[str, str]) -> Question:
    return Question(f"GET {path} {keys or ''}", lambda client: client.get(path, query_string=keys))


def _shown(trees: Iterable[Any]) -> Shown:
    """Return the components of all pages that have an id."""
    found: Shown = {}
    for tree in trees:
        own: Shown = {}
        for props in _with_id(tree):
            id_ = props["id"]
            own.setdefault(id_["type"] if isinstance(id_, dict) else id_, []).append((id_, props))
        for name, components in own.items():
            if isinstance(components[0][0], str):
                found.setdefault(name, []).extend(components)
            else:
                found.setdefault(name, components)
    return found


def _with_id(tree: Any) -> Iterator[dict[str, Any]]:
    for node in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from _with_id(node)
    if isinstance(tree, dict) and isinstance(tree.get("id"), str | dict):
        yield tree


def _forms(trees: Iterable[Any]) -> Iterator[Question]:
    """Yield every form that stands on a page, sent as it stands there, and with odd texts in all of its fields."""
    seen = set()
    for tree in trees:
        for form in _of_type(tree, "Form"):
            if form.get("method") == "post" and form["action"] not in seen:
                seen.add(form["action"])
                fields = dict(_fields(form))
                yield _post(form["action"], {}, fields)
                yield _post(form["action"], {}, dict.fromkeys(fields, ODD))


def _of_type(tree: Any, kind: str) -> Iterator[dict[str, Any]]:
    for node in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from _of_type(node, kind)
    if isinstance(tree, dict) and tree.get("type") == kind and isinstance(tree.get("props"), dict):
        yield tree["props"]


def _fields(form: dict[str, Any]) -> Iterator[tuple[str, str]]:
    for kind in ("Input", "Textarea", "Select"):
        for props in _of_type(form, kind):
            if isinstance(props.get("name"), str):
                yield props["name"], str(props.get("value") or "")


def _sent(app: Any, forms: Iterable[Question]) -> Iterator[Question]:
    """Yield what is sent to further addresses; each that takes something must have a question by now."""
    taken = {rule.rule for rule in app.server.url_map.iter_rules() if "POST" in rule.methods} - {PAGES}
    for path, bodies in SENT.items():
        yield from (_post(path, keys, body) for keys, body in bodies)
    asked = {path for form in forms for path in taken if form.name.startswith(f"POST {path}")} | set(SENT)
    if taken - asked:
        raise SystemExit(f"nothing is sent to these addresses; add them to SENT: {sorted(taken - asked)}")


def _post(address: str, keys: Mapping[str, str], body: Any) -> Question:
    def ask(client: Any) -> Any:
        if isinstance(body, bytes):
            return client.post(address, query_string=keys or None, data=body, content_type="application/json")
        sent = {k: (io.BytesIO(STORED_FILE), v or "a.csv") if k in FILE_FIELDS else v for k, v in body.items()}
        return client.post(address, query_string=keys or None, data=sent, content_type="multipart/form-data")

    return Question(f"POST {address} {dict(keys) or ''}", ask, changes=True)


def _callbacks(app: Any, asked: set[str], shown: Shown) -> Iterator[Question]:
    """Yield every callback that runs on the server and is not asked yet, with what pages send of their components."""
    for output, spec in app.callback_map.items():
        if "callback" in spec and output not in asked:
            choices = [list(_sent_of(one, shown)) for one in (*spec["inputs"], *spec["state"])]
            for number in range(min(max(len(one) for one in choices), MOST_OF_ONE)):
                sent = [one[number % len(one)] for one in choices]
                yield _called(output, sent[: len(spec["inputs"])], sent[len(spec["inputs"]) :], shown)


def _called(output: str, inputs: list[Any], state: list[Any], shown: Shown) -> Question:
    first = inputs[0][0] if isinstance(inputs[0], list) else inputs[0]
    changed = [f"{key_of(first['id'])}.{first['property']}"]
    several = output.startswith("..")
    outputs = [_output(one, shown) for one in output.strip(".").split("...")] if several else _output(output, shown)
    body = {"output": output, "outputs": outputs, "inputs": inputs, "state": state, "changedPropIds": changed}
    name = f"callback {output[:60]}"
    return Question(name, lambda client: client.post(PAGES, json=body), changes=True, output=output)


def _output(name: str, shown: Shown) -> Any:
    key, _, prop = name.partition("@")[0].rpartition(".")
    found = [{"id": one, "property": prop} for one, _ in _components(key, shown)]
    return found if '["ALL"]' in key else found[0]


def _components(key: str, shown: Shown) -> list[tuple[Any, dict[str, Any]]]:
    """Return id and properties of what an id, or a pattern of ids, stands for on a page."""
    if not key.startswith("{"):
        return shown.get(key, [(key, {})])
    pattern = json.loads(key)
    kind = pattern["type"]
    there = shown.get(kind) or [({"type": kind, **parts}, {}) for parts in PATTERNS.get(kind, ())]
    fixed = {part: value for part, value in pattern.items() if value not in (["ALL"], ["MATCH"])}
    found = [(id_, props) for id_, props in there if fixed.items() <= id_.items()]
    if found or kind in shown:
        return found or [(fixed, {})]
    raise SystemExit(f"no page has components of the type {kind}; say in PATTERNS which there may be")


def _sent_of(one: dict[str, Any], shown: Shown) -> Iterator[Any]:
    """Yield what may be sent for an input or state of a callback."""
    key, prop = one["id"], one["property"]
    components = _components(key, shown)
    if key.startswith("{"):
        found = [place_of(id_, prop, 1 if prop in COUNTS else props.get(prop)) for id_, props in components]
        yield found if '["ALL"]' in key else found[0]
    elif prop in COUNTS:
        yield place_of(key, prop, 1)
    else:
        values = [props[prop] for _, props in components if prop in props]
        values += PLACES.get(key, {}).get(prop, ())
        if not values:
            raise SystemExit(f"no page shows {prop} of the component {key}; say in PLACES what is sent of it")
        yield from (place_of(key, prop, value) for value in values)


def _filled(template: str, parts: list[str]) -> Iterator[str]:
    """Yield an address with each combination of what its parts may be."""
    for chosen in itertools.product(*(_values(part) for part in parts)):
        path = template
        for part, value in zip(parts, chosen, strict=True):
            path = path.replace(f"<{part}>", value)
        yield path


def _values(name: str) -> tuple[str, ...]:
    if name not in VALUES:
        raise SystemExit(f"nobody says what {name} of an address may be; add it to VALUES")
    return VALUES[name]
