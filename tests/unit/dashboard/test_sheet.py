"""The sheets on paper: all that they must say stands on them whole, on pages of A4, and nothing over anything else."""

import datetime as dt
import re
import zoneinfo
from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from analyzer.engine.evidence import notes_on_fixes
from analyzer.files.results.result_json import write_result
from analyzer.model.account import Leg
from analyzer.model.figure import Figure, NotAssessable
from analyzer.model.path import FixUse
from analyzer.model.people import People, Person
from analyzer.model.recording import RunWords
from analyzer.model.result import Split
from analyzer.workspace.people.people_toml import people_bytes
from dashboard.components.debrief import debrief_page
from dashboard.export.group_sheet import group_papers, group_pdf
from dashboard.export.paper import HEIGHT_MM, WIDTH_MM
from dashboard.export.sheet import sheet_papers, sheet_pdf
from dashboard.services.printed import Printed
from dashboard.services.results import RunMissingError, Service
from dashboard.view_models.account import Totals
from dashboard.view_models.entries import RunEntry
from dashboard.view_models.sheet import GroupRow, GroupSheet, SheetRun, medians, when
from dashboard.wording import SAFETY
from tests.support.tidy import assert_tidy

pytestmark = pytest.mark.usefixtures("as_on_paper")
MORNING = dt.datetime(2026, 2, 14, 9, 18, tzinfo=dt.UTC)
LONG = "A very long remark that goes on and on about the same thing until nobody reads it any more. " * 6


@pytest.fixture
def as_on_paper():
    """Give letters the width that they have on paper, not that of the pixels of a screen."""
    with mpl.rc_context({"text.hinting": "none"}):
        yield


def papers_of(result, **more):
    return sheet_papers(SheetRun("lower_bowl", "mara-1", result, **more))


def words_of(papers):
    """Return all that is written on pages; lines of one text follow each other."""
    return " ".join(t.get_text() for paper in papers for t in paper.figure.texts)


def one_transmitter(result):
    """Return the run as if A alone had been buried."""
    return replace(
        result,
        searches=result.searches[:1],
        transmitters=result.transmitters[:1],
        phases=tuple(p for p in result.phases if p.transmitter in ("A", "")),
    )


def many(result, count):
    """Return a run with `count` searches, all like the first one."""
    names = [f"T{number}" for number in range(count)]
    fine = [p for p in result.phases if p.transmitter == "A"]
    return replace(
        result,
        searches=tuple(replace(result.searches[0], transmitter=name) for name in names),
        phases=tuple(replace(p, transmitter=name) for name in names for p in fine),
        transmitters=tuple(replace(result.transmitters[0], id=name) for name in names),
    )


def long_words(result):
    """Return the run with everything longer than it fits."""
    findings = tuple(replace(f, text=LONG, saving_s=NotAssessable("no reference")) for f in result.findings)
    searches = tuple(replace(result.searches[0], transmitter=f"T{i} {'x' * 60}") for i in range(5))
    name = "Wilhelmina-Konstantina von und zu Unterhinterobertal-Grossglockner"
    return replace(result, searcher=name, drill=name * 3, run_id="r" * 90, findings=findings, searches=searches)


def noted(result):
    return replace(result, evidence=replace(result.evidence, notes=notes_on_fixes(FixUse(1234, (), 1200))))


def coached(result):
    words = RunWords("Third go", "7", "Calm hands. " * 90, ("the line", "the probing"), ("wrong_way:A: called back",))
    return replace(result, words=words)


def bare(result):
    return replace(result, findings=(), searches=(), readings=None, corners_m=None, lines=(), transmitters=())


def marked(result):
    splits = tuple(Split(mark, "A", 400.0 + i, 20.0) for i, mark in enumerate(("probe", "dig_begin") * 4))
    return replace(result, splits=splits)


KINDS = {
    "as it is": lambda result: result,
    "one transmitter": one_transmitter,
    "seven transmitters": lambda result: many(result, 7),
    "long words": long_words,
    "bare": bare,
    "noted": noted,
    "coached": coached,
    "marked": marked,
}
OTHERS = {"others": (("signal", 90.0), ("coarse", 60.0), ("in all", 400.0)), "searchers": 12}


