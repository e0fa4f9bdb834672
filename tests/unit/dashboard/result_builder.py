"""Invented results for the tests of the dashboard: clearly made up, not measured, not the engine's output."""

import datetime as dt
import math

import numpy as np

from analyzer.model.account import AccountRow, Finding, Leg, PointLoss, Scores, Search, TimelineRow, WrongWay
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.path import Evidence
from analyzer.model.recording import InputFile
from analyzer.model.result import PathTable, Phase, PlacedTransmitter, PlanLine, RunResult
from analyzer.model.rules import PaceKnot, ReferenceRules

A, B = (16.0, 34.0), (-14.0, 52.0)
# (time s, east m, north m): two signal-search strips, an arc with a detour, a cross over A; then on to B.
KNOTS = np.array(
    [
        (0, -30, -50),
        (60, 28, -48),
        (72, 28, -28),
        (110, -8, -26),
        (140, -6, -2),
        (154, 2, 12),
        (170, 12, 20),
        (183, 24, 15),
        (203, 19, 25),
        (216, 18, 31.5),
        (226, 15.2, 36.4),
        (236, 17.0, 33.0),
        (240, 16.2, 34.4),
        (250, 14.2, 33.2),
        (262, 18.0, 35.4),
        (272, 16.4, 34.3),
        (296, 16.4, 34.3),
        (330, 16.4, 34.3),
        (372, -4, 44),
        (398, -12.5, 49.5),
        (414, -15.2, 54.0),
        (424, -13.6, 51.6),
        (434, -15.8, 51.2),
        (446, -12.4, 52.6),
        (456, -13.8, 51.9),
        (600, -13.8, 51.9),
    ],
    dtype=float,
)
BOUNDS = {
    "signal_search": (0, 110),
    "coarse_search": (110, 216),
    "fine_search": (216, 272),
    "pinpoint": (272, 330),
    "coarse_2": (330, 398),
    "fine_2": (398, 456),
    "pinpoint_2": (456, 600),
}


def fig(value, spread, unit):
    return Figure(value, round(value - spread, 4), round(value + spread, 4), unit)


def make_result(
    *,
    searcher="Mara Fennick",
    run_id="mara-1",
    drill="Lower bowl",
    drill_key="lower_bowl",
    with_readings=True,
    findings=4,
    angle_deg=28.0,
    step_s=1.0,
):
    """Return an invented ten-minute run over two transmitters."""
    rng = np.random.default_rng(457)
    time_s = np.arange(0.0, 600.0 + step_s / 2, step_s)
    wobble = 0.25 * np.cumsum(rng.normal(size=(len(time_s), 2)), axis=0) * math.sqrt(step_s) / 10.0
    east = np.interp(time_s, KNOTS[:, 0], KNOTS[:, 1]) + wobble[:, 0] * (time_s < 210)
    north = np.interp(time_s, KNOTS[:, 0], KNOTS[:, 2]) + wobble[:, 1] * (time_s < 210)
    target = np.where((time_s < 330)[:, None], A, B)
    range_m = np.hypot(east - target[:, 0], (north - target[:, 1]) / math.cos(math.radians(angle_deg)))
    readings = None
    if with_readings:
        chosen = time_s[(time_s > 110) & (time_s < 456)]
        near = np.interp(chosen, time_s, range_m)
        values = np.round(np.hypot(near, 1.2) * rng.normal(1.08, 0.03, len(chosen)), 1)
        weight = np.where(rng.random(len(chosen)) < 0.04, 0.1, 1.0)
        readings = np.column_stack([chosen, values, weight, chosen >= 330])
    sigma = np.interp(range_m, [0.0, 5.0, 40.0], [0.3, 0.6, 2.2])
    path = PathTable(time_s, east, north, sigma, np.where(time_s < 110, np.nan, range_m))
    return RunResult(
        run_id=run_id,
        searcher=searcher,
        drill=drill,
        drill_key=drill_key,
        time_zero=dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC),
        duration_s=600.0,
        inputs=(
            InputFile("track", "track.gpx", "a" * 64, 612, 601, (("before the start mark", 11),)),
            InputFile("readings", "readings.csv", "b" * 64, 345, 345),
        ),
        evidence=_evidence(with_readings),
        path=path,
        transmitters=_transmitters(),
        phases=_phases(),
        searches=_searches(),
        timeline=_timeline(),
        account=_account(),
        findings=_findings()[:findings],
        possible=(_doubtful(),),
        scores=_scores(),
        rules=_rules(),
        shared=None,
        lines=_lines(),
        readings=readings,
        engine="invented",
        slope=(angle_deg, 160.0),
        corners_m=np.array([(-40.0, -60.0), (40.0, -60.0), (40.0, 70.0), (-40.0, 70.0)]),
        probe_hits_s=(("A", 330.0), ("B", 598.0)),
    )


