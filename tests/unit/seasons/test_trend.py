"""A person's season: days of practice, what is called a trend and how often wrongly, words, bests, causes."""

import datetime as dt
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.measures import LESS, MORE, RUN, Followed, Measure
from analyzer.model.people import People, Person
from analyzer.model.run_line import RunLine
from analyzer.seasons.group import group_season, lines_by_person
from analyzer.seasons.measures import MEASURES
from analyzer.seasons.model import BETTER, CLEAR, HINT, NONE, TOO_FEW, WORSE, SeasonPoint, Trend
from analyzer.seasons.theil_sen import line_through
from analyzer.seasons.trend import (
    CLEARLY_BETTER,
    CLEARLY_WORSE,
    cause_costs,
    person_season,
    personal_best,
    practice_days,
)
from analyzer.seasons.words import amount, sentence, state_words

FIRST = dt.datetime(2026, 1, 10, 9, 0, tzinfo=dt.UTC)
BY_KEY = {m.key: m for m in MEASURES}
TURN = (BY_KEY["turnaround_s"],)


def line(day, number, measures, *, searcher="Mara", causes=()):
    """Return a run of a day (from 0, a week apart) and its number in the day."""
    start = FIRST + dt.timedelta(days=7 * day, minutes=20 * number)
    figures = tuple(
        (k, v if not isinstance(v, float) else Figure(v, v - 0.5, v + 0.5, BY_KEY[k].unit)) for k, v in measures.items()
    )
    return RunLine(searcher, f"drill-{day}", f"{searcher}-{number}", start.isoformat(), 200.0, 150.0, figures, causes)


def season(rng, *, days=8, slope=0.0, start=9.0, runs=(1, 3), key="turnaround_s"):
    """Return a season: runs of a day share a drill's difficulty, each has an error of its own, some are wild."""
    lines = []
    for day in range(days):
        shared = 0.7 * rng.standard_normal()
        for number in range(int(rng.integers(runs[0], runs[1] + 1))):
            wild = rng.exponential(4.0) if rng.uniform() < 0.05 else 0.0
            value = start + slope * day + shared + 0.9 * rng.standard_normal() + wild
            lines.append(line(day, number, {key: float(max(value, 0.1))}))
    return lines


def only(lines, measures=TURN):
    (trend,) = person_season("Mara", lines, measures).trends
    return trend


def test_a_known_slope_is_recovered_and_its_interval_holds():
    """200 simulated seasons: 90 % intervals hold the truth in 90 % and, where days do not resemble each other, a little
    more; the median slope is right."""
    rng = np.random.default_rng(457)
    trends = [only(season(rng, slope=-0.6)) for _ in range(200)]
    slopes = [t.slope for t in trends]
    held = np.mean([s.low <= -0.6 <= s.high for s in slopes])
    assert 0.88 <= held <= 0.99
    assert np.median([s.value for s in slopes]) == pytest.approx(-0.6, abs=0.04)
    assert np.mean([t.way == BETTER for t in trends]) > 0.7
    assert not any(t.way == WORSE for t in trends)


def many(rng, *, people, days, correlation):
    """Return seasons of people without change in twenty unrelated measures. `correlation`: of the runs of a day, and of
    what neighbouring days have in common."""
    for _ in range(people):
        common = rng.standard_normal((days, len(MEASURES)))
        for day in range(1, days):
            common[day] = correlation * common[day - 1] + np.sqrt(1.0 - correlation**2) * common[day]
        own = rng.standard_normal((days, 2, len(MEASURES)))
        values = np.sqrt(correlation) * common[:, None] + np.sqrt(1.0 - correlation) * own
        yield person_season("Mara", [line(d, n, dict(zip(KEYS, spread(values[d, n]), strict=True)))
                                     for d in range(days) for n in range(2)])  # fmt: skip


KEYS = tuple(m.key for m in MEASURES)
LEVELS = {m.key: 10.0 if m.better != MORE else -10.0 for m in MEASURES}


def spread(values):
    """Return values well outside of what is good, where every change counts."""
    return [float(LEVELS[key] + value) for key, value in zip(KEYS, values, strict=True)]


@pytest.mark.parametrize(("days", "correlation"), [(6, 0.3), (8, 0.0), (8, 0.3), (14, 0.3)])
def test_few_people_without_change_are_told_of_one(days, correlation):
    """200 people: something clear in at most 5 %, something worse in at most 1 %, something likely in at most 20 %, of
    people and not of measures; by three standard errors of so many people."""
    rng = np.random.default_rng(days)
    clear = worse = told = 0
    for found in many(rng, people=200, days=days, correlation=correlation):
        said = [t for t in found.trends if t.way]
        clear += any(t.state == CLEAR for t in said)
        worse += any(t.way == WORSE for t in said)
        told += bool(said)
        assert all(t.state == CLEAR for t in said if t.way == WORSE), "nobody is told that they are perhaps worse"
    for found, level in ((clear, 0.05), (worse, 0.01), (told, 0.2)):
        assert found / 200 <= level + 3.0 * np.sqrt(level * (1.0 - level) / 200)