@pytest.mark.parametrize("kind", KINDS)
def test_all_is_on_the_page_and_nothing_over_anything_else(result, kind):
    papers = papers_of(KINDS[kind](result), **OTHERS)
    assert_tidy(papers)
    for paper in papers:
        for sentence in SAFETY:
            assert sentence in words_of([paper])


def test_words_in_a_drawing_stay_in_its_page(result):
    for paper in papers_of(many(result, 4)):
        renderer = FigureCanvasAgg(paper.figure).get_renderer()
        for axes in paper.figure.axes:
            inside = axes.get_tightbbox(renderer)
            assert paper.figure.bbox.x0 <= inside.x0
            assert inside.x1 <= paper.figure.bbox.x1


@pytest.mark.parametrize(("searches", "pages"), [(1, 1), (2, 2), (3, 2), (7, 4)])
def test_pages_of_the_pdf(result, searches, pages):
    shown = SheetRun("bowl", "mara-1", one_transmitter(result) if searches == 1 else many(result, searches), **OTHERS)
    data = sheet_pdf(shown)
    assert data.startswith(b"%PDF-1.")
    assert len(re.findall(rb"/Type /Page\b", data)) == pages
    for found in re.findall(rb"/MediaBox \[ ?([\d. ]+)\]", data):
        box = [float(number) for number in found.split()]
        assert box == pytest.approx([0, 0, 595.28, 841.89], abs=0.01)  # ISO 216 A4 in points of 1/72 inch
    assert data == sheet_pdf(shown)
    assert len(data) < 600_000


def test_three_findings_and_a_note_stay_on_one_page(result):
    words = RunWords(note="Calm hands. Next time look up once on the way in.", praised="how you followed the line")
    one = replace(one_transmitter(result), words=words)
    assert len(one.findings) > 3
    papers = papers_of(one, **OTHERS)
    assert len(papers) == 1
    text = words_of(papers)
    for part in (
        "1 more in the debrief",
        "Well done: how you followed the line",
        "Calm hands.",
        "Fine search",
        "Probe hit to",
    ):
        assert part in text


def test_no_word_of_a_finding_or_a_note_is_cut(result):
    """2026-11-27: what to practise ended in an ellipsis where a finding had four lines."""
    text = (
        "You did it wrong for a while. " + LONG + "To practise: walk the line five times, and count aloud to the end."
    )
    findings = tuple(replace(f, text=text) for f in result.findings[:1])
    shown = papers_of(replace(coached(result), findings=(*findings, *result.findings[1:])))
    said = " ".join(words_of(shown).split())
    assert "Practise: Walk the line five times, and count aloud to the end." in said
    assert " ".join(LONG.split()) in said
    assert said.count("Calm hands.") == 90
    assert "…" not in said


def test_the_sheet_carries_what_it_must(result):
    words = words_of(papers_of(result))
    parts = ("Mara Fennick", "110 s", "34 s", "26 s", "10:00", "Walked / field line", "1.41", "1 more in the debrief")
    for part in (*parts, "2026-01-17 09:30 UTC", "run mara-1", "Fine searches", "Splits, min:s"):
        assert part in words


def test_what_must_be_known_first_stands_on_the_sheet_and_at_the_top_of_the_debrief(result):
    (note,) = noted(result).evidence.notes
    assert note.startswith("1200 of 1234 fixes lie far")
    assert note in " ".join(words_of(papers_of(noted(result))).split())
    page = str(debrief_page(noted(result), ("drill", "run"), None))
    assert page.index(note) < page.index("What cost most")
    assert notes_on_fixes(FixUse(100, (1.0, 2.0, 3.0), 5)) == ()


def test_what_is_only_possible_is_not_on_the_sheet(result):
    assert "may still have been" not in words_of(papers_of(result))


