"""What a person is mailed: asked for on their own page, by them alone, off unless asked, seen by the administrator."""

from dataclasses import replace

import pytest

from qc.store.people.mail import Send, add_send, wishes
from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read
from tests.web.plant_server import NOW
from tests.web.test_own_mail import LEO, MIA, plan_for


@pytest.fixture
def mailed(server):
    """A plant whose server mails."""
    server.house.plant = replace(server.house.plant, mail=plan_for(587))
    return server


def asked(server):
    return [(one.person.code, one.address, one.kinds) for one in wishes(server.house.reads.connection())]


def test_a_lead_asks_changes_it_and_asks_no_more(mailed):
    leo = mailed.page("station_lead")
    page = read(leo.get("/own-mail"))
    assert [box.attrs.get("checked") for box in page.all("input", type="checkbox")] == [None, None]  # off unless asked

    assert send(leo, "/own-mail", to=f"  {LEO} ", daily="yes").location == "/own-mail?done=1"
    assert asked(mailed) == [("L-S05", LEO, ("daily",))]
    assert f"Kept: the daily mail to {LEO}" in leo.get("/own-mail?done=1").text
    send(leo, "/own-mail", to=LEO, daily="yes", monday="yes")
    send(leo, "/own-mail", to=LEO, daily="yes", monday="yes")
    assert asked(mailed) == [("L-S05", LEO, ("daily", "monday"))]
    send(leo, "/own-mail", to=LEO)
    assert asked(mailed) == []
    assert LEO not in leo.get("/own-mail?done=1").text
    assert "Your address is forgotten" in leo.get("/own-mail?done=1").text


@pytest.mark.parametrize(
    ("address", "words"),
    [
        (f"{LEO}\r\nBcc: {MIA}", "line break"),
        ("leo", "is no address"),
        ("leo@home.example", "is outside the plant: mail goes to works.example alone"),
        ("<script>@works.example", "is no address"),
        ("x" * 40_000, "is no address"),
        ("", "is no address"),
    ],
)
def test_an_address_that_will_not_do_is_told_and_nothing_is_changed(mailed, address, words):
    leo = mailed.page("station_lead")
    send(leo, "/own-mail", to=LEO, monday="yes")

    answer = send(leo, "/own-mail", to=address, daily="yes")

    assert answer.status_code == 400
    assert words in answer.text
    assert "<script>@" not in answer.text
    assert asked(mailed) == [("L-S05", LEO, ("monday",))]


def test_a_plant_without_a_mail_server_says_so_and_takes_no_address(server):
    mia = server.page("quality_manager")

    assert "This plant's server sends no mail." in mia.get("/own-mail").text
    answer = send(mia, "/own-mail", to=MIA, daily="yes")
    assert answer.status_code == 409
    assert "sends no mail" in answer.text
    assert asked(server) == []


def test_the_address_stands_in_no_operation(mailed):
    rows = "SELECT count(*) FROM journal"
    before = mailed.house.reads.connection().execute(rows).fetchone()
    mia = mailed.page("quality_manager")
    before = mailed.house.reads.connection().execute(rows).fetchone()
    send(mia, "/own-mail", to=MIA, daily="yes")

    assert asked(mailed)
    assert mailed.house.reads.connection().execute(rows).fetchone() == before


def test_the_administrator_sees_who_gets_what_and_the_manager_no_address_of_others(mailed):
    send(mailed.page("station_lead"), "/own-mail", to=LEO, daily="yes", monday="yes")

    for role, shown in (("administrator", f"L-S05, {LEO}: daily and Mondays"), ("quality_manager", "L-S05: daily and")):
        page = read(mailed.page(role).get("/people"))
        (mail,) = page.all("section", id="mail")
        assert shown in mail.text
        assert "All that was due in the last fortnight went out." in mail.text
        assert (LEO in mail.text) == (role == "administrator")


def test_what_became_of_ones_own_is_told_and_of_nobody_elses(mailed):
    for code in ("L-S05", "MI1"):
        one = Send(
            person=code, kind="daily", day="2026-02-02", due_ms=NOW, state="missed", tries=0, at_ms=NOW,
            words=f"of {code} <b>",
        )  # fmt: skip
        mailed.house.journal.write(lambda conn, one=one: add_send(conn, one))

    text = mailed.page("station_lead").get("/own-mail").text
    assert "Daily of 2026-02-02: <strong>missed</strong>: of L-S05 &lt;b&gt;" in text
    assert "of MI1" not in text
