"""Several transmitters on one debrief: only what belongs to the dearest loss stands open."""

import dataclasses

from dash import html

from dashboard.components.account_bars import account_bars
from dashboard.components.debrief import debrief_page
from dashboard.view_models.account import account_view
from dashboard.view_models.losses import dearest_transmitter
from dashboard.wording import signed_clock


def parts(component, kind):
    """Return all components of a kind in a tree, folded ones too."""
    found = [component] if isinstance(component, kind) else []
    children = getattr(component, "children", None)
    for child in children if isinstance(children, (list, tuple)) else [children]:
        found += parts(child, kind) if child is not None and not isinstance(child, str) else []
    return found


def summaries(component):
    return ["".join(map(str, parts(fold, html.Summary)[0].children)) for fold in parts(component, html.Details)]


def test_the_dearest_loss_decides_what_stands_open(result):
    assert dearest_transmitter(result) == "B"  # 110 s of probing beside the lowest reading
    of_a = tuple(finding for finding in result.findings if finding.transmitter == "A")
    rows = tuple(row for row in result.account if row.transmitter == "A" or row.cause == "reference")
    assert dearest_transmitter(dataclasses.replace(result, findings=of_a, account=rows)) == "A"
    assert dearest_transmitter(dataclasses.replace(result, findings=())) == "B"  # the account alone
    assert dearest_transmitter(dataclasses.replace(result, findings=(), account=())) == "A"


def test_the_account_of_the_other_transmitter_is_folded_under_its_sum(result):
    bars = account_bars(result)
    (fold,) = parts(bars, html.Details)
    lines = [line for part in account_view(result).parts if part.transmitter == "A" for line in part.lines]
    lost = sum(line.seconds for line in lines if line.cause != "reference")
    assert summaries(bars) == [f"Transmitter A: {signed_clock(lost)}"]
    assert len(parts(fold, html.Li)) == len([line for line in lines if line.cause != "reference" and line.seconds])
    assert not getattr(fold, "open", False)


def test_nothing_is_lost_by_folding_and_one_transmitter_folds_nothing(result):
    two = debrief_page(result, ("bowl", "mara-1"), None)
    assert "Fine search, transmitter A" in summaries(two)
    assert "Fine search, transmitter B" not in summaries(two)
    assert str(two).count("'chart chart-closeup'") == 2
    phases = tuple(p for p in result.phases if p.transmitter == "A")
    rows = tuple(row for row in result.account if row.transmitter == "A")
    one = dataclasses.replace(result, searches=result.searches[:1], phases=phases, account=rows)
    page = debrief_page(one, ("bowl", "mara-1"), None)
    assert str(page).count("'chart chart-closeup'") == 1
    assert not [text for text in summaries(page) if text.startswith(("Fine search", "Transmitter", "Distance"))]
