"""When a mail is due by the plant's own clock, what the section [mail] may say, and which addresses may be mailed.

The changes of the clocks are those of the IANA time zone database for Europe/London in 2026, worked out by hand:
forward on 29 March at 01:00, back on 25 October at 02:00. The lengths of an address are those of RFC 5321, 4.5.3.1.
"""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from qc.assets import folder
from qc.domain.plant.mail_plan import MailPlan, address_fault
from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables, tables_of

LONDON = ZoneInfo("Europe/London")
SECTION = """
[mail]
server = "mail.works.example"
port = 587
tls = "starttls"
user = "record"
password_file = "/etc/record/password"
from = "record@works.example"
links = "https://record.works.example:8443/"
at = "06:00"
"""


def utc(text: str) -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


def plan(at: str = "06:00", section: str = SECTION) -> MailPlan:
    found = tables_of(folder("demo_data") / "plant")
    section = section.replace('at = "06:00"', f'at = "{at}"')
    return plant_from_tables({**found, "plant.toml": f"{found['plant.toml']}\n{section}"}).mail


@pytest.mark.parametrize(
    ("at", "kind", "after", "to", "days"),
    [
        ("06:00", "daily", "2026-03-05T06:00", "2026-03-09T06:00", ["2026-03-06", "2026-03-09"]),  # no weekend
        ("06:00", "daily", "2026-03-05T05:59", "2026-03-05T05:59", []),
        ("06:00", "monday", "2026-03-01T00:00", "2026-03-16T05:59", ["2026-03-02", "2026-03-09"]),
        ("06:00", "daily", "2026-06-02T04:59", "2026-06-02T05:00", ["2026-06-02"]),  # summer time: an hour earlier
        ("00:30", "daily", "2026-06-01T23:29", "2026-06-01T23:30", ["2026-06-02"]),  # the day is the plant's
        ("06:00", "daily", "2027-01-01T00:00", "2026-01-01T00:00", []),  # a clock that went back
    ],
)
def test_the_days_on_which_a_mail_is_due(at, kind, after, to, days):
    found = list(plan(at).dues(kind, LONDON, utc(after), utc(to)))

    assert [day.isoformat() for day, _ in found] == days


def test_a_time_that_comes_twice_is_due_once():
    section = SECTION + 'days = ["sun"]\n'
    found = list(plan("01:30", section).dues("daily", LONDON, utc("2026-10-24T12:00"), utc("2026-10-25T12:00")))

    assert found == [(date(2026, 10, 25), utc("2026-10-25T00:30"))]


def test_a_plant_that_says_nothing_mails_nobody_and_one_that_does_has_its_own():
    assert plan(section="") is None
    assert plan() == MailPlan(
        server="mail.works.example",
        port=587,
        tls="starttls",
        user="record",
        password_file="/etc/record/password",
        root="",
        sender="record@works.example",
        links="https://record.works.example:8443",
        at=time(6),
        days=(1, 2, 3, 4, 5),
        domains=("works.example",),  # nowhere else unless the plant says so
    )


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("port = 587", "port = 0", "from 1 to 65535"),
        ('"mail.works.example"', '"mail works"', "is no name or address of a machine"),
        ('"starttls"', '"ssl"', "is not one of tls, starttls, none"),
        ('"starttls"', '"none"', "would send the password for all on the network to read"),
        ("/etc/record/password", "password", "is no absolute path"),
        ('user = "record"\n', "", "go together"),
        ("record@works.example", "record", "is no address"),
        ("record@works.example", "a@b.example\\nBcc: c@d.example", "line break"),
        ("https://record.works.example:8443/", "record.works.example", "is no address of pages"),
        ("https://record.works.example:8443/", "https://record.works.example:port", "is no address of pages"),
        ("https://record.works.example:8443/", "javascript://record.works.example", "is no address of pages"),
        ('at = "06:00"', 'at = "06:00"\ndays = []', "must be a list of mon"),
        ('at = "06:00"', 'at = "06:00"\ndays = [["mon"]]', "must be a list of mon"),
        ('at = "06:00"', 'at = "06:00"\ndomains = ["works"]', "must be a list of domains"),
        ('at = "06:00"', 'at = "06:00"\ndomains = [["works.example"]]', "must be a list of domains"),
        ('at = "06:00"', 'at = "06:00"\npassword = "secret"', "is no key of this section"),
        ('at = "06:00"', "", "is missing"),
    ],
)
def test_what_is_wrong_in_it_is_told(was, now, words):
    assert was in SECTION
    with pytest.raises(PlantFaults, match=words):
        plan(section=SECTION.replace(was, now))


@pytest.mark.parametrize("address", ["mia@works.example", "m.i-a+week@WORKS.example", "x" * 64 + "@works.example"])
def test_an_address_of_the_plant_is_taken(address):
    assert address_fault(address, ("works.example",)) == ""


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("", "is no address"),
        ("mia", "is no address"),
        ("@works.example", "is no address"),
        ("mia@works", "is no address"),
        ("mia@works.example\r\nBcc: all@works.example", "line break"),
        ("mia@works.example\n", "line break"),
        ("mia\x00@works.example", "line break"),
        ("mía@works.example", "a sign that no address here may have"),
        ("mia@works.example> SIZE=1", "is no address"),
        ("mia works@works.example", "without blanks"),
        ('"mia"@works.example', "without blanks, quotes"),
        ("<mia@works.example>", "without blanks, quotes"),
        ("mia@works..example", "is no address"),
        ("mia@-works.example", "is no address"),
        ("x" * 65 + "@works.example", "is no address"),
        ("mia@" + "x." * 130 + "example", "is no address"),
        ("mia@home.example", "is outside the plant: mail goes to works.example alone"),
        ("mia@works.example.home.example", "is outside the plant"),
    ],
)
def test_one_that_is_none_or_lies_outside_is_refused_with_the_reason(address, words):
    assert words in address_fault(address, ("works.example",))
