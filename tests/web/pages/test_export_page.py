"""The page that gives the record out as files: to whom, under which name, and what it answers to nonsense."""

import csv
import io

import pytest

from qc.reports.export.columns import TABLES, tables_for
from qc.web.pages import export
from tests.web.plant_server import CAST

OTHERS = sorted(set(CAST) - {"quality_manager", "administrator"})


def rows(answer):
    return list(csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig"), newline="")))


@pytest.fixture
def page(lived):
    return lived.server.page("quality_manager")


def test_each_table_comes_as_a_file_of_its_own_name(lived, page):
    for table in tables_for(names=False):
        answer = page.get(f"/export/file?what={table}")
        assert answer.status_code == 200
        assert answer.headers["Content-Disposition"] == f"attachment; filename={table}-2026-03-23.csv"
        assert answer.headers["Content-Type"].startswith("text/csv")
        found = rows(answer)
        assert list(found[0]) == [one.name for one in TABLES[table]], table
    units = {row["chassis"] for row in rows(page.get("/export/file?what=units"))}
    assert units == {lived.ids[name] for name in ("released", "waiting", "critical", "planned")}
    assert {row["table"] for row in rows(page.get("/export/file?what=columns"))} == set(tables_for(names=False))


@pytest.mark.parametrize(("form", "begins"), [("csv", b"PK"), ("xlsx", b"PK"), ("jsonl", b'{"number":1,')])
def test_everything_comes_in_each_form(page, form, begins):
    answer = page.get(f"/export/file?what={form}")

    assert answer.status_code == 200
    assert answer.data.startswith(begins)


def test_the_weeks_are_those_of_the_review(lived, page):
    counted = {row["week"]: row for row in rows(page.get("/export/file?what=weeks"))}

    assert counted["2026-W10"]["units"] == "2"  # both presented at each end point: 30001 on Tuesday, 30002 on Wednesday
    assert [row["running"] for row in counted.values()][-1] == "yes"


def test_names_go_out_where_they_are_asked_for_and_only_there(page):
    assert "Ivo" not in page.get("/export/file?what=jsonl").text
    assert "Ivo" in page.get("/export/file?what=jsonl&names=yes").text
    assert page.get("/export/file?what=people").status_code == 404
    assert "Ivo" in {row["name"] for row in rows(page.get("/export/file?what=people&names=yes"))}


@pytest.mark.parametrize("role", OTHERS)
def test_nobody_else_gets_a_file(server, role):
    page = server.page(role)

    assert page.get("/export").status_code == 403
    assert page.get("/export/file?what=units&names=yes").status_code == 403


def test_a_stranger_and_another_method_are_refused(server):
    assert server.client().get("/export").status_code == 303
    assert server.client().get("/export/file?what=xlsx").status_code == 303
    page = server.page("administrator")
    assert "Figures out" in page.get("/export").text
    assert page.post("/export/file", csrf_token=page.form_token("/export"), what="units").status_code in (400, 405)


@pytest.mark.parametrize("what", ["", "x", "../record.sqlite", "person", "journal", "<b>"])
def test_what_is_no_file_is_told(page, what):
    answer = page.get(f"/export/file?what={what}")

    assert answer.status_code == 404
    assert "There is no file" in answer.text
    assert "<b>" not in answer.text.split("There is no file")[1][:40]


def test_a_second_at_the_same_time_and_a_full_disk_are_told_and_the_next_works(page, monkeypatch):
    with export._making:
        assert page.get("/export/file?what=units").status_code == 429
    with monkeypatch.context() as full:

        def no_room(*_):
            raise OSError(28, "No space left on device")

        full.setattr(export, "_write", no_room)
        answer = page.get("/export/file?what=units")
        assert answer.status_code == 507
        assert "No space left on device. The record is as it was." in answer.text
    assert page.get("/export/file?what=units").status_code == 200
