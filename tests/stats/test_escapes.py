"""Escapes: what is counted, what is shown apart, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.origins.escapes import Found, downstream_in_line, escape_matrix, follow_up

LINE = ["frame", "wall", "roof", "final", "field"]
records = st.lists(
    st.builds(Found, st.sampled_from([*LINE, "supplier"]), st.sampled_from(LINE), st.integers(0, 50)), max_size=30
)


def matrix(records):
    return escape_matrix(records, downstream_in_line(LINE), no_station=["supplier", "not known"], level=0.95)


@given(records=records)
def test_every_defect_is_counted_once_or_shown_apart(records):
    answer = matrix(records)

    apart = answer.inconsistent_count + sum(count for _, count in answer.no_station)
    assert answer.counted + apart == sum(record.count for record in records)
    assert sum(one.originated for one in answer.origins) == answer.counted
    assert sum(one.found for one in answer.points) == answer.counted
    for one in answer.origins:
        assert one.contained + one.escaped == one.originated
        if one.originated:
            assert one.containment.share + one.escape_rate.share == pytest.approx(1)
    for point in answer.points:
        assert point.found + point.passed == point.reached


@given(records=records)
def test_the_order_of_records_does_not_matter(records):
    one, other = matrix(records), matrix(list(reversed(records)))

    assert (one.origins, one.points, one.worst) == (other.origins, other.points, other.worst)


def test_the_last_point_contains_its_own_by_construction_and_is_in_no_ranking():
    answer = matrix([Found("field", "field", 3), Found("frame", "field", 1)])

    assert answer.origins[-1].by_construction
    assert answer.worst == ("frame",)


def test_a_station_without_defects_has_no_containment():
    assert isinstance(matrix([]).origins[0].containment, TooLittle)
    assert isinstance(matrix([]).points[0].escape_rate, TooLittle)


def test_an_origin_that_is_no_station_is_shown_and_enters_no_rate():
    answer = matrix([Found("supplier", "final", 4), Found("not known", "wall", 2), Found("supplier", "wall", 1)])

    assert answer.no_station == (("supplier", 5), ("not known", 2))
    assert answer.counted == 0


def test_a_feeder_line_does_not_stand_before_its_neighbour():
    downstream = {"wall": ["final"], "roof": ["final"], "final": []}
    answer = escape_matrix(
        [Found("roof", "wall", 1), Found("roof", "final", 3), Found("wall", "final", 2)],
        downstream,
        no_station=(),
        level=0.95,
    )

    assert answer.inconsistent == (Found("roof", "wall", 1),)
    assert [(point.point, point.passed) for point in answer.points] == [("wall", 2), ("roof", 3), ("final", 0)]


@pytest.mark.parametrize(
    ("record", "told"),
    [
        (Found("paint", "final", 1), "origin must be a station or one of no_station, got 'paint'"),
        (Found("frame", "yard", 1), "found_at must be a point of the line, got 'yard'"),
        (Found("frame", "wall", -1), "count for 'frame' found at 'wall' must be a whole number"),
    ],
)
def test_impossible_records_are_refused(record, told):
    with pytest.raises(ValueError, match=told):
        matrix([record])


def test_a_map_of_the_line_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="downstream of 'a' must be other stations of the map, got 'b'"):
        escape_matrix([], {"a": ["b"]}, no_station=(), level=0.95)
    with pytest.raises(ValueError, match="stations must differ"):
        downstream_in_line(["a", "a"])


def test_recent_weeks_are_not_followed_up_yet():
    old, recent, empty = follow_up([40, 38, 0], [40, 12, 0], ["W01", "W02", "W03"], 0.95)

    assert (old.is_complete, recent.is_complete) == (True, False)
    assert recent.share == pytest.approx(12 / 38)
    assert isinstance(empty, TooLittle)
    with pytest.raises(ValueError, match=r"units must be at least followed \(5\), got 4 for 'W01'"):
        follow_up([4], [5], ["W01"], 0.95)
    with pytest.raises(ValueError, match="enough must be a share above 0 and at most 1, got 95"):
        follow_up([4], [4], ["W01"], 95)
