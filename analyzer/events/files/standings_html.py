"""Standings as one page to print: all tables, the rule sheet, what was scored. It needs nothing from elsewhere."""

from html import escape

from analyzer.events.decisions_log import shown_head
from analyzer.events.files.scored_json import Scored
from analyzer.events.model import OVERALL, ShownRow, Standings
from analyzer.events.words import shown_rows

STYLE = """
@page { size: A4; margin: 14mm 12mm; }
body { font: 10.5pt/1.35 "DejaVu Sans", Arial, sans-serif; color: #10201d; }
body { margin: 1.2rem auto; max-width: 50rem; padding: 0 1rem; }
h1 { font-size: 18pt; margin: 0; } h2 { font-size: 13pt; margin: 1.2em 0 .3em; break-after: avoid; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; font-variant-numeric: tabular-nums; }
thead { display: table-header-group; } tr { break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: .2em .5em; border-bottom: 1px solid #c3ccc8; }
td { overflow-wrap: anywhere; }
thead th { border-bottom: 2px solid #10201d; } .num { white-space: nowrap; }
.small { color: #43534e; font-size: 8.5pt; }
.warn { border: 2px solid #a3122f; padding: .4em .7em; font-weight: 700; }
.foot { border-top: 2px solid #10201d; margin-top: 1.5em; padding-top: .4em; }
"""
SAFETY = (
    "A training aid. Never for a real rescue. Practise on safe ground. Your avalanche service and qualified "
    "instructors come first."
)
HEAD = (("Place", 7), ("Bib", 7), ("Name", 24), ("Class", 13), ("Total", 11), ("90 %", 15), ("Remarks", 23))
"""The columns with their shares of the width, per cent."""


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
<p class="small">Rule sheet: {escape(what)}.{escape(source)} Places that are not clearly apart are marked:
the 90 % interval of the difference of two neighbours holds zero.</p>
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
    head = "".join(f'<th scope="col" style="width: {width}%">{text}</th>' for text, width in HEAD)
    rows = "".join(_row(row) for row in shown_rows(table, scored.rules.kind, classes))
    return f"<h2>{escape(title)}</h2><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _row(row: ShownRow) -> str:
    cells = [f'<td class="num">{escape(row.place) or "–"}</td>', f'<td class="num">{escape(row.bib)}</td>']
    cells += [f"<td>{escape(text)}</td>" for text in (row.name, row.class_name)]
    cells += [f'<td class="num">{escape(row.total)}</td>', f'<td class="small">{escape(row.interval)}</td>']
    return f"<tr>{''.join(cells)}<td>{escape('; '.join(row.remarks))}</td></tr>"