def test_a_finding_that_the_coach_set_aside_stands_there_with_its_reason_and_not_among_the_findings(result):
    papers = papers_of(coached(result))
    text = words_of(papers)
    assert "Set aside by the coach: Wrong way: 34 s. Why: called back" in text
    assert "Readings rose for 13 s" not in text
    assert "Well done: the line" in text
    assert "run Third go" in text
    everything = tuple(finding.id for finding in result.findings)
    aside = replace(result, words=RunWords(set_aside=everything))
    assert "The coach set aside what was found in this run." in words_of(papers_of(aside))
    whole = replace(result, words=RunWords(set_aside="wind took the log", praised=True))
    assert "This run was set aside by the coach: wind took the log" in words_of(papers_of(whole))
    assert "Well done." in words_of(papers_of(whole))
    assert "From the coach" not in words_of(papers_of(result))


def test_the_time_is_local_where_the_zone_is_known():
    assert when(MORNING, None) == "2026-02-14 09:18 UTC"
    assert when(MORNING, zoneinfo.ZoneInfo("Europe/Vienna")) == "2026-02-14 10:18 Europe/Vienna"
    assert when(MORNING, dt.timezone(dt.timedelta(hours=-9))) == "2026-02-14 00:18 UTC-09:00"


def legged(result):
    """Return the run with three lines of the fine search for A."""
    begin = next(p.start_s for p in result.phases if p.phase == "fine_search" and p.transmitter == "A")
    legs = tuple(Leg(begin + 10.0 * n, begin + 10.0 * n + 9.0, 2.0, 90.0 * n, 0.1) for n in range(3))
    return replace(result, searches=(replace(result.searches[0], legs=legs), *result.searches[1:]))


def test_the_lines_of_the_fine_search_are_numbered_and_each_sign_has_a_shape_of_its_own(result):
    (paper,) = papers_of(one_transmitter(legged(result)))
    _, _, close_up, _ = paper.figure.axes
    assert [t.get_text() for t in close_up.texts if t.get_text().isdigit()] == ["1", "2", "3"]
    markers = [line.get_marker() for line in close_up.lines if line.get_marker() not in ("None", "")]
    assert len(markers) == len(set(markers))
    assert {"*", "v"} <= set(markers)
    assert len({line.get_linestyle() for line in close_up.lines if len(line.get_xdata()) > 1}) >= 3


def test_the_close_up_is_drawn_to_one_scale_both_ways(result):
    (paper,) = papers_of(one_transmitter(result))
    close_up = paper.figure.axes[2]
    wide, high = np.diff(close_up.get_xlim())[0], np.diff(close_up.get_ylim())[0]
    box = close_up.get_position()
    assert wide / (box.width * WIDTH_MM) == pytest.approx(high / (box.height * HEIGHT_MM))


@pytest.mark.parametrize("name", ["$\\frac{1}{0}$", "Łukasz Żółć", "雪崩 \U0001f3d4", "a\nb\tc"])
def test_any_name_can_be_printed(result, name):
    named = replace(result, searcher=name, transmitters=(replace(result.transmitters[0], id=name),))
    first = papers_of(named)[0].figure.texts[0].get_text()
    assert first == {"雪崩 \U0001f3d4": "\ufffd\ufffd \ufffd", "a\nb\tc": "a b c"}.get(name, name)
    assert sheet_pdf(SheetRun("bowl", "mara-1", replace(result, searcher=name))).startswith(b"%PDF")


# How the others did.


def entry(run, searcher="", *, fine=60, joint=False, **more):
    first = (Totals("Signal and coarse search", 90, 0, 0, 0, 90),)
    apart = (Totals("Signal search", 40, 40, 0, 0, 0), Totals("Coarse search", 50, 45, 5, 0, 0))
    rest = (Totals("Fine search", fine, 50, 10, 0, 0), Totals("In all", 90 + fine, 135, 15, 0, 0))
    splits = (first if joint else apart) + rest
    return RunEntry("bowl", run, "Bowl", searcher, 90.0 + fine, began=MORNING, splits=splits, **more)


def test_the_median_of_the_others_counts_each_searcher_once():
    own = entry("me-1", "Me", fine=10)
    others = [
        own,
        entry("me-2", "ME ", fine=900),
        entry("a-1", "A", fine=50),
        entry("a-2", "a", fine=70),
        entry("b-1", "B", fine=100),
        entry("c-1", "C", fine=20, joint=True),
        replace(entry("d-1", "D", fine=900), problem="damaged"),
    ]
    found, searchers = medians(own, others)
    assert searchers == 3
    assert dict(found) == {
        "fine": 60,
        "in all": 150,
    }  # of 60 (median of 50 and 70), 100, 20; two have signal and coarse
    assert medians(own, others[:5]) == ((), 2)


