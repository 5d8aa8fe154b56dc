"""The three counts and what came through: pictures that are sound, with the numbers of their reports."""

from dataclasses import replace

from qc.charts.pages.station_expected import expected_picture, figures
from qc.charts.pages.station_upstream import MOST_BARS, upstream_figures, upstream_picture, upstream_types_table
from qc.reports.periods import weeks_up_to
from qc.reports.stations.station_expected import GuessRecord, StationExpected
from qc.reports.stations.station_upstream import StationUpstream, UpstreamLine
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import wilson_interval
from qc.stats.origins.expected_origins import OriginExpectation
from tests.charts.conftest import trace_of
from tests.charts.made_reports import WEEK

EXPECTED = StationExpected(
    station="S07",
    period=weeks_up_to(WEEK, 5),
    units=1328,
    confirmed=481,
    suspected=51,
    expected=OriginExpectation("S07", 0, 51, 95.4, 84, 107),
    level=0.95,
    open_count=743,
    left_out=12,
    settled_count=4300,
    closed_unknown=6,
    guesses=GuessRecord(304, 53, 77, 71),
    sentence="481 confirmed here.",
    guess_sentence="Of 357 guesses 304 were right.",
    cautions=("It blames nobody.",),
    selection="Settled defects are no random sample.",
    denominator="defects on 1328 units",
)
LINES = tuple(UpstreamLine(f"S{n:02d}", f"Place {n}", 40 - n, n, 1) for n in range(1, 12))
UPSTREAM = StationUpstream(
    station="S07",
    period=weeks_up_to(WEEK, 5),
    origins=LINES,
    types=LINES[:3],
    units=100,
    units_with=30,
    share=wilson_interval(30, 100, 0.95),
    is_asked=False,
    not_asked=0,
    sentence="440 came through.",
    duty="S07 is not asked to find them.",
    note="Dealers' finds come late.",
    denominator="100 units",
)


def test_the_three_counts_are_three_rows_and_the_range_belongs_to_the_third(sound):
    picture = expected_picture(EXPECTED)
    sound(picture)

    assert [(row.head, *row.cells) for row in picture.table.rows] == [
        ("Confirmed", "481", "a count"),
        ("Suspected, not answered", "51", "a count"),
        ("Expected of 743 not settled", "95", "84 – 107"),
    ]
    assert trace_of(picture, "point")["x"] == [51.0, 95.4]
    assert trace_of(picture, "line")["x"] == [84, 107, None]
    assert picture.cautions == ("It blames nobody.",)


def test_the_numbers_stand_large_with_what_they_rest_on():
    assert figures(EXPECTED) == (
        ("Confirmed here", "481", "its lead said so, or it was settled"),
        ("Suspected here", "51", "a guess, not answered"),
        ("Expected here, an estimate", "95", "84 to 107 of 743 not settled in the plant"),
    )


def test_too_few_settled_is_no_number(sound):
    report = replace(EXPECTED, expected=TooLittle("expected origins", "20 are needed", 7, 20))
    picture = expected_picture(report)
    sound(picture)

    assert picture.table.rows[2].cells == ("not yet", "7 of 20 settled")
    assert trace_of(picture, "point")["x"][1] is None
    assert figures(report)[2][1:] == ("not yet", "7 settled, 20 needed; none judged of 743 not settled in the plant")


def test_nothing_open_is_a_nought(sound):
    report = replace(EXPECTED, open_count=0, expected=TooLittle("expected origins", "no defect", 0, 1))
    sound(expected_picture(report))

    assert figures(report)[2][1] == "0"


def test_what_came_through_is_drawn_by_origin_and_told_by_type(sound):
    picture = upstream_picture(UPSTREAM)
    sound(picture)

    assert len(picture.table.rows) == 11
    assert len(trace_of(picture, "bar")["x"]) == MOST_BARS
    assert [bool(row.mark) for row in picture.table.rows][MOST_BARS - 1 : MOST_BARS + 1] == [True, False]
    assert picture.table.rows[0].cells == ("39", "1")
    assert trace_of(picture, "bar")["x"][0] == 40.0
    assert picture.cautions == ("S07 is not asked to find them.", "Dealers' finds come late.")
    assert [row.head for row in upstream_types_table(UPSTREAM).rows] == ["S01 Place 1", "S02 Place 2", "S03 Place 3"]
    assert [number for _, number, _ in upstream_figures(UPSTREAM)] == ["440", "30", "11"]


def test_a_place_that_nothing_is_expected_of_is_told_as_none():
    report = replace(EXPECTED, expected=OriginExpectation("T01", 0, 0, 0.0, 0, 0))

    assert figures(report)[2][1:] == ("0", "none of 743 not settled in the plant")
