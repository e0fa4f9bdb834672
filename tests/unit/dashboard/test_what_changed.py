"""What a change did to a run: what is told, and that it is not called nothing where something went."""

from dataclasses import replace

from analyzer.model.figure import NotAssessable
from analyzer.model.path import FARTHER, OTHER, ReadingDoubt
from analyzer.model.result import PLACES, SharedFit, SharedRun
from dashboard.view_models.reading_doubts import TRACK, doubt_line
from dashboard.view_models.what_changed import NOTHING, what_changed


def test_the_same_is_nothing(result):
    assert what_changed(result, result) == (NOTHING,)


def test_a_search_that_came_or_went_is_told(result):
    fewer = replace(result, searches=result.searches[:1])
    name = result.searches[1].transmitter
    assert f"No search for transmitter {name} is told any more." in what_changed(result, fewer)
    assert f"A search for transmitter {name} is told now, and was not before." in what_changed(fewer, result)
    missed = replace(result, searches=(replace(result.searches[0], found=False), *result.searches[1:]))
    assert f"Transmitter {result.searches[0].transmitter}: found before, not found now." in what_changed(result, missed)


def test_a_measure_that_is_gone_is_told(result):
    first = result.searches[0]
    key = next(key for key, figure in first.coarse if not isinstance(figure, NotAssessable))
    without = replace(first, coarse=tuple(pair for pair in first.coarse if pair[0] != key))
    told = what_changed(result, replace(result, searches=(without, *result.searches[1:])))
    assert any(line.startswith("Not assessable any more: ") for line in told)


def test_what_else_differed_is_named_beside_the_change(result):
    less = replace(result, searches=result.searches[:1])
    together = SharedFit((PLACES,), (SharedRun(result.run_id, "a" * 64), SharedRun("ilo-1", "b" * 64)))
    assert not any("Not all of this" in line for line in what_changed(result, less))
    told = what_changed(replace(result, shared=None), replace(less, engine="9.9", shared=together))[-1]
    assert told == (
        "Not all of this need come of the change: the version of the program and the other runs that it was measured "
        "with differed as well."
    )


def test_readings_that_fit_no_place_may_be_right_where_the_positions_are_off():
    doubt = ReadingDoubt(60.0, 80.0, "A", FARTHER, 12, "")
    assert TRACK in doubt_line(doubt)
    assert TRACK not in doubt_line(replace(doubt, kind=OTHER, named="B"))  # those do fit a place
