"""Weeks, days and periods in words of a language; their codes are those of ISO 8601 whatever is spoken.

English holds ISO 8601's own writing; "KW\u00a010/2026" and "05.03.2026" are German usage (DIN 5008, from memory).
"""

from datetime import date

import pytest

from qc.domain.words.said_weeks import day_figures, period_tick, week_words
from qc.domain.words.speaking import ENGLISH, spoken
from qc.reports.periods import week_of, weeks_before, weeks_up_to
from qc.reports.wording import listed, percent, severities_words
from qc.web.languages import tongue_of

DAY = date(2026, 3, 5)


@pytest.fixture
def german():
    with spoken(tongue_of("de")):
        yield


def test_a_week_and_a_day_stand_as_the_reader_writes_them(german):
    assert week_words("2026-W10") == "KW\u00a010/2026"
    assert (period_tick("2026-W10"), period_tick("2026-03-05"), period_tick("Lot 7")) == (
        "KW\u00a010",
        "05.03.",
        "Lot 7",
    )
    assert day_figures(DAY) == "05.03.2026"
    with spoken(ENGLISH):
        assert (week_words("2026-W10"), period_tick("2026-W10"), day_figures(DAY)) == ("2026-W10", "W10", "2026-03-05")


def test_a_day_is_named_as_a_week_is_and_the_second_of_a_day_says_so(german):
    assert [week_words(text) for text in ("2026-03-05", "2026-03-05 (2)")] == ["05.03.2026", "05.03.2026 (2)"]
    with spoken(ENGLISH):
        assert week_words("2026-03-05 (2)") == "2026-03-05 (2)"


def test_what_is_no_week_stays_as_it_is(german):
    assert [week_words(text) for text in ("2026-W1", "roll 3", "", "2026-W10 again")] == [
        "2026-W1", "roll 3", "", "2026-W10 again",
    ]  # fmt: skip


def test_a_period_is_named_when_it_is_asked_for_and_its_code_never_changes():
    week = week_of(DAY, DAY)
    before, up_to = weeks_before(week, 8), weeks_up_to(week, 1)

    assert (week.name, before.name, up_to.name) == ("2026-W10", "8 weeks 2026-W02 to 2026-W09", "week 2026-W10")
    with spoken(tongue_of("de")):
        assert (week.name, before.name, up_to.name) == (
            "KW\u00a010/2026",
            "8 Wochen KW\u00a002/2026 bis KW\u00a009/2026",
            "KW\u00a010/2026",
        )
        assert (week.code, before.code) == ("2026-W10", "2026-W02")


def test_shares_lists_and_severities_are_said(german):
    assert (percent(0.0312), percent(0.45)) == ("3,1 %", "45 %")
    assert listed(["a", "b", "c"]) == "a, b und c"
    assert listed(list("abcdefg")) == "a, b, c, d, e und 2 weitere"
    assert severities_words(("major", "minor")) == "schwere und leichte Fehler"
