"""Figures as data: names, units, numbers. The library itself checks that every key exists."""

import dataclasses
import math

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboard.figures import theme
from dashboard.figures.changes import changed, closeup_changes, over_time_changes, plan_changes, timeline_changes
from dashboard.figures.fine_closeup import closeup_figure
from dashboard.figures.over_time import over_time_figure, reference_pace
from dashboard.figures.plan import plan_figure, scale_length
from dashboard.figures.timeline_bar import timeline_figure
from dashboard.figures.traces import HIGHLIGHT
from dashboard.view_models.selection import Window
from dashboard.wording import ACTIVITIES

WINDOW = Window(168.0, 202.0)
MAKERS = {
    "plan": plan_figure,
    "time": over_time_figure,
    "timeline": timeline_figure,
    "closeup": lambda result, window=None: closeup_figure(result, result.searches[0], window),
}


def named(figure, name):
    return next(trace for trace in figure["data"] if trace["name"] == name)


@pytest.mark.parametrize("maker", MAKERS.values(), ids=MAKERS)
@pytest.mark.parametrize("window", [None, WINDOW], ids=["whole", "window"])
def test_the_chart_library_accepts_every_figure(maker, window, result):
    figure = maker(result, window)
    assert len(go.Figure(figure).data) == len(figure["data"])  # raises on unknown keys and wrong values


def test_axes_carry_units(result):
    plan, curves = plan_figure(result)["layout"], over_time_figure(result)["layout"]
    titles = [
        layout[axis]["title"]["text"]
        for layout, axis in ((plan, "xaxis"), (plan, "yaxis"), (curves, "xaxis"), (curves, "yaxis"), (curves, "yaxis2"))
    ]
    assert titles == ["east, m", "north, m", "time from start, min:s", "distance and reading, m", "pace, m/s"]


def test_plan_has_equal_axes_and_every_part(result):
    figure = plan_figure(result)
    assert (figure["layout"]["yaxis"]["scaleanchor"], figure["layout"]["yaxis"]["scaleratio"]) == ("x", 1)
    names = [trace["name"] for trace in figure["data"]]
    for name in (
        "area",
        "path, 90 %",
        "strips",
        "ideal way",
        "ideal cross",
        "lowest should be here",
        "signal",
        "coarse",
        "fine",
        "probe",
        "phase begins",
        "transmitter, 90 %",
        "transmitter",
    ):
        assert name in names
    assert names[HIGHLIGHT] == "shown window"


def test_the_path_of_a_phase_covers_its_time(result):
    signal = named(plan_figure(result), "signal")
    assert signal["customdata"][[0, -1]].tolist() == [0.0, 110.0]
    assert (signal["x"][0], signal["y"][0]) == (result.path.east_m[0], result.path.north_m[0])


def test_phases_differ_by_line_style_and_symbol_not_by_colour_alone():
    styles = theme.PHASE_STYLES.values()
    assert len({s.dash for s in styles}) == len({s.symbol for s in styles}) == len(theme.PHASE_STYLES) == 4


def test_activities_differ_by_pattern_and_letter():
    assert set(theme.ACTIVITY_STYLES) == set(ACTIVITIES)
    assert len({letter for letter, _, _ in ACTIVITIES.values()}) == len(ACTIVITIES)
    # Two activities may share a pattern only where it is inverted: light on dark and dark on light.
    looks = {(s.pattern, luminance(s.fill) > 0.6) for s in theme.ACTIVITY_STYLES.values()}
    assert len(looks) == len(ACTIVITIES)


def luminance(colour):
    """Return relative luminance, WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first, second):
    """Return the contrast ratio, WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_on_its_published_ends():
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)  # WCAG 2.2: ratios run from 1 to 21
    assert contrast("#777777", "#777777") == pytest.approx(1.0)