def _evidence(with_readings):
    if with_readings:
        return Evidence(
            "track+readings",
            fig(1.6, 0.4, "m"),
            fig(0.42, 0.1, "m"),
            fig(-3.4, 0.6, "s"),
            fig(1.08, 0.02, ""),
            "estimated",
        )
    why = NotAssessable("no reading log was given")
    return Evidence("track", fig(2.1, 0.4, "m"), fig(1.2, 0.3, "m"), why, why, "unknown")


def _transmitters():
    return (PlacedTransmitter("A", *A, 0.3, 1.2, 40.0, 5.0), PlacedTransmitter("B", *B, 0.35, 0.9, None, None))


def _phases():
    names = [
        ("signal_search", "A"),
        ("coarse_search", "A"),
        ("fine_search", "A"),
        ("pinpoint", "A"),
        ("coarse_search", "B"),
        ("fine_search", "B"),
        ("pinpoint", "B"),
    ]
    return tuple(
        Phase(phase, who, float(low), float(high), 0.6, 0.8, 40.0)
        for (phase, who), (low, high) in zip(names, BOUNDS.values(), strict=True)
    )


def _timeline():
    rows = [
        ("signal_search", "A", "strips", 0, 88),
        ("signal_search", "A", "standing", 88, 92),
        ("signal_search", "A", "strips", 92, 110),
        ("coarse_search", "A", "along_line", 110, 168),
        ("coarse_search", "A", "wrong_way", 168, 183),
        ("coarse_search", "A", "way_back", 183, 202),
        ("coarse_search", "A", "off_line", 202, 216),
        ("fine_search", "A", "first_line", 216, 226),
        ("fine_search", "A", "crossing_line", 226, 246),
        ("fine_search", "A", "extra_line", 246, 272),
        ("pinpoint", "A", "probing", 272, 330),
        ("coarse_search", "B", "along_line", 330, 370),
        ("coarse_search", "B", "standing", 370, 388),
        ("coarse_search", "B", "along_line", 388, 398),
        ("fine_search", "B", "bracketing", 398, 456),
        ("pinpoint", "B", "probing", 456, 596),
        ("pinpoint", "B", "unexplained", 596, 600),
    ]
    return tuple(
        TimelineRow(phase, who, activity, float(a), float(b), float(b - a), round(0.4 * (b - a), 1))
        for phase, who, activity, a, b in rows
    )


def _account():
    """Return rows that add up to each phase and to the run, with tenths that do not round to the sums."""
    rows = [
        ("signal_search", "A", "reference", 84.3, 2.0, ((0.0, 110.0),)),
        ("signal_search", "A", "covered_twice", 22.4, 8.0, ((88.0, 110.0),)),
        ("signal_search", "A", "pace", 3.3, 4.0, ()),
        ("coarse_search", "A", "wrong_way", 34.4, 1.2, ((168.0, 202.0),)),
        ("coarse_search", "A", "reference", 47.3, 1.5, ()),
        ("coarse_search", "A", "detour", 14.6, 2.0, ((202.0, 216.0),)),
        ("coarse_search", "A", "pace", 9.7, 2.0, ((110.0, 124.0), (130.0, 140.0))),
        ("fine_search", "A", "extra_lines", 26.2, 2.0, ((246.0, 272.0),)),
        ("fine_search", "A", "reference", 31.4, 1.0, ()),
        ("fine_search", "A", "longer_lines", 5.2, 3.0, ()),
        ("fine_search", "A", "pace", -6.8, 3.0, ((216.0, 246.0),)),
        ("pinpoint", "A", "reference", 30.0, 0.0, ()),
        ("pinpoint", "A", "long_probing", 28.0, 2.0, ((272.0, 330.0),)),
        ("coarse_search", "B", "standing", 17.6, 1.0, ((370.0, 388.0),)),
        ("coarse_search", "B", "reference", 43.5, 1.0, ()),
        ("coarse_search", "B", "detour", 0.1, 1.5, ()),
        ("coarse_search", "B", "pace", 6.8, 2.0, ()),
        ("fine_search", "B", "reference", 40.2, 1.0, ()),
        ("fine_search", "B", "not_told_apart", 17.8, 9.0, ((398.0, 456.0),)),
        ("pinpoint", "B", "reference", 30.0, 0.0, ()),
        ("pinpoint", "B", "off_lowest", 110.4, 5.0, ((486.0, 596.0),)),
        ("pinpoint", "B", "long_probing", 3.6, 4.0, ()),
    ]
    return tuple(
        AccountRow(phase, who, cause, fig(seconds, half, "s"), 0.0, windows)
        for phase, who, cause, seconds, half, windows in rows
    )


def _doubtful():
    words = "At 3 m, about 3:10, you may still have been going fast."
    return Finding(
        "late_slow_down:A", "fine_search", "A", 185.0, 195.0, "note", 0.71, words, NotAssessable("certainty")
    )


