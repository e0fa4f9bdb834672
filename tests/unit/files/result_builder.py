"""A small invented result, as a pipeline might give it for a recording. Shared by tests; not a test itself."""

import datetime as dt

import numpy as np

from analyzer.engine.measures.searches import NAMES
from analyzer.model.account import AccountRow, Finding, Leg, PointLoss, Scores, Search, TimelineRow, WrongWay
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.path import Evidence
from analyzer.model.recording import InputFile
from analyzer.model.result import PathTable, Phase, PlacedTransmitter, PlanLine, RunResult
from analyzer.model.rules import PaceKnot, ReferenceRules

NOT = NotAssessable("invented reason")
RULES = ReferenceRules(
    name="r", version="1", sha256="0" * 64, fine_radius_m=3.0, signal_pace_mps=1.5, pace=(PaceKnot(3.0, 0.5),),
    bracket_arm_m=1.2, bracket_pace_mps=0.2, pinpoint_reference_s=20.0, marking_s=30.0, missed_s=300.0,
)  # fmt: skip


def figure(value: float, unit: str = "m") -> Figure:
    return Figure(value, value - 1.0, value + 1.0, unit)


def every(phase, **figures):
    """Return what every result has of a phase: the figures given, for the others a reason."""
    return tuple((dict.fromkeys(NAMES[phase], NOT) | figures).items())


def make_result(run_id="mara-1", *, searcher="Mara", rows=700, inputs=(), rules=RULES) -> RunResult:
    """Return a result whose timeline has many rows of awkward length."""
    edges = np.cumsum(np.concatenate([[0.0], 0.1 + np.random.default_rng(1).random(rows) / 3.0]))
    metres = np.random.default_rng(2).random(rows) / 3.0
    end = float(edges[-1])
    n = 20
    search = Search(
        transmitter="A", found=True, signal=every("signal_search", covered_fraction=figure(0.5, "1")),
        coarse=every("coarse_search", walked_m=figure(41.23456), field_line_m=figure(38.0), wrong_way_m=figure(3.0),
                     standing_s=figure(2.0, "s"), path_ratio=figure(float("nan"), "1")),
        wrong_way_events=(WrongWay(3.0, 4.0, 5.0, 3.0),), fine=every("fine_search", extra_m=figure(1.0)),
        legs=(Leg(8.0, 9.0, 2.0, 91.25, 0.1),), pinpoint=every("pinpoint"),
    )  # fmt: skip
    return RunResult(
        run_id=run_id, searcher=searcher, drill="Lower bowl", time_zero=dt.datetime(2026, 1, 17, 9, 30, tzinfo=dt.UTC),
        duration_s=end, inputs=inputs or (InputFile("track", "track.gpx", "a" * 64, 30, 29, (("no time", 1),)),),
        evidence=Evidence("track+readings", figure(1.0), figure(0.4), figure(-2.0, "s"), figure(1.02, "1"), "given"),
        path=PathTable(np.linspace(0, end, n), np.full(n, 1.23456), np.zeros(n), np.full(n, 0.4),
                       np.concatenate([[np.nan], np.ones(n - 1)])),
        transmitters=(PlacedTransmitter("A", 20.0, 0.0, 0.2, 1.0, None, None),),
        phases=(Phase("coarse_search", "A", 0.0, end / 3.0, None, 0.5, float(metres[:200].sum())),
                Phase("fine_search", "A", end / 3.0, end, 0.5, None, float(metres[200:].sum()))),
        searches=(search,),
        timeline=tuple(TimelineRow("coarse_search", "A", "along_line", float(a), float(b), float(b - a), float(m))
                       for a, b, m in zip(edges[:-1], edges[1:], metres, strict=True)),
        account=(AccountRow("coarse_search", "A", "reference", figure(end / 3.0 - 4.0, "s"), 38.0),
                 AccountRow("coarse_search", "A", "wrong_way", figure(4.0, "s"), 3.0, ((3.0, 5.0),)),
                 AccountRow("fine_search", "A", "reference", figure(end * 2.0 / 3.0 + 2.0, "s"), 9.0),
                 AccountRow("fine_search", "A", "pace", figure(-2.0, "s"), 0.0)),
        findings=(Finding("f1", "coarse_search", "A", 1.0, 2.0, "costly", 0.97, "Turn sooner.", figure(4.0, "s"),
                          (("wrong_way_m", figure(3.0)),)),),
        scores=Scores((("overall", figure(80.0, "points")), ("signal_search", NOT), ("coarse_search", figure(70.0)),
                       ("fine_search", figure(90.0)), ("pinpoint", NOT)),
                      (PointLoss("coarse_search", 28.0, cause="wrong_way"),
                       PointLoss("coarse_search", 2.0, measure="coarse.speed_at_3_m"))),
        rules=rules, shared=None, lines=(PlanLine("field_line", "A", np.zeros((3, 2))),),
        readings=np.array([[0.0, 30.0, 1.0], [1.0, 29.0, 0.5]]), probe_hits_s=(("A", 12.5),),
    )  # fmt: skip