def test_each_measure_by_itself_would_mislead():
    """What the test above guards against: of the same people, a third and more have one that by itself looks sure."""
    rng = np.random.default_rng(17)
    alone = [
        any(min(t.nearer, t.farther) <= 0.05 for t in found.trends)
        for found in many(rng, people=60, days=8, correlation=0.3)
    ]
    assert np.mean(alone) > 0.33


FALLING = (12.0, 11.0, 11.5, 10.0, 9.0, 9.5, 8.0, 7.0)


def test_what_could_not_change_does_not_count_against_what_did():
    """Tarone (1990): nineteen measures that are good all season leave the level of the one that is not as it is."""

    def runs(other):
        return [
            line(d, n, {m.key: FALLING[d] if m.key == "turnaround_s" else other(m) for m in MEASURES})
            for d in range(len(FALLING))
            for n in range(2)
        ]

    def good(measure):
        low, high = measure.good
        return float(low if high == np.inf else high)

    trends = {t.measure.key: t for t in person_season("Mara", runs(good)).trends}
    assert (trends["turnaround_s"].state, trends["turnaround_s"].compared) == (CLEAR, 1)
    crowd = np.random.default_rng(0)
    trends = {
        t.measure.key: t
        for t in person_season("Mara", runs(lambda m: good(m) + float(LEVELS[m.key] * crowd.uniform(0.1, 1.0)))).trends
    }
    assert (trends["turnaround_s"].state, trends["turnaround_s"].compared) == (HINT, 20)


def test_slowing_down_to_where_it_is_right_is_not_worse():
    """2026-11-27: below the reference searcher's time counted as better still, so who learnt to slow down near the
    transmitter was called clearly worse in the coarse search."""
    rng = np.random.default_rng(8)
    lines = [
        line(
            d, n, {"coarse_ratio": float(0.8 + 0.04 * d + rng.normal(0.0, 0.01)), "pace_at_3_m": float(2.7 - 0.18 * d)}
        )
        for d in range(9)
        for n in range(2)
    ]
    coarse, pace = person_season("Remo", lines, (BY_KEY["coarse_ratio"], BY_KEY["pace_at_3_m"])).trends
    assert (coarse.state, coarse.way) == (NONE, "")
    assert coarse.sentence == "As good as it needs to be in every run: about 1.0 times the reference's time."
    assert (pace.state, pace.way) == (CLEAR, BETTER)


def test_three_runs_a_day_do_not_count_as_three_days():
    """Runs of a day share much: were each of them a point of its own, chance would be called a trend far too often."""
    rng = np.random.default_rng(5)
    called, naive = 0, 0
    for _ in range(500):
        lines = []
        for day in range(8):
            shared = rng.normal(0.0, 2.0)
            lines += [line(day, n, {"turnaround_s": float(9.0 + shared + rng.normal(0.0, 0.2))}) for n in range(3)]
        called += only(lines).state == CLEAR
        values = np.array([dict(one.measures)["turnaround_s"].value for one in lines])
        naive += line_through(np.arange(24.0), values, correlation=0.0).high < 0.0
    assert called / 500 <= CLEARLY_BETTER + CLEARLY_WORSE
    assert naive / 500 > 0.1


def test_sentences():
    rng = np.random.default_rng(1)
    falling = [
        line(d, n, {"turnaround_s": float(9.0 - 5.0 * d / 7 + rng.normal(0.0, 0.1))})
        for d in range(8)
        for n in range(2)
    ]
    trend = only(falling)
    assert (trend.state, trend.way) == (CLEAR, BETTER)
    assert trend.sentence == "Turns back sooner: from about 9.0 s to 4.0 s over eight days of practice (clear)."
    assert state_words(trend) == "better"
    rising = [line(d, n, {"turnaround_s": float(4.0 + d)}) for d in range(8) for n in range(2)]
    assert only(rising).sentence.startswith("Turns back later: from about 4.0 s to 11 s")
    assert only(rising).way == WORSE
    still = [line(d, n, {"turnaround_s": 5.0 + (-1.0) ** d}) for d in range(8) for n in range(2)]
    assert only(still).state == NONE
    assert only(still).sentence.startswith("No clear change: about 5.")
    assert only(falling[:5]).sentence == ("Too few runs: five runs on three days; a trend needs six days of practice.")
    nothing = [line(0, 0, {"turnaround_s": NotAssessable("no wrong way")})]
    assert only(nothing).sentence.startswith("Too few runs: none gives this measure")


