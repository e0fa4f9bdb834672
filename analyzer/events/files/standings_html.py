"""Standings as one page to print: all tables, the rule sheet, what was scored. It needs nothing from elsewhere."""

import re
from html import escape

from analyzer.events.decisions_log import shown_head
from analyzer.events.files.scored_json import Scored
from analyzer.events.model import OVERALL, Standings
from analyzer.events.proposal_words import HOW as CONFIRM
from analyzer.events.proposal_words import shown_proposals
from analyzer.events.shown import ShownRow
from analyzer.events.words import HOW, columns_of, shown_rows, state_words

STYLE = """
@page { size: A4; margin: 14mm 12mm; }
body { font: 10.5pt/1.35 "DejaVu Sans", Arial, sans-serif; color: #10201d; }
body { margin: 1.2rem auto; max-width: 50rem; padding: 0 1rem; }
h1 { font-size: 18pt; margin: 0; } h2, h3 { font-size: 13pt; margin: 1.2em 0 .3em; break-after: avoid; }
h3 { font-size: 11pt; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
thead { display: table-header-group; } tr { break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: .2em .5em; border-bottom: 1px solid #c3ccc8; }
p, td { overflow-wrap: anywhere; }
thead th { border-bottom: 2px solid #10201d; } .num { white-space: nowrap; }
.small { color: #43534e; font-size: 8.5pt; }
.warn { border: 2px solid #a3122f; padding: .4em .7em; font-weight: 700; }
@media screen and (max-width: 40rem) {
thead { display: none; } tbody, tr, td { display: block; } tr { border-bottom: 1px solid #c3ccc8; padding: .4em 0; }
td { border: 0; padding: .05em .5em; } td:empty { display: none; }
td:not([data-name=""])::before { content: attr(data-name) ": "; color: #43534e; }
}
.foot { border-top: 2px solid #10201d; margin-top: 1.5em; padding-top: .4em; }
"""
SAFETY = (
    "A training aid. Never for a real rescue. Practise on safe ground. Your avalanche service and qualified "
    "instructors come first."
)
FIRST, LAST = ("Place", "Bib, name, class"), ("Total (90 %)", "Penalties", "Remarks")
"""The heads of the columns before and after those of the fields."""
NUM, SMALL = ' class="num"', ' class="small"'
TIME = re.compile(r"−?[0-9:.]+")
"""What must not be broken over two lines."""
MOST_FIELDS = 4
"""Beyond so many, the fields of the table overall stand in one column: a page is not wide enough for more."""


def standings_html(scored: Scored, changed: tuple[str, ...] = ()) -> bytes:
    """Return the page; `changed`: lines on what has changed since the scoring."""
    names, classes = dict(scored.fields) | {OVERALL: "Overall"}, dict(scored.classes)
    parts = [_table(table, names, classes, scored) for table in _in_order(scored)]
    rules = scored.rules
    what = f"{rules.name}, version {rules.version} ({rules.sha256[:8]})"
    source = f" Source: {rules.source}." if rules.source else ""
    warn = [f'<p class="warn">{escape(line)}</p>' for line in changed]
    notes = [f'<p class="small">{escape(note)}</p>' for note in scored.notes]
    text = f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(scored.name)}: standings</title><style>{STYLE}</style></head><body>
<h1>{escape(scored.name)}</h1><p>{escape(scored.date)}</p>{"".join(warn)}
<p class="small">Rule sheet: {escape(what)}.{escape(source)} {escape(HOW)}</p>
{"".join(parts)}{"".join(notes)}
<div class="foot"><p><strong>{escape(SAFETY)}</strong></p>
<p class="small">Searchwake {escape(scored.engine)}. Integrity {escape(scored.integrity)}</p>
<p>Log head <strong>{escape(shown_head(scored.log_head))}</strong>: note it by hand. <code>searchwake verify</code>
shows the same as long as nobody has scored this event in another way.</p></div>
</body></html>
"""
    return text.encode()


def _in_order(scored: Scored) -> list[Standings]:
    """Return overall first, then the fields; a single class has no tables of its own."""
    several = len(scored.classes) > 1
    wanted = [t for t in scored.standings if several or not t.class_id]
    return sorted(wanted, key=lambda t: t.scope != OVERALL)


def _table(table: Standings, names: dict[str, str], classes: dict[str, str], scored: Scored) -> str:
    title = names.get(table.scope, table.scope) + (f", {classes[table.class_id]}" if table.class_id else "")
    title += ", intermediate ranking" if table.waiting else ""
    columns = columns_of(table, scored.rules.kind, scored.fields)
    shown_columns = columns if len(columns) <= MOST_FIELDS else ("Fields",)
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in (*FIRST, *shown_columns, *LAST))
    shown = shown_rows(
        table, scored.rules.kind, classes, scored.fields, scored.standings, step_s=scored.rules.resolution_s
    )
    rows = "".join(_row(row, columns) for row in shown)
    state = "".join(f'<p class="warn">{escape(line)}</p>' for line in state_words(table))
    table_text = f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    return f"<h2>{escape(title)}</h2>{state}{table_text}{_proposals(table, scored)}"


def _row(row: ShownRow, columns: tuple[str, ...]) -> str:
    parts = dict(row.parts)
    texts = {name: parts.get(name, "") for name in columns}
    if len(columns) > MOST_FIELDS:
        texts = {"Fields": "; ".join(f"{name} {text}" for name, text in row.parts)}
    who = f"<strong>{escape(row.bib)}</strong> {escape(row.name)}{_small(row.class_name)}"
    cells = [
        _cell("Place", (escape(row.place) or "–") + _small(row.span), NUM),
        _cell("", who),
        *(_cell(name, escape(text), NUM if TIME.fullmatch(text) else "") for name, text in texts.items()),
        _cell("Total", (escape(row.total) or "–") + _small(row.interval), NUM),
        _cell("Penalties", escape("; ".join(row.penalties)), SMALL),
        _cell("Remarks", escape("; ".join(row.remarks)), SMALL),
    ]
    return f"<tr>{''.join(cells)}</tr>"


def _cell(name: str, html: str, kind: str = "") -> str:
    """Return a cell; `name`: what stands before it where the columns stand under each other."""
    return f'<td{kind} data-name="{escape(name)}">{html}</td>'


def _small(text: str) -> str:
    return f'<br><span class="small">{escape(text)}</span>' if text else ""


def _key(key: str) -> str:
    return _small(f"to confirm: {key}") if key else ""


def _proposals(table: Standings, scored: Scored) -> str:
    """Return the proposals of a field's table; they stand with the field, once, not with every class and overall."""
    found = shown_proposals(table, scored.fields)
    if table.scope == OVERALL or table.class_id or not found:
        return ""
    head = "".join(f'<th scope="col">{text}</th>' for text in ("Entry", "Proposed penalty", "Likely", "Adds", "State"))
    rows = "".join(
        f"<tr>{_cell('', f'<strong>{escape(one.bib)}</strong> {escape(one.name)}')}"
        f"{_cell('', escape(one.what) + _key(one.key))}{_cell('Likely', escape(one.likely))}"
        f"{_cell('Adds', escape(one.adds), NUM)}{_cell('State', escape(one.state))}</tr>"
        for one in found
    )
    return (
        f"<h3>Proposed penalties</h3><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        f'<p class="small">{escape(CONFIRM)}</p>'
    )
