"""TCX activities."""

import numpy as np
import pytest

from analyzer.errors import InputError
from analyzer.files.tracks.tcx import parse_tcx

HEAD = '<?xml version="1.0"?><TrainingCenterDatabase xmlns="urn:tcx"><Activities>'


def activity(points: str) -> str:
    return f'<Activity Sport="Other"><Lap><Track>{points}</Track></Lap></Activity>'


def point(i: int, position: str = "") -> str:
    place = position or (
        "<Position><LatitudeDegrees>46.0</LatitudeDegrees>"
        f"<LongitudeDegrees>{7 + i * 1e-5:.5f}</LongitudeDegrees></Position>"
    )
    return (
        f"<Trackpoint><Time>2026-01-17T09:30:{i:02d}Z</Time>{place}<AltitudeMeters>12.5</AltitudeMeters></Trackpoint>"
    )


def tcx(*activities: str) -> bytes:
    return (HEAD + "".join(activities) + "</Activities></TrainingCenterDatabase>").encode()


def test_values_over_two_laps():
    two_laps = activity("".join(map(point, range(10)))).replace(
        "</Activity>", "<Lap><Track>" + "".join(map(point, range(10, 20))) + "</Track></Lap></Activity>"
    )
    fixes = parse_tcx(tcx(two_laps))
    np.testing.assert_array_equal(np.diff(fixes.time_s), 1.0)
    np.testing.assert_allclose(fixes.second, 7 + 1e-5 * np.arange(20), rtol=0, atol=1e-12)
    np.testing.assert_array_equal(fixes.elevation_m, 12.5)


def test_points_without_position_are_counted():
    fixes = parse_tcx(tcx(activity(point(0) + point(1, " ") + point(2))))
    assert dict(fixes.dropped) == {"no position": 1}
    assert list(fixes.number) == [1, 3]


def test_two_activities_are_put_in_the_order_of_time():
    fixes = parse_tcx(tcx(activity(point(5) + point(6)), activity(point(1) + point(2))))
    assert list(fixes.number) == [3, 4, 1, 2]
    assert [p.end_s - p.begin_s for p in fixes.parts] == [1.0, 1.0]


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (tcx(activity(point(0) + point(2)), activity(point(1))), "recorded at the same time"),
        (tcx(activity("")), "holds no track"),
        (b"<gpx/>", "not <TrainingCenterDatabase>"),
        (b'<!DOCTYPE x [<!ENTITY a "b">]><TrainingCenterDatabase/>', "document type or an entity"),
        (tcx(activity(point(0)))[:-60], "broken or cut off"),
        (tcx(activity(point(0).replace("46.0", "north"))), "latitude 'north' is not a number"),
        (tcx(activity(point(0).replace("00Z", "00"))), "no offset from UTC"),
        (
            tcx(activity(point(0, "<Position><LatitudeDegrees>4</LatitudeDegrees></Position>"))),
            "position is incomplete",
        ),
    ],
)
def test_unusable_files_say_why(data, what):
    with pytest.raises(InputError) as caught:
        parse_tcx(data)
    assert what in str(caught.value)