def test_text_and_lines_keep_their_contrast():
    for text, ground in (
        (theme.INK, theme.PAPER),
        (theme.QUIET, theme.PAPER),
        (theme.QUIET, theme.GROUND),
        (theme.INK, theme.SELECT),
        (theme.PAPER, theme.ALARM),
        (theme.PAPER, theme.INK),
    ):
        assert contrast(text, ground) >= 4.5  # WCAG 2.2, 1.4.3
    for style in theme.PHASE_STYLES.values():
        assert contrast(style.line, style.tint) >= 4.5  # the phase's word is written on its tint
        assert contrast(style.line, theme.PAPER) >= 3.0  # WCAG 2.2, 1.4.11
    for colour in (theme.IDEAL, theme.ALARM, theme.EDGE):
        assert contrast(colour, theme.PAPER) >= 3.0


def test_timeline_bar_adds_up_and_runs_in_the_order_of_time(result):
    bars = [trace for trace in timeline_figure(result)["data"] if trace["name"] != "phase"]
    pieces = sorted((base, length) for bar in bars for base, length in zip(bar["base"], bar["x"], strict=True))
    assert sum(length for _, length in pieces) == pytest.approx(1000.0 * result.duration_s, abs=1.0)
    ends = [base + length for base, length in pieces]
    assert [base for base, _ in pieces[1:]] == pytest.approx(ends[:-1])
    assert pieces[0][0] == theme.axis_ms(0.0)


def test_time_axis_numbers_are_never_taken_for_years():
    # The chart library reads 1000 to 9999 on a date axis as years.
    numbers = theme.axis_ms(np.arange(-60.0, 7200.0, 0.5))
    assert numbers.min() > 9999.0
    assert np.abs(np.float32(numbers) - numbers).max() <= 8.0  # ms, as documented
    assert theme.axis_seconds(theme.axis_ms(12.5)) == 12.5


def test_time_axis_of_a_long_run_shows_hours():
    assert theme.time_axis(3600.0)["tickformat"].startswith("%-H")
    assert theme.time_axis(3599.0)["tickformat"] == "%-M:%S"


def test_readings_that_the_fit_did_not_trust_are_drawn_apart(result):
    figure = over_time_figure(result)
    few = int((result.readings[:, 2] < 0.5).sum())
    assert few > 0
    assert len(named(figure, "reading hardly trusted")["x"]) == few
    assert len(named(figure, "reading")["x"]) == len(result.readings) - few


def test_reference_pace_follows_the_sheet_and_is_left_out_without_one(make_result, result):
    with_sheet = make_result()  # knots: 0.7 m/s at 3 m, 1.1 at 10 m, 1.4 at 20 m; 1.4 in signal search
    pace, path = reference_pace(with_sheet), with_sheet.path
    assert pace[10] == 1.4
    at = int(np.flatnonzero((path.range_m > 3.0) & (path.range_m < 10.0) & (path.time_s > 200))[0])
    assert pace[at] == pytest.approx(0.7 + 0.4 * (path.range_m[at] - 3.0) / 7.0)
    assert math.isnan(pace[590])
    assert "pace of the rule sheet" in [t["name"] for t in over_time_figure(result)["data"]]
    bare = dataclasses.replace(result.rules, pace=(), signal_pace_mps=math.nan)  # an older file: no paces
    older = dataclasses.replace(result, rules=bare)
    assert "pace of the rule sheet" not in [t["name"] for t in over_time_figure(older)["data"]]


def test_closeup_shows_legs_probe_and_lowest_readings(result):
    figure = closeup_figure(result, result.searches[0])
    names = [trace["name"] for trace in figure["data"]]
    for name in ("leg", "leg number", "lowest reading seen", "lowest should be here", "probe hit", "ideal cross"):
        assert name in names
    inside = result.readings[(result.readings[:, 0] >= 216.0) & (result.readings[:, 0] <= 330.0)]
    assert f"{inside[:, 1].min():.1f} m" in named(figure, "lowest reading seen")["hovertext"][0]


def test_closeup_is_left_out_where_there_was_no_fine_search(result):
    from dataclasses import replace

    assert closeup_figure(replace(result, phases=result.phases[:2]), result.searches[0]) is None


