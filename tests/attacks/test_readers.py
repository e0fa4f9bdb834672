"""A short part of the attack on the readers, and that the attack sees what it looks for."""

import pytest

from analyzer.errors import FileError, InputError, Problem
from tests.attacks import bombs, readers
from tests.attacks.mutate import MUTATORS, inside_of_sheets, mutated
from tests.attacks.samples import samples
from tests.attacks.trial import MESSAGE, RAW, READ, READERS, REFUSED, WHOLE_EVERY, made, outcome, tried

SEED = 90 * readers.APART + 1
INPUTS = 150


def told(found):
    """Return what is wrong, with the number to see it again."""
    return [f"--only {task}: {one.what}\n{one.detail}" for task, one in found if one.what in readers.WRONG]


def test_every_kind_of_file_has_a_good_one_that_is_read():
    for kind, files in samples().items():
        assert any(outcome(kind, lambda kind=kind, data=data: READERS[kind](data)).what == READ for data in files), kind
    assert set(samples()) == set(READERS)


def test_seeded_inputs_are_read_or_refused():
    tasks = [*range(SEED, SEED + INPUTS), *(WHOLE_EVERY * (SEED + i) for i in range(3))]
    found = list(readers.attacked(tasks))
    assert told(found) == []
    assert [task for task, _ in found] == tasks
    assert {READ, REFUSED} <= {one.what for _, one in found}


def test_small_files_that_cost_much_are_refused():
    found = list(readers.attacked(bombs.SMALL))
    assert told(found) == []
    assert {one.what for _, one in found} == {REFUSED}


def test_an_input_is_made_again_from_its_number():
    assert made(SEED) == made(SEED)
    assert tried(SEED) == tried(SEED)


@pytest.mark.parametrize("mutator", dict.fromkeys(MUTATORS), ids=lambda m: m.__name__)
def test_every_mutator_changes_something(mutator):
    from random import Random

    kind = "sheets" if mutator is inside_of_sheets else "result"
    data = samples()[kind][0]
    assert any(mutated(data, "", Random(seed), (mutator,)) != data for seed in range(5))


def test_the_attack_sees_what_it_looks_for():
    def fails(error):
        def call():
            raise error

        return outcome("x", call).what

    assert fails(StopIteration()) == RAW
    assert fails(UserWarning()) == RAW
    assert fails(InputError(where="a", what="b", do="c")) == REFUSED
    assert fails(FileError("a", [Problem("", "a", "b\n", "c")] * 2)) == REFUSED
    long = InputError(where="a", what="b", do="c")
    long.do = "x" * 2000
    assert fails(long) == MESSAGE
    broken = InputError(where="a", what="b", do="c")
    broken.what = "x\ny"
    assert fails(broken) == MESSAGE


def test_too_slow_too_large_and_dead_are_told(monkeypatch):
    import os

    def slow(_):
        while True:
            pass

    tasks = {"slow": slow, "large": lambda _: bytearray(10 * readers.LIMIT_BYTES), "dead": lambda _: os._exit(1)}
    monkeypatch.setattr(readers, "LIMIT_S", 0.2)
    monkeypatch.setattr(bombs, "SMALL", {name: (name, bytes) for name in (*tasks, "good")})
    for name, call in tasks.items():
        monkeypatch.setitem(READERS, name, call)
    monkeypatch.setitem(READERS, "good", lambda _: None)
    found = {task: one.what for task, one in readers.attacked(["slow", "large", "dead", "good"])}
    assert found == {"slow": readers.SLOW, "large": readers.MEMORY, "dead": readers.DIED, "good": READ}
