"""Who keeps the server reads on every page that its certificate is about to end, while phones still take it."""

from datetime import UTC, datetime, timedelta

import pytest

from qc.web.app import create_app
from qc.web.certificate import ends_at, make
from qc.web.certificate_words import certificate_words
from qc.web.server import _ends_at
from tests.web.plant_server import COMPILED, site

ENDS = datetime(2026, 3, 31, 12, tzinfo=UTC)
TOLD = "<strong>Certificate.</strong>"


@pytest.mark.parametrize(
    ("before", "words"),
    [
        (timedelta(days=30), ""),
        (timedelta(days=30, seconds=-1), "ends on 2026-03-31, in 29 days. From then on phones"),
        (timedelta(days=1), "ends on 2026-03-31, in 1 day. From then on phones"),
        (timedelta(0), "ends on 2026-03-31, in 0 days."),
        (timedelta(seconds=-1), "ended on 2026-03-31: phones and browsers refuse this server."),
    ],
)
def test_it_is_told_in_its_last_thirty_days(before, words):
    told = certificate_words(ENDS, ENDS - before)

    assert words in told
    assert bool(words) == bool(told)


def test_plain_http_has_none():
    assert certificate_words(None) == ""
    assert _ends_at(None) is None


def test_the_server_goes_by_the_certificate_that_it_began_with(tmp_path):
    made = make(tmp_path, ("record.plant.example",))

    assert _ends_at(made.leaf) == ends_at(made.leaf) > datetime.now(UTC) + timedelta(days=823)


def test_it_stands_on_the_pages_of_who_keeps_the_server_alone(server):
    server.app = create_app(server.house, site=site(), certificate_ends=datetime.now(UTC) + timedelta(days=3, hours=1))
    server.app.jinja_env.bytecode_cache = COMPILED

    for role in ("administrator", "quality_manager"):
        told = server.page(role).get("/units").text
        assert TOLD in told
        assert ", in 3 days." in told
    for role in ("inspector", "station_lead"):
        assert TOLD not in server.page(role).get("/units").text
