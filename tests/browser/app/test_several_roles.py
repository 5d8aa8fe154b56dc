"""One person in several roles on a phone of the second plant: one list of work, and a role that ends meanwhile."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect

from qc.domain.facts.people import ROLES, Person

pytestmark = pytest.mark.browser

OTHER = Path(__file__).parents[2] / "plants" / "other"
FIRST, SECOND = "W650001K", "W750002K"


@pytest.fixture(scope="module")
def filled_folder(tmp_path_factory):
    from qc.web.house import open_house
    from tests.browser.plant_server import PASSPHRASE, PIN, fill

    folder = tmp_path_factory.mktemp("other") / "data"
    fill(folder, OTHER, (("A21", 50001), ("BRG34", 50002)), ("B10", "B20"))
    house = open_house(folder)
    house.people.add(Person("KIM", "Kim Beides", "inspector", also=("tester", "repairer")), PIN)
    others = tuple(one for one in ROLES if one != "station_lead")
    house.people.add(Person("ALL", "Alma Alles", "station_lead", ("B10",), others), PASSPHRASE)
    house.close()
    return folder


@pytest.fixture
def server(server):
    server.shows = "W"
    return server


def qc(server, *words):
    """Do something on the server's console, beside the server that runs."""
    from qc.cli import main

    answer = CliRunner().invoke(main, ["user", words[0], str(server.folder), *words[1:]])
    assert answer.exit_code == 0, answer.output


def headings(phone):
    return [one.inner_text() for one in phone.page.get_by_role("main").get_by_role("heading", level=2).all()]


def found(phone, unit, zone="^Vorderwand", type_="Wand verkratzt"):
    phone.open("#/units")
    phone.tap(re.compile(unit), "link")
    phone.tap("A defect only", "link")
    phone.record(re.compile(zone), type_)


def test_the_work_of_each_role_stands_on_one_list_and_own_repairs_wait_for_another(phone):
    expect(phone.page.get_by_text("Inspector, Tester, Repairer", exact=True)).to_be_visible()
    phone.sign_in("Kim Beides")
    found(phone, FIRST)
    phone.sync()
    phone.expect_all_sent()
    phone.open("#/units")
    phone.expect_units()
    assert headings(phone) == [*dict.fromkeys(headings(phone))]
    assert phone.page.get_by_role("main").get_by_role("link", name=re.compile(FIRST)).count() == 1

    # As a tester: the measured values; as a repairer: the repair, which as an inspector they do not accept.
    phone.tap(re.compile(FIRST), "link")
    expect(phone.page.get_by_role("link", name="Start inspection")).to_be_visible()
    phone.tap(re.compile("Wand verkratzt"), "link")
    phone.tap(re.compile("^Repair"), "link")
    phone.tap("5", exact=True)
    phone.tap("Save: repair done")
    phone.expect_status("Saved on phone: repair done")
    phone.open("#/units")
    phone.tap(re.compile(FIRST), "link")
    phone.tap(re.compile("Wand verkratzt"), "link")
    expect(phone.page.get_by_text("You repaired it: another person must re-check it.")).to_be_visible()
    expect(phone.page.get_by_role("link", name="Re-check")).to_have_count(0)
    phone.sync()
    phone.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_a_role_that_ends_while_the_phone_is_away_refuses_with_a_reason_and_loses_nothing(phone, server):
    phone.sign_in("Kim Beides")
    phone.expect_all_sent()
    phone.context.set_offline(True)
    found(phone, FIRST)
    qc(server, "role", "KIM", "dispatch")
    phone.context.set_offline(False)  # which syncs: a tap would take the words away
    phone.expect_status("Your roles have changed, now: dispatch. What you recorded before is kept.")
    phone.expect_all_sent(refused=1)
    assert [row["code"] for row in phone.stored("verdicts")] == ["not_your_role"]
    assert len(phone.stored("operations")) == 1
    phone.open("#/units")
    phone.expect_units()
    assert headings(phone) == ["May not leave yet: 2"]
    phone.open("#/outbox")
    expect(phone.page.get_by_role("main")).to_contain_text("Your role may not record this. Ask someone who may.")

    # Given back beside the new one, it goes in as it was recorded.
    phone.context.set_offline(True)
    qc(server, "role", "KIM", "dispatch", "--also", "inspector")
    phone.context.set_offline(False)
    phone.expect_status("Your roles have changed, now: dispatch and inspector.")
    phone.tap("Correct and send again")
    phone.tap(re.compile("^Save"))
    phone.expect_recorded("defect_recorded", 2)
    phone.sync()
    phone.expect_all_sent()


def test_somebody_in_all_eight_roles_sees_each_thing_once(phone, server):
    from tests.browser.plant_server import PASSPHRASE

    server.shows = "B10|W"
    phone.tap(re.compile("Alma Alles"))
    phone.page.get_by_label("Passphrase").fill(PASSPHRASE)
    phone.tap("Sign in", exact=True)
    expect(phone.page.get_by_role("heading", level=1)).to_contain_text("B10")
    phone.open("#/units")
    phone.expect_units()
    assert headings(phone) == [*dict.fromkeys(headings(phone))]
    phone.open("#/menu")
    phone.open("#/help")
    days = phone.page.get_by_role("link", name=re.compile("^Your day"))
    expect(days).to_have_count(8)
    found(phone, SECOND)
    phone.sync()
    phone.expect_all_sent()


# Two writes at once: a sign-in that begins, and what a sync says of the one before. Returns who the store then has.
MEANWHILE = """async () => {
  const of = (name) => import(document.querySelector("script[type=module]").src.replace("main.js", `lib/${name}.js`));
  const [{ openDatabase, read }, { putSettings }] = await Promise.all(["db", "settings"].map(of));
  const { changeSession } = await of("session");
  const [db, one] = [await openDatabase(), { token: "a", person: { code: "A" } }];
  const settings = { sessions: [one] };
  await putSettings(db, settings);
  const begun = putSettings(db, { sessions: [one, { token: "b", person: { code: "B" } }] });
  await Promise.all([begun, changeSession(db, settings, "a", { ended: true })]);
  return (await read(db, "settings", "sessions")).value.map((each) => `${each.token} ${!!each.ended}`);
}"""


def test_what_a_sync_says_of_a_sign_in_takes_none_away_that_begins_meanwhile(phone):
    assert phone.page.evaluate(MEANWHILE) == ["a true", "b false"]
