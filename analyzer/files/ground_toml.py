"""ground.toml: the picture under a drill's plan, and where it is pinned. No result depends on it."""

from analyzer.errors import InputError
from analyzer.files.names import check_new_name
from analyzer.files.toml_table import TomlTable, read_toml
from analyzer.files.writers import toml_text
from analyzer.model.ground import Ground, Pin

GROUND_FILE = "ground.toml"
MOST_PINS = 8
MOST_CREDIT = 200
FARTHEST_M = 20_000.0
"""A pin farther from a drill than this is a slip; our choice."""
HEAD = "# The picture under the plan of this drill. No result depends on it.\n"


def parse_ground(data: bytes, *, name: str = GROUND_FILE) -> Ground:
    """Return what a ground.toml says.

    Raises
    ------
    FileError
        With a line for each thing that is wrong.
    """
    return read_toml(_ground, data, name=name)


def _ground(table: TomlTable) -> Ground:
    table.allow("picture", "credit", "shown", "pin")
    shown = table.values.get("shown", True)
    if not isinstance(shown, bool):
        table.report("shown", "this is neither true nor false", "write shown = true, or false")
    pins = table.tables("pin")
    if len(pins) > MOST_PINS:
        table.report(
            "pin", f"there are {len(pins)} pins, at most {MOST_PINS} are read", "keep those that lie far apart"
        )
    credit = table.text("credit", "")
    if len(credit) > MOST_CREDIT:
        table.report("credit", f"the text has {len(credit)} signs", f"shorten it to {MOST_CREDIT}")
    return Ground(_picture(table), tuple(_pin(one) for one in pins[:MOST_PINS]), credit, shown is True)


def _picture(table: TomlTable) -> str:
    name = table.text("picture")
    try:
        check_new_name(name or "-", where=table.where)
    except InputError as error:
        table.report("picture", error.what, "write the name of a picture beside this file")
    if name.startswith("."):
        table.report("picture", "this is no picture beside this file", "write the name of a picture beside this file")
    return name


def _pin(table: TomlTable) -> Pin:
    table.allow("x_px", "y_px", "east_m", "north_m")
    return Pin(
        table.number("x_px", low=0.0),
        table.number("y_px", low=0.0),
        table.number("east_m", low=-FARTHEST_M, high=FARTHEST_M),
        table.number("north_m", low=-FARTHEST_M, high=FARTHEST_M),
    )


def write_ground(ground: Ground) -> bytes:
    """Return ground.toml; it reads back as what it was made of."""
    lines = [f"picture = {toml_text(ground.picture)}"]
    if ground.credit:
        lines.append(f"credit = {toml_text(ground.credit)}")
    if not ground.shown:
        lines.append("shown = false")
    for pin in ground.pins:
        values = {"x_px": pin.x_px, "y_px": pin.y_px, "east_m": pin.east_m, "north_m": pin.north_m}
        lines += ["", "[[pin]]", *(f"{key} = {float(value)}" for key, value in values.items())]
    return (HEAD + "\n".join(lines) + "\n").encode()
