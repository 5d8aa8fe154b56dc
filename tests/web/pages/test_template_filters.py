"""How the pages write things: instants in the plant's time, figures that cannot break out of their element."""

import json
from datetime import date
from zoneinfo import ZoneInfo

import pytest

from qc.domain.plant.naming import Names
from qc.domain.words.speaking import spoken
from qc.web.languages import tongue_of
from qc.web.pages.navigation import pages_of
from qc.web.pages.template_filters import clock_in, day_words, figure_json, unbroken
from tests.web.plant_server import CAST, invented_plant

HOUR_MS = 3_600_000
# 2026-03-29 00:30 UTC; British clocks go forward at 01:00 UTC that day (IANA tz database, Europe/London)
BEFORE_SPRING = 1_774_744_200_000


def test_a_figure_cannot_end_its_element_and_comes_back_the_same():
    figure = {"data": [{"name": "</script><script>alert(1)</script> & <!--"}], "layout": {}}
    written = str(figure_json(figure))

    assert not set("<>&") & set(written)
    assert json.loads(written) == figure


def test_an_instant_is_written_in_the_plants_time_through_the_spring_change():
    clock = clock_in(ZoneInfo("Europe/London"))

    assert ">Sun 29 Mar 2026 00:30<" in clock(BEFORE_SPRING)
    assert ">Sun 29 Mar 2026 02:30<" in clock(BEFORE_SPRING + HOUR_MS)
    assert 'datetime="2026-03-29T01:30:00+00:00"' in clock(BEFORE_SPRING + HOUR_MS)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("21 of 54 units (39 %), 3", "21 of 54 units (39\u00a0%), 3"),
        ("39 % (27.0 % – 52.2 %)", "39\u00a0% (27.0\u00a0%\u00a0–\u00a052.2\u00a0%)"),
        ("what % – and why", "what % – and why"),
    ],
)
def test_percentages_and_their_ranges_keep_to_one_line(text, kept):
    assert unbroken(text) == kept


def test_days_are_written_with_their_weekday():
    assert day_words(date(2026, 3, 5)) == "Thu 5 Mar 2026"


@pytest.mark.parametrize(
    ("code", "words"),
    [("S07", "S07 Wall panels bond"), ("UNK", "not known"), ("DSN", "as designed or as instructed"), ("Z", "Z")],
)
def test_an_origin_is_written_with_its_name(code, words):
    assert Names(invented_plant()[1]).place(code) == words


@pytest.mark.parametrize("role", sorted(CAST))
def test_the_head_offers_nobody_a_page_that_refuses_them(server, role):
    page = server.page(role)
    with server.app.app_context():
        links = pages_of(CAST[role])

    for link in links:
        assert page.get(link.href).status_code in (200, 303), link.href


@pytest.mark.parametrize(
    ("day", "german"),
    [
        (date(2026, 3, 5), "Do. 5. März 2026"),
        (date(2026, 9, 27), "So. 27. Sept. 2026"),
        (date(2025, 5, 1), "Do. 1. Mai 2025"),
    ],
)
def test_a_day_is_written_in_the_language_spoken(day, german):
    """The names are the CLDR's for German, abbreviated (from memory)."""
    with spoken(tongue_of("de")):
        assert day_words(day) == german
    assert day_words(day).startswith(("Thu", "Sun"))
