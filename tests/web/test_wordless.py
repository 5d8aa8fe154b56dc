"""What has no words asks the record nothing: files and the health are answered while the record is out of reach."""

import sqlite3

import pytest

from qc.web import languages


@pytest.mark.parametrize("address", ["static/css/base.css", "static/js/words.js"])
def test_a_file_is_served_to_who_is_signed_in_though_the_record_is_out_of_reach(server, monkeypatch, address):
    page = server.page("station_lead")
    whole = server.app.jinja_env.globals["asset_url"](address)
    assert page.get(whole).status_code == 200
    monkeypatch.setattr(languages, "current_person", out_of_reach)

    assert page.get(whole).status_code == 200
    assert page.get("/health").status_code == 200
    assert page.get("/app/").status_code == 200
    assert page.get("/units").status_code >= 500


def out_of_reach():
    raise sqlite3.OperationalError("disk I/O error")
