"""Which causes a mute keeps back, on moves made by hand: what was not seen when muting is listed. Invented numbers."""

from dataclasses import fields
from datetime import date, timedelta

import pytest

from qc.reports.watch.signal_mutes import Mute, mute_of, muted_words
from qc.reports.watch.watched_series import Series
from qc.reports.watch.watching import Moved

MONDAY = date(2026, 3, 2)
EXPECTED = 10.0


def move(type_="PAN-06", raised=11, begun=11, defects=(20,) * 4, **changed):
    """Return a move that began in a week (place), after ten expected a week, and has run since with these defects."""
    counts = (10,) * begun + defects
    types = changed.pop("types", (type_,))
    series = made(
        Series, station="S07", label=type_, types=types, defects=counts, expected=(EXPECTED,) * len(counts)
    )  # fmt: skip
    return made(
        Moved, **{"series": series, "direction": "up", "first": raised, "listed": raised, "begun": begun, **changed}
    )


def made(record, **values):
    """Return a record of which only what a mute looks at is told."""
    return record(**{**dict.fromkeys(field.name for field in fields(record)), **values})


def mute(week=12, **changed):
    """Return a mute of the rise of PAN-06 at S07, made on the Monday of a week (place)."""
    made = MONDAY + timedelta(weeks=week)
    told = {"station": "S07", "type": "PAN-06", "type_name": "joint step", "direction": "up", "reason": "jig ordered"}
    return Mute(**{"id": "m", **told, "from_day": made, "until": made + timedelta(28), "muted_by": "QM1", **changed})


def keeps_back(own, *cause):
    return mute_of(cause, (own,), MONDAY, 0.0) is own


def test_a_rise_that_was_listed_when_it_was_muted_is_kept_back():
    assert keeps_back(mute(), move())


@pytest.mark.parametrize("other", [{"station": "S06"}, {"type": "PAN-01"}, {"type": "rest"}, {"direction": "down"}])
def test_a_mute_of_something_else_keeps_nothing_back(other):
    assert not keeps_back(mute(**other), move())


def test_only_the_mute_of_the_place_is_named():
    own = mute(id="own")

    assert mute_of((move(),), (mute(station="S06"), own), MONDAY, 0.0) is own
    assert mute_of((move(),), (), MONDAY, 0.0) is None


@pytest.mark.parametrize(("day", "kept"), [(0, True), (-1, False)])
def test_a_week_was_seen_once_it_was_over(day, kept):
    """Muted on the Monday after the week of the rise, or on its Sunday."""
    made = MONDAY + timedelta(weeks=12, days=day)

    assert keeps_back(mute(from_day=made), move()) is kept


def test_a_further_move_that_began_since_is_listed():
    assert not keeps_back(mute(), move(raised=11, begun=13))


@pytest.mark.parametrize(
    ("defects", "kept"), [((20, 20, 20, 20), True), ((20, 24, 26, 25), True), ((20, 40, 40), False)]
)
def test_a_rise_that_is_clearly_worse_than_when_it_was_muted_is_listed(defects, kept):
    """Twice the rate: at 99 % above; a quarter more in three weeks is within chance."""
    assert keeps_back(mute(), move(defects=defects)) is kept


def test_where_counts_scatter_it_takes_more_to_be_clearly_worse():
    """Twice the rate, of 20 and of 80 defects: as five and twenty causes of four, 0.6 to 10.4 times at 99 %."""
    own, worse = mute(), move(defects=(20, 40, 40))

    assert mute_of((worse,), (own,), MONDAY, 0.0) is None
    assert mute_of((worse,), (own,), MONDAY, 4.0) is own


def test_fewer_defects_since_are_no_reason_to_list_it():
    assert keeps_back(mute(), move(defects=(20, 5, 5, 5)))


@pytest.mark.parametrize("since", [0, 2, 9])
def test_a_muted_fall_goes_on_or_back_towards_the_usual_unlisted(since):
    fall = move(direction="down", defects=(2, 2, 2, *(since,) * 4))

    assert keeps_back(mute(14, direction="down"), fall)


@pytest.mark.parametrize(("raised", "kept"), [(11, True), (12, False)])
def test_an_alarm_on_other_types_of_the_cause_is_listed_when_it_was_raised_since(raised, kept):
    """It began before the muting either way; raised later, it was not on the card that was muted."""
    assert keeps_back(mute(), move(), move("GAS-01", raised=raised, begun=9)) is kept


def test_a_fall_that_was_judged_a_week_after_its_alarm_was_not_on_the_card_before_that():
    fall, muted = move(direction="down", defects=(2, 2, 2)), mute(direction="down")

    assert keeps_back(muted, fall, move("GAS-01", direction="down", raised=11, begun=9, listed=11))
    assert not keeps_back(muted, fall, move("GAS-01", direction="down", raised=11, begun=9, listed=12))


def test_the_types_group_of_a_muted_type_is_the_same_alarm_later():
    assert keeps_back(mute(), move(), move("PAN", raised=13, begun=11, types=("PAN-01", "PAN-06")))


def test_a_muted_sum_that_does_not_lead_any_more_is_still_the_muted_one():
    assert keeps_back(mute(), move("PAN", types=("PAN-01", "PAN-06")), move())
    assert not keeps_back(mute(), move("PAN", types=("PAN-01", "PAN-06")))


def test_the_words_say_how_many_and_until_when():
    later = mute(until=date(2026, 7, 1))

    assert muted_words([mute(until=date(2026, 6, 22))]) == "1 muted until 2026-06-22."
    assert muted_words([later, mute(until=date(2026, 6, 22))]) == "2 muted until 2026-06-22 to 2026-07-01."