def test_runs_that_name_nobody_count_by_themselves_and_joint_splits_compare():
    own = entry("run-1", joint=True)
    found, searchers = medians(own, [own, *[entry(f"run-{n}", fine=10 * n) for n in (2, 3, 4)]])
    assert searchers == 3
    assert dict(found) == {"signal and coarse": 90, "fine": 30, "in all": 120}


def test_the_splits_tell_the_median_of_the_others(result):
    text = words_of(papers_of(result, **OTHERS))
    assert "Others: median of 12 other searchers of this drill." in " ".join(text.split())
    assert "others" not in words_of(papers_of(result))


# The sheet of a group.


def group(count, **more):
    loss = {"loss": "Slowed down late; lines longer than needed, fine search, transmitter T1: 23 s"}
    said = {"practice": "Let the pace fall with the reading: a walk at 10 m, a slow step at 5 m, 0.5 m/s at 3 m."}
    rows = [GroupRow(entry(f"run-{n:02d}", f"Searcher {n}", **loss, **said), f"Searcher {n}") for n in range(count)]
    return GroupSheet("bowl", "Lower bowl (invented)", tuple(rows), **more)


@pytest.mark.parametrize(("count", "most"), [(1, 1), (12, 1), (30, 2)])
def test_a_group_stands_on_a_page_or_two_with_a_row_a_run(count, most):
    shown = group(count)
    papers = group_papers(shown)
    assert len(papers) <= most
    assert_tidy(papers)
    text = words_of(papers)
    assert all(text.count(f"run-{n:02d}") == text.count(f"Searcher {n} ") == 1 for n in range(count))
    assert text.count("23 s") == count
    for paper in papers:
        assert "what cost most, and what to practise" in words_of([paper])
        assert SAFETY[0] in words_of([paper])
    assert len(re.findall(rb"/Type /Page\b", group_pdf(shown))) == len(papers)
    assert group_pdf(shown) == group_pdf(shown)


def test_who_could_not_be_assessed_is_not_told_that_nothing_was_found():
    """2026-11-27: "No finding." stood on the sheet beside a run whose debrief said that no remark can be made."""
    scored = Figure(96.0, 95.0, 97.0, "points")
    told = [
        words_of(group_papers(GroupSheet("bowl", "Bowl", (GroupRow(replace(entry("run-1"), loss="", score=s), "A"),))))
        for s in (None, scored)
    ]
    assert ["No score, no finding" in words for words in told] == [True, False]
    assert ["No finding." in words for words in told] == [False, True]


def test_a_group_of_200_loses_nobody():
    papers = group_papers(group(200))
    assert_tidy(papers)
    assert len(re.findall(r"Searcher \d+", words_of(papers))) == 200


def test_the_group_has_a_median_from_four_searchers_on():
    assert "Median of 4 searchers" in words_of(group_papers(group(4)))
    assert "Median" not in words_of(group_papers(group(3)))


def test_runs_that_end_before_the_hit_make_no_group_faster():
    ended = [entry(f"e-{n}", f"Ended {n}", fine=5, unfinished=("fine", "in all")) for n in range(5)]
    rows = (*group(4).rows, *(GroupRow(one, one.searcher) for one in ended))
    told = words_of(group_papers(GroupSheet("bowl", "Bowl", rows))).partition("Median of up to 9 searchers")[2]
    assert re.findall(r"\d:\d\d", told)[:4] == ["2:30", "0:40", "0:50", "1:00"]


def test_long_names_and_joint_splits_on_the_sheet_of_a_group():
    long = "Wilhelmina-Konstantina von und zu Unterhinterobertal-Grossglockner"
    rows = tuple(GroupRow(entry(f"{'r' * 90}{n}", long, joint=True, loss=LONG), long) for n in range(9))
    papers = group_papers(GroupSheet("bowl", long * 3, rows))
    assert_tidy(papers)
    assert words_of(papers).count("both 1:30") == 9


# What stands in the files.