def test_too_few_is_said_at_the_very_border():
    runs = [line(d, n, {"turnaround_s": 9.0 - d}) for d in range(6) for n in range(2)]
    assert only(runs[:10]).state == TOO_FEW  # ten runs on five days
    assert only(runs[:11]).state != TOO_FEW


@pytest.mark.parametrize(
    ("first", "last", "way"),
    [(2.0, 1.2, BETTER), (0.3, 0.9, BETTER), (1.1, 2.0, WORSE), (1.6, 0.4, ""), (1.2, 0.8, "")],
)
def test_pace_is_judged_by_its_distance_from_the_references(first, last, way):
    """From past it on one side to past it on the other is no nearer, and within a quarter of it is near enough."""
    lines = [line(d, n, {"pace_at_3_m": float(first + (last - first) * d / 7)}) for d in range(8) for n in range(2)]
    trend = only(lines, (BY_KEY["pace_at_3_m"],))
    assert trend.way == way
    if not way:
        said = (
            "Moved from about 1.6 times to 0.40 times the reference's pace"
            if first > 1.25
            else "As good as it needs to be in every run"
        )
        assert trend.sentence.startswith(said)
    if way:
        assert trend.sentence.startswith("Slows earlier" if last < first else "Goes faster")


def test_where_the_line_does_not_tell_the_sentence_says_nearer():
    """First too fast one time and too slow the next, then less and less so: no slope, and all the same better."""
    lines = [line(d, 0, {"pace_at_3_m": 1.0 + (-1.0) ** d * (0.9 - 0.1 * d)}) for d in range(9)]
    trend = only(lines, (BY_KEY["pace_at_3_m"],))
    assert trend.sentence.startswith("Comes nearer to what is good")
    # A line whose ends lie farther off, of days that came nearer: the words of its slope would say the opposite.
    past = replace(trend, line=((1.0, 1.3), (9.0, 0.4)), slope=Figure(-0.1, -0.2, -0.05, "1/day"))
    assert sentence(past).startswith("Comes nearer to what is good")
    assert sentence(replace(past, line=((1.0, 2.3), (9.0, 1.2)))).startswith("Slows earlier")


def test_more_is_better_where_the_measure_says_so():
    lines = [line(d, n, {"score": 60.0 + 3.0 * d}) for d in range(8) for n in range(2)]
    trend = only(lines, (BY_KEY["score"],))
    assert (trend.way, state_words(trend)) == (BETTER, "better")
    assert trend.best.point.figure.value == pytest.approx(81.0)


def test_a_day_of_practice_begins_after_six_hours_without_a_run():
    def at(*hours):
        return [RunLine("M", "d", "r", (FIRST + dt.timedelta(hours=h)).isoformat(), 1.0, 1.0, (), ()) for h in hours]

    assert practice_days(at(0.0, 1.0, 5.0)) == [1, 1, 1]
    # Over midnight in whatever time zone, and a week later.
    assert practice_days(at(0.0, 5.9, 11.8, 18.0, 200.0)) == [1, 1, 1, 2, 3]
    assert practice_days([]) == []


def test_a_break_is_one_step():
    """Practising and not waiting counts: the same runs with a month between give the same slope."""
    close = [line(d, n, {"turnaround_s": 9.0 - 0.5 * d}) for d in range(8) for n in range(2)]
    far = [line(d if d < 4 else d + 4, n, {"turnaround_s": 9.0 - 0.5 * d}) for d in range(8) for n in range(2)]
    assert only(far).slope == only(close).slope


def test_personal_best_and_whether_it_is_clear():
    def point(run, value, half):
        return SeasonPoint(1, "2026-01-10", "d", run, Figure(value, value - half, value + half, "s"))

    clear = personal_best(TURN[0], [point("a", 4.0, 0.5), point("b", 6.0, 0.5), point("c", 9.0, 0.5)])
    assert (clear.point.run, clear.clear, clear.next_best.run) == ("a", True, "b")
    assert not personal_best(TURN[0], [point("a", 4.0, 2.0), point("b", 6.0, 0.5)]).clear
    assert not personal_best(TURN[0], [point("a", 4.0, 0.1)]).clear
    assert personal_best(TURN[0], []) is None
    pace = BY_KEY["pace_at_3_m"]
    assert personal_best(pace, [point("slow", 0.5, 0.1), point("near", 1.1, 0.1)]).point.run == "near"


