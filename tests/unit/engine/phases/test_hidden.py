"""What a path cannot show, however well it is fitted: lines and settling."""

import dataclasses

import builders
import numpy as np
import pytest

from analyzer.model.path import FixUse, UsedReadings

ONE = np.ones(3)
LOG = UsedReadings(ONE, ONE, 0.0 * ONE, ONE)


def fused(*, readings=LOG, antennas=3, step_s=1.0, survey=False):
    path = builders.exact_path(np.arange(3.0), np.zeros((3, 2)))
    return dataclasses.replace(
        path, readings=readings, antennas=antennas, survey_grade=survey, fixes=FixUse(3, (), 0, step_s)
    )


@pytest.mark.parametrize(
    ("given", "lines", "settling"),
    [
        ({}, False, False),
        ({"antennas": 2}, False, False),
        ({"antennas": 1}, True, True),
        ({"readings": None}, True, False),
        ({"readings": None, "survey": True}, False, False),
        ({"step_s": 12.0}, True, False),
        ({"step_s": 12.0, "readings": None}, True, True),
    ],
)
def test_what_is_hidden(given, lines, settling):
    path = fused(**given)
    assert bool(path.lines_hidden) is lines
    assert path.settling_hidden is settling