@pytest.fixture
def workspace(tmp_path, make_result):
    """Return a workspace with two runs on two days, their words, and one person who has agreed to be named."""
    for number, (run, name) in enumerate({"mara-1": "Mara Fennick", "ilo-1": "Ilo Brandt"}.items()):
        made = make_result(run_id=run, searcher=name)
        later = replace(made, time_zero=made.time_zero + dt.timedelta(days=number))
        write_result(tmp_path / "results" / "lower_bowl" / f"{run}.json", later)
        (tmp_path / "drills" / "lower_bowl" / "runs" / run).mkdir(parents=True)
    words = 'zone = "Europe/Vienna"\nnote = "Calm hands."\nset_aside = ["off_lowest:B: called back"]\n'
    (tmp_path / "drills" / "lower_bowl" / "runs" / "mara-1" / "run.toml").write_text(words)
    people = People((Person("Mara Fennick", consent=True, consent_date=dt.date(2026, 1, 1)),))
    (tmp_path / "people.toml").write_bytes(people_bytes(people))
    return tmp_path


def printed(workspace):
    folders = (workspace / "drills" / "lower_bowl",)
    return Printed(Service(workspace / "results", folders), folders, workspace)


def test_a_sheet_has_the_words_and_the_zone_of_the_run_s_file(workspace):
    own = printed(workspace).run("lower_bowl", "mara-1")
    assert own.result.words.note == "Calm hands."
    assert str(own.zone) == "Europe/Vienna"
    other = printed(workspace).run("lower_bowl", "ilo-1")
    assert other.result.words.note == ""
    assert str(other.zone) == "Europe/Vienna"  # the only one that the drill's runs state
    assert Printed(Service(workspace / "results")).run("lower_bowl", "ilo-1").zone is None
    with pytest.raises(RunMissingError):
        printed(workspace).run("lower_bowl", "gone")


def test_a_drill_whose_runs_state_different_zones_has_none(workspace):
    (workspace / "drills/lower_bowl/runs/ilo-1/run.toml").write_text('zone = "+05:00"\n')
    assert printed(workspace).group("lower_bowl").zone is None
    assert str(printed(workspace).run("lower_bowl", "ilo-1").zone) == "UTC+05:00"


def test_who_has_not_agreed_is_not_named_on_the_sheet_of_a_group(workspace):
    shown = printed(workspace).group("lower_bowl")
    assert [(row.name, row.entry.run) for row in shown.rows] == [("Mara Fennick", "mara-1"), (None, "ilo-1")]
    text = words_of(group_papers(shown))
    assert "Mara Fennick" in text
    assert "Ilo" not in text
    assert "Who has not agreed to be named stands here under the name of the run." in text
    nobody = Printed(Service(workspace / "results")).group("lower_bowl")
    assert [row.name for row in nobody.rows] == [None, None]


def test_what_the_coach_set_aside_is_not_what_cost_most_on_the_sheet_of_a_group(workspace):
    mara, ilo = (row.entry.loss for row in printed(workspace).group("lower_bowl").rows)
    assert (mara, ilo) == ("Wrong way: 34 s", "Probing beside the lowest spot: 110 s")


def test_a_day_of_a_drill_is_printed_alone(workspace):
    day = [row.entry.run for row in printed(workspace).group("lower_bowl", "2026-01-18").rows]
    assert day == ["ilo-1"]
    assert len(printed(workspace).group("lower_bowl", "2026-05-05").rows) == 2


def test_the_server_gives_the_sheet_of_a_group(app):
    client = app.server.test_client()
    answer = client.get("/take-drill/lower_bowl/sheet.pdf")
    assert answer.status_code == 200
    assert answer.data.startswith(b"%PDF")
    assert 'filename="lower-bowl_sheet.pdf"' in answer.headers["Content-Disposition"]
    assert client.get("/take-drill/gone/sheet.pdf").status_code == 404
    assert client.get("/take-drill/lower_bowl/other.pdf").status_code == 404
    own = client.get("/take/lower_bowl/mara-1/sheet.pdf")
    assert 'filename="lower-bowl_mara-fennick_mara-1_sheet.pdf"' in own.headers["Content-Disposition"]
