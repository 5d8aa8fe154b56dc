"""The plant's tables change while a phone holds unsent work: all of it arrives, and the new type is offered."""

import re
import sqlite3
from contextlib import closing

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect

from qc.cli import main
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.folder.plant_folder import folder_clock
from qc.store.people.telling import latest_tables

pytestmark = pytest.mark.browser
TYPES = "defect_types.csv"
NEW_TYPE = "PAN-77,PAN,Panels and bonding,Panel coming away,critical,yes,asked,20,D01,RP1,panel,all,no,none,loose\n"


def revise(folder, place):
    """Put tables with one more type in force beside the running server; return the revisions before and after."""
    before = plant_from_tables(latest_tables(folder))
    (place / TYPES).write_text(latest_tables(folder)[TYPES] + NEW_TYPE)
    day = PlantRules(before).calendar_day(folder_clock(folder)()).isoformat()
    words = ["revise", folder, place / TYPES, "--reason", "panels came away", "--from", day, "--take", "console"]
    told = CliRunner().invoke(main, [str(word) for word in words])
    assert told.exit_code == 0, told.output
    return before.revision, plant_from_tables(latest_tables(folder)).revision


def named(folder, kind):
    """Return how operations of a kind were settled, and by which revision, in order."""
    ask = "SELECT v.verdict, j.plant_revision FROM journal AS j JOIN verdict AS v USING (number) WHERE j.kind = ?"
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        return conn.execute(f"{ask} AND j.device <> 'DESK' ORDER BY j.number", (kind,)).fetchall()


@pytest.mark.signed_in
def test_work_held_under_the_old_tables_arrives_and_the_new_type_is_offered(phone, server, tmp_path):
    phone.open("#/units")
    phone.expect_units()
    phone.begin("PC7130001")
    phone.context.set_offline(True)
    phone.record(re.compile("^Front panel"), "Trim loose or lifting")
    phone.zone(re.compile("^Front panel"))
    expect(phone.page.get_by_role("button", name=re.compile("^Panel coming away"))).to_have_count(0)
    phone.tap(re.compile("^Trim loose or lifting"))
    expect(phone.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()

    old, new = revise(server.folder, tmp_path)
    phone.context.set_offline(False)
    phone.sync()
    phone.expect_all_sent()

    (draft,) = phone.stored("drafts")
    assert draft["plant"] == old
    assert phone.stored("plant")[0]["value"]["revision"] == new
    phone.open(f"#/unit/{draft['unit']}/draft/{draft['id']}")
    phone.tap(re.compile("^Save"))
    phone.sync()
    phone.expect_all_sent()
    assert named(server.folder, "defect_recorded") == [("applied", old), ("applied", old)]

    phone.open(f"#/unit/{draft['unit']}/walk/front")
    phone.zone(re.compile("^Front panel"))
    expect(phone.page.get_by_role("button", name=re.compile("^Panel coming away"))).to_be_visible()
    phone.tap(re.compile("^Trim loose or lifting"))
    phone.tap(re.compile("^Save"))
    phone.sync()
    phone.expect_all_sent()
    assert named(server.folder, "defect_recorded")[-1] == ("applied", new)