def _findings():
    rows = [
        (
            "off_lowest:B",
            "pinpoint",
            "B",
            486,
            596,
            "severe",
            110,
            "Probing took 110 s longer than the reference. The probe went in 2.1 m from the lowest reading first.",
        ),
        (
            "wrong_way:A",
            "coarse_search",
            "A",
            168,
            202,
            "severe",
            34,
            "Readings rose for 13 s before you turned: 12 m out and back, to the south-east.",
        ),
        (
            "extra_lines:A",
            "fine_search",
            "A",
            246,
            272,
            "costly",
            26,
            "A second cross was walked after the first had already shown the lowest reading.",
        ),
        (
            "standing:B",
            "coarse_search",
            "B",
            370,
            388,
            "note",
            18,
            "Two stops on the way to transmitter B, with readings still falling.",
        ),
    ]
    return tuple(
        Finding(key, phase, who, float(low), float(high), severity, 0.95, text, fig(cost, 3.0, "s"))
        for key, phase, who, low, high, severity, cost, text in rows
    )


def _searches():
    why = NotAssessable("the path is uncertain by more than the length of a leg")
    coarse = (
        ("walked_m", fig(62.4, 1.8, "m")),
        ("field_line_m", fig(44.1, 1.2, "m")),
        ("path_ratio", fig(1.41, 0.05, "")),
        ("off_line_rms_m", fig(2.9, 0.7, "m")),
        ("wrong_way_m", fig(12.6, 1.4, "m")),
        ("wrong_way_s", fig(13.1, 1.2, "s")),
        ("turnaround_s", fig(13.0, 2.0, "s")),
        ("standing_s", fig(0.0, 0.4, "s")),
        ("speed_at_10_m", fig(0.92, 0.08, "m/s")),
        ("speed_at_3_m", fig(0.61, 0.07, "m/s")),
    )
    fine = (
        ("duration_s", fig(56.0, 1.4, "s")),
        ("crossing_angle_deg", fig(71.0, 11.0, "deg")),
        ("reach_m", fig(2.6, 0.4, "m")),
        ("overshoot_m", why),
        ("lowest_reading_m", fig(1.3, 0.1, "m")),
        ("ended_on_lowest_m", fig(0.1, 0.1, "m")),
        ("final_offset_m", fig(0.52, 0.3, "m")),
        ("final_offset_physics_m", fig(0.2, 0.1, "m")),
    )
    legs = (Leg(216.0, 226.0, 5.6, 330.0, 0.12), Leg(240.0, 250.0, 2.4, 239.0, 0.2), Leg(250.0, 262.0, 4.4, 60.0, 0.1))
    pinpoint = (("duration_s", fig(58.0, 1.0, "s")), ("probe_offset_m", fig(0.3, 0.2, "m")))
    signal = (
        ("covered_fraction", fig(0.62, 0.03, "")),
        ("overlap_fraction", fig(0.21, 0.02, "")),
        ("duration_s", fig(110.0, 0.8, "s")),
        ("duration_reference_s", fig(88.0, 2.0, "s")),
    )
    first = Search("A", True, signal, coarse, (WrongWay(168.0, 183.0, 202.0, 12.6),), fine, legs, pinpoint)
    second = Search(
        "B",
        True,
        (),
        coarse[:4],
        (),
        (("duration_s", fig(58.0, 1.2, "s")), ("crossing_angle_deg", why)),
        (),
        (("duration_s", fig(144.0, 1.0, "s")),),
    )
    return first, second


def _lines():
    arc = np.array([(-6.0, -2.0), (1.0, 12.0), (7.0, 22.0), (12.0, 29.0), (14.6, 32.0)])
    arc_b = np.array([(16.4, 34.3), (4.0, 43.0), (-6.0, 47.5), (-11.6, 50.6)])
    cross = np.array([(14.6, 32.0), (17.0, 35.6), (15.6, 33.4), (14.0, 34.6), (17.6, 32.4), (15.8, 33.6)])
    strips = np.array([(-20.0, -60.0), (-20.0, 70.0), (20.0, 70.0), (20.0, -60.0)])
    return (
        PlanLine("strips", "", strips),
        PlanLine("field_line", "A", arc),
        PlanLine("field_line", "B", arc_b),
        PlanLine("bracket", "A", cross),
        PlanLine("bracket", "B", np.round(cross - np.array(A) + np.array(B), 3)),
        PlanLine("lowest", "A", np.array([(15.9, 34.2)])),
        PlanLine("lowest", "B", np.array([(-13.9, 52.1)])),
    )


def _scores():
    values = {"overall": 64.0, "signal_search": 80.0, "coarse_search": 58.0, "fine_search": 66.0, "pinpoint": 40.0}
    return Scores(
        tuple((key, fig(value, 4.0, "points")) for key, value in values.items()),
        (PointLoss("coarse_search", 17.0, cause="wrong_way"),),
    )


def _rules():
    return ReferenceRules(
        "house rules",
        "1",
        "c" * 64,
        3.0,
        1.4,
        (PaceKnot(3.0, 0.7), PaceKnot(10.0, 1.1), PaceKnot(20.0, 1.4)),
        1.5,
        0.3,
        30.0,
        30.0,
        300.0,
    )