@pytest.mark.parametrize(
    ("maker", "changes"),
    [
        (MAKERS["plan"], plan_changes),
        (MAKERS["time"], over_time_changes),
        (MAKERS["timeline"], lambda result, window: timeline_changes(window)),
        (MAKERS["closeup"], closeup_changes),
    ],
    ids=["plan", "time", "timeline", "closeup"],
)
def test_changing_the_window_gives_the_same_figure_as_opening_a_link(maker, changes, result):
    moved = changed(maker(result), changes(result, WINDOW))
    opened = maker(result, WINDOW)
    assert go.Figure(moved).to_json() == go.Figure(opened).to_json()
    assert go.Figure(maker(result)).to_json() != go.Figure(opened).to_json()


def test_the_marked_stretch_is_the_path_in_the_window(result):
    mark = plan_figure(result, WINDOW)["data"][HIGHLIGHT]
    inside = (result.path.time_s >= 168.0) & (result.path.time_s <= 202.0)
    assert mark["x"].tolist() == result.path.east_m[inside].tolist()


def test_markup_in_names_stays_text(make_result):
    from dataclasses import replace

    base = make_result()
    odd = replace(base, transmitters=(replace(base.transmitters[0], id="<a href='x'>A</a>"), *base.transmitters[1:]))
    text = named(plan_figure(odd), "transmitter")
    assert text["text"][0] == "<b>&lt;a href='x'&gt;A&lt;/a&gt;</b>"
    assert "<a" not in text["hovertext"][0]


@pytest.mark.parametrize(
    ("slope", "words"), [((28.0, 160.0), ["N", "uphill 28°"]), ((0.0, 180.0), ["N", "level ground"])]
)
def test_arrows_name_north_and_the_slope(result, slope, words):
    from dataclasses import replace

    texts = [a["text"] for a in plan_figure(replace(result, slope=slope))["layout"]["annotations"]]
    assert [t for t in texts if t.startswith("<b>") and not t[3].isdigit()] == [f"<b>{word}</b>" for word in words]


@pytest.mark.parametrize(
    ("aspect_deg", "ax_sign", "ay_sign"), [(180.0, 0, 1), (90.0, 1, 0), (0.0, 0, -1), (270.0, -1, 0)]
)
def test_the_uphill_arrow_points_away_from_the_aspect(result, aspect_deg, ax_sign, ay_sign):
    # The tail lies at (ax, ay) px from the head, y down: a slope falling to the south (180) has its tail below.
    from dataclasses import replace

    arrows = [
        a for a in plan_figure(replace(result, slope=(30.0, aspect_deg)))["layout"]["annotations"] if a["showarrow"]
    ]
    uphill = arrows[1]
    assert (round(uphill["ax"] / 32.0), round(uphill["ay"] / 32.0)) == (ax_sign, ay_sign)


@pytest.mark.parametrize("width_m", [0.9, 4.0, 19.99, 20.0, 63.0, 137.0, 800.0])
def test_scale_bar_is_round_and_fits(width_m):
    length = scale_length(width_m)
    assert 0.1 * width_m <= length <= 0.25 * width_m * (1.0 + 1e-9)
    assert f"{length:.0e}"[0] in "125"


def test_ten_minutes_make_a_small_figure(result):
    from dashboard.components.charts import packed

    assert len(go.Figure(plan_figure(result)).to_json()) > 0
    import json

    sizes = [len(json.dumps(packed(maker(result)))) for maker in MAKERS.values()]
    assert sum(sizes) < 400_000


def test_the_bounds_of_timeline_pieces_are_lists(result):
    # Rows of a packed array come back from the browser as objects with the keys "0" and "1", not as lists.
    for trace in timeline_figure(result)["data"]:
        assert all(type(bounds) is list for bounds in trace["customdata"])


def test_every_wide_piece_of_the_timeline_carries_its_letter(result):
    letters = [a["text"] for a in timeline_figure(result)["layout"]["annotations"]]
    wide = [row for row in result.timeline if row.seconds >= 0.025 * result.duration_s]
    assert len(wide) > len(ACTIVITIES) / 2
    for activity in {row.activity for row in wide}:
        assert letters.count(f"<b>{ACTIVITIES[activity][0]}</b>") == sum(row.activity == activity for row in wide)