def test_causes_of_a_group_by_hand():
    lines = [
        line(0, 0, {}, causes=(("wrong_way", 30.0), ("outside", 1.0))),
        line(0, 1, {}, searcher="Ilvo", causes=(("standing", 20.0), ("wrong_way", 5.0))),
        line(0, 2, {}, searcher="", causes=(("long_probing", 12.0), ("pace", 3.0))),
    ]
    costs = cause_costs(lines)
    assert [c.cause for c in costs] == ["wrong_way", "standing", "long_probing", "pace", "outside"]
    assert (costs[0].seconds, costs[0].runs) == (35.0, 2)
    assert costs[0].share == pytest.approx(35.0 / 71.0)
    group = group_season(lines, agreed("Ilvo", "Mara"))
    assert [c.cause for c in group.causes] == ["wrong_way", "standing", "long_probing"]
    assert group.lost_s == pytest.approx(71.0)
    assert (group.runs, group.unnamed, [r.name for r in group.rows]) == (3, 1, ["Ilvo", "Mara"])


def agreed(*names):
    return People(tuple(Person(name, consent=True, consent_date=dt.date(2026, 1, 1)) for name in names))


def test_who_has_not_agreed_is_not_named_and_counts_all_the_same():
    date = dt.date(2026, 1, 1)
    people = People(
        (
            Person("Mara Kern", "North", True, date, ("mara", "MK")),
            Person("Ilvo", "North"),
            Person("Sunna", "South", True, date),
        )
    )
    names = ("MK", "mara", "Mara  KERN", "Ilvo", "Sunna", "Stranger", "")
    lines = [
        line(0, n, {"turnaround_s": 5.0}, searcher=name, causes=(("long_probing", 1.0),))
        for n, name in enumerate(names)
    ]
    group = group_season(lines, people, measures=TURN)
    assert [(r.name, r.runs, r.group) for r in group.rows] == [("Mara Kern", 3, "North"), ("Sunna", 1, "South")]
    assert (group.others, group.unnamed, group.causes[0].seconds) == (2, 1, 7.0)
    north = group_season(lines, people, group="North", measures=TURN)
    assert ([r.name for r in north.rows], north.others, north.runs) == (["Mara Kern"], 1, 4)
    # A people.toml that was lost, or never written, names nobody.
    alone = group_season(lines, People(), measures=TURN)
    assert (alone.rows, alone.others, alone.unnamed) == ((), 6, 1)
    assert list(lines_by_person(lines, people)) == ["", "Ilvo", "Mara Kern", "Stranger", "Sunna"]


def test_latest_is_the_median_of_the_last_three_days():
    lines = [line(d, 0, {"turnaround_s": float(v)}) for d, v in enumerate([50.0, 40.0, 9.0, 3.0, 4.0])]
    (row,) = group_season(lines, agreed("Mara"), measures=TURN).rows
    assert row.cells[0].latest == 4.0
    assert row.cells[0].trend.state == TOO_FEW


@pytest.mark.parametrize(
    ("value", "key", "text"),
    [
        (0.0, "turnaround_s", "0.0 s"),
        (9.04, "turnaround_s", "9.0 s"),
        (0.314, "coarse_ratio", "0.31 times"),
        (12.3, "reach_m", "12 m"),
        (-0.001, "coarse_ratio", "0.00 times"),
        (-3.0, "turnaround_s", "−3.0 s"),
        (0.126, "wrong_way_lost_share", "13 %"),
        (0.004, "wrong_way_lost_share", "0.4 %"),
        (71.6, "crossing_angle_deg", "72°"),
        (88.0, "score", "88 points"),
    ],
)
def test_amounts(value, key, text):
    assert amount(value, BY_KEY[key]) == text


@pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.key)
@pytest.mark.parametrize(("state", "low"), [(CLEAR, 0.05), (HINT, 0.05), (NONE, -0.01), (NONE, 0.01)])
def test_no_value_of_a_sentence_is_without_its_unit(measure, state, low):
    low_end, high_end = measure.good
    bad = high_end + 1.0 if high_end < math.inf else low_end - 1.0
    points = (SeasonPoint(1, "2026-01-10", "d", "r", Figure(bad, bad, bad, measure.unit)),)
    slope = Figure(0.1, low, 0.2, f"{measure.unit}/day")
    said = sentence(Trend(measure, points, state, BETTER, slope, ((1.0, 1.7), (8.0, 1.3)), compared=3))
    values = re.findall(r"[+−]?\d+(?:\.\d+)?(\S*(?: \S+)?)", said.partition("(")[0].rpartition(":")[2])
    unit = "°" if measure.unit == "deg" else f" {measure.shown_unit}"
    assert len(values) >= 2, said
    assert all(found.rstrip(".,").startswith(unit) for found in values), said
    assert measure.of in said
    assert bool(measure.of) == (measure.unit == "1")


def test_a_followed_measure_says_what_it_is_times_of():
    with pytest.raises(ValueError, match="times or per cent of"):
        Measure(RUN, "x_ratio", "X", "1", LESS, followed=Followed("falls", "rises", (-math.inf, 1.0)))
    with pytest.raises(ValueError, match="times or per cent of"):
        Measure(RUN, "x_s", "X", "s", LESS, followed=Followed("falls", "rises", (-math.inf, 1.0), of="the reference"))
