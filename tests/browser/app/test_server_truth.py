"""What the phone believes of the server: an answer in its own shape, or none. Nothing else deletes or settles."""

import json
import re
import shutil
import sqlite3
import ssl
import urllib.request
from contextlib import closing

import pytest
from playwright.sync_api import expect

from qc.store.checking.verify import verify
from qc.store.keeping.backup import back_up, restore
from qc.web.house import open_house
from tests.browser.phone import PUSH
from tests.browser.plant_server import PASSPHRASE, PIN, plan

pytestmark = pytest.mark.browser


def record_two_offline(phone, server) -> None:
    phone.sign_in()
    phone.begin("PC7130001")
    phone.expect_all_sent()
    server.stop()
    phone.record(re.compile("^Front panel"), "Trim loose")
    phone.record(re.compile("^Front cap"), "Trim loose")


def send_on(server, request) -> dict:
    """Hand a page's request to the server and return its answer."""
    headers = {name: request.headers[name] for name in ("authorization", "content-type")}
    asked = urllib.request.Request(request.url, request.post_data_buffer, headers)
    trust = ssl.create_default_context(cafile=str(server.certificate.root))
    with urllib.request.urlopen(asked, context=trust, timeout=60) as answer:
        return json.load(answer)


def sync_answered_by(phone, answer) -> None:
    """Have a phone sync where each call gets this answer, and wait until a round with it is over."""
    answered = []
    phone.page.route("**/api/v1/**", lambda route: (route.fulfill(**answer), answered.append(route.request.url)))
    phone.sync()
    phone.wait_until(lambda: answered, "it asked nothing")
    unsent_words(phone).not_to_contain_text("Syncing")


def unsent_words(phone):
    return expect(phone.page.locator(".standing"))


@pytest.mark.parametrize(
    ("name", "answer"),
    [
        ("a page of somebody's network", {"status": 200, "content_type": "text/html", "body": "<h1>Log in</h1>"}),
        ("an answer that broke off", {"status": 200, "content_type": "application/json", "body": '{"nonce": "'}),
        ("another nonce", {"status": 200, "json": {"nonce": "x", "server_now": 1, "server_epoch": "y"}}),
        ("a fault", {"status": 500, "json": {"error": {"code": "fault", "message": "fault 1", "field": ""}}}),
        ("too large", {"status": 413, "json": {"error": {"code": "too_large", "message": "m", "field": ""}}}),
        ("forbidden", {"status": 403, "json": {"error": {"code": "device_revoked", "message": "m", "field": ""}}}),
    ],
)
def test_no_other_answer_than_a_verdict_deletes_or_settles(phone, server, name, answer):
    record_two_offline(phone, server)
    sync_answered_by(phone, answer)

    unsent_words(phone).to_contain_text("2 records not sent")
    assert len(phone.stored("operations")) == 3
    assert len(phone.stored("verdicts")) == 1
    phone.page.unroute("**/api/v1/**")
    server.start()
    phone.sync()
    phone.expect_all_sent()


def test_a_redirect_is_no_server(phone, server):
    record_two_offline(phone, server)
    sync_answered_by(phone, {"status": 302, "headers": {"Location": f"{server.address}/app/"}})

    unsent_words(phone).to_contain_text("2 records not sent")
    unsent_words(phone).to_contain_text("No server")


def test_an_answer_that_was_lost_is_asked_again_and_counts_once(phone, server):
    record_two_offline(phone, server)
    phone.hold_back()
    server.start()
    lost = []

    def lose(route):
        if not lost:
            lost.append(send_on(server, route.request))  # the server took it, the phone never hears
            route.abort()
        else:
            route.continue_()

    phone.page.route(PUSH, lose)  # before the one that holds back
    phone.sync()
    phone.wait_until(lambda: lost, "nothing was sent")
    phone.sync()

    phone.expect_all_sent()
    assert [verdict["verdict"] for verdict in lost[0]["verdicts"]] == ["applied", "applied"]
    assert [row["verdict"] for row in phone.stored("verdicts")] == ["applied"] * 3
    journal = sqlite3.connect(server.folder / "record.sqlite")
    (count,) = journal.execute("SELECT count(*) FROM journal WHERE kind = 'defect_recorded'").fetchone()
    journal.close()
    assert count == 2


def test_a_sign_in_that_the_server_ended_keeps_everything_and_asks_again(phone, server):
    record_two_offline(phone, server)
    database = sqlite3.connect(server.folder / "record.sqlite")
    with database:
        database.execute("UPDATE sign_in SET ends_ms = begun_ms + 1")
    database.close()
    server.start()

    phone.sync()
    expect(phone.page.get_by_role("banner")).to_contain_text("Your sign-in has ended")
    unsent_words(phone).to_contain_text("2 records not sent")
    phone.open("#/settings")
    phone.tap("Sign out")
    expect(phone.page.get_by_role("main")).to_contain_text("2 records not sent")
    phone.tap("Sign I1 out")
    phone.sign_in()

    phone.expect_all_sent()


@pytest.mark.signed_in
def test_a_restored_server_is_offered_again_what_it_lost(phone, server, tmp_path):
    phone.begin("PC7130001")
    phone.expect_all_sent()
    server.stop()
    shutil.copytree(server.folder, tmp_path / "backup")
    server.start()
    phone.record(re.compile("^Front panel"), "Trim loose")
    phone.sync()
    phone.expect_all_sent()
    server.stop()
    shutil.rmtree(server.folder)
    shutil.copytree(tmp_path / "backup", server.folder)
    database = sqlite3.connect(server.folder / "record.sqlite")
    with database:
        changed = database.execute("UPDATE store_setting SET value = 'restored' WHERE name = 'server_epoch'").rowcount
    database.close()
    assert changed == 1
    server.start()

    phone.sync()
    phone.wait_until(
        lambda: [row["epoch"] for row in phone.stored("verdicts")] == ["restored"] * 2, "not all is offered again"
    )
    assert [row["verdict"] for row in phone.stored("verdicts")] == ["applied", "applied"]
    journal = sqlite3.connect(server.folder / "record.sqlite")
    (count,) = journal.execute("SELECT count(*) FROM journal WHERE kind = 'defect_recorded'").fetchone()
    journal.close()
    assert count == 1
    phone.open("#/units")
    expect(phone.page.get_by_role("link", name=re.compile("PC7130001"))).to_contain_text("1 minor")


def planned(server, model, sequence):
    house = open_house(server.folder)
    try:
        return plan(house, model, sequence, ())
    finally:
        house.close()


def test_work_younger_than_the_backup_proves_itself_after_a_restore_and_waits_for_its_unit(phone, server, tmp_path):
    """Two people's work on one phone, under sign-ins that the backup does not know, on a unit planned since too; then
    one of them signs in again, and later the unit is planned again.
    """
    server.stop()
    back_up(server.folder, tmp_path / "backup")
    unit = planned(server, "T36", 30077)
    server.start()
    phone.sign_in("Inspector One")
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Trim loose")
    phone.expect_all_sent()
    phone.lock()
    phone.sign_in("Inspector Two")
    phone.begin("PC7130077")
    phone.record(re.compile("^Front panel"), "Trim loose")
    phone.sync()
    phone.expect_all_sent()
    made = len(phone.stored("operations"))
    server.stop()
    shutil.move(server.folder / "keys", tmp_path / "keys")
    shutil.rmtree(server.folder)
    restore(tmp_path / "backup", server.folder)
    shutil.move(tmp_path / "keys", server.folder / "keys")
    server.start()

    phone.sync()
    expect(phone.page.get_by_role("banner")).to_contain_text("Your sign-in has ended")
    phone.lock()
    phone.sign_in("Inspector Two")
    phone.sync()
    with closing(sqlite3.connect(server.folder / "record.sqlite")) as record:
        (epoch,) = record.execute("SELECT value FROM store_setting WHERE name = 'server_epoch'").fetchone()
    phone.wait_until(
        lambda: [row["epoch"] for row in phone.stored("verdicts")] == [epoch] * made, "not all is offered again"
    )
    phone.open("#/outbox")
    expect(phone.page.get_by_role("main")).to_contain_text("2 held at the server: without effect")
    server.stop()
    assert planned(server, "T36", 30077) == unit
    server.start()
    phone.sync()
    phone.expect_all_sent()
    server.stop()

    with closing(sqlite3.connect(server.folder / "record.sqlite")) as record:
        of_phone = record.execute(
            "SELECT author, verdict, count(*) FROM journal JOIN verdict USING (number) WHERE device = 'P1' "
            "GROUP BY 1, 2"
        ).fetchall()
    assert of_phone == [("I1", "applied", 2), ("I2", "applied", 2)]
    report = verify(server.folder)
    assert report.is_whole, report


def test_a_refusal_is_shown_with_what_to_do_until_somebody_settles_it(new_phone, server):
    one, two = new_phone(), new_phone()
    one.open_first()
    one.sign_in("Inspector One")
    one.begin("PC7130001")
    one.record(re.compile("^Front panel"), "Trim loose")
    one.sync()
    one.expect_all_sent()
    two.open_first()
    two.sign_in("Inspector Two")
    server.stop()
    for phone in (one, two):
        phone.open("#/units")
        phone.tap(re.compile("PC7130001"), "link")
        phone.tap(re.compile("Trim loose"), "link")
        phone.tap("Withdraw", "link")
        phone.tap("Recorded by mistake")
        phone.tap("Withdraw it")
        phone.expect_status("Saved on phone: withdrawn, waits for the server's word")
    two.hold_back()
    server.start()
    one.sync()
    one.expect_all_sent()
    two.let_go()
    two.sync()
    two.expect_all_sent(refused=1)

    main = two.page.get_by_role("main")
    expect(main).to_contain_text("Refused, see why: 1")
    expect(main).to_contain_text("It was withdrawn before")
    two.tap("Read and settled")
    expect(main).not_to_contain_text("Refused, see why")
    expect(two.page.locator(".standing")).to_contain_text("All sent")
    assert [row["verdict"] for row in two.stored("verdicts")] == ["refused"]


def test_the_export_holds_all_that_is_unsent_with_its_photos(phone, server, tmp_path):
    record_two_offline(phone, server)
    phone.open("#/outbox")
    with phone.page.expect_download() as download:
        phone.tap(re.compile("^Export all"))
    download.value.save_as(tmp_path / "unsent.json")

    told = json.loads((tmp_path / "unsent.json").read_text())
    from qc.domain.acts.kinds import KINDS, body_fault
    from qc.domain.facts.operations import envelope_fault

    kinds = [operation["kind"] for operation in told["operations"]]
    assert kinds == ["defect_recorded", "defect_recorded"]
    assert [envelope_fault(operation) for operation in told["operations"]] == [None, None]
    assert [body_fault(KINDS[op["kind"]], op["unit"], op["body"]) for op in told["operations"]] == [None, None]
    assert [operation["seq"] for operation in told["operations"]] == [2, 3]
    assert len(phone.stored("operations")) == 3


@pytest.mark.signed_in
def test_the_same_person_takes_up_the_sign_in_without_signal_and_nobody_else(phone, server):
    phone.lock()
    server.stop()
    phone.page.reload()

    phone.tap(re.compile("Inspector One"))
    for figure in "999999":
        phone.tap(figure, exact=True)
    phone.tap("Sign in", exact=True)
    expect(phone.page.get_by_role("main")).to_contain_text("or the PIN is another")
    for figure in PIN:
        phone.tap(figure, exact=True)
    phone.tap("Sign in", exact=True)

    expect(phone.heading("Units in work")).to_be_visible()


def test_a_manager_signs_in_with_a_passphrase(phone):
    phone.sign_in("Manager One", PASSPHRASE)

    expect(phone.heading("Units in work")).to_be_visible()


def test_without_an_active_worker_nothing_may_be_recorded(new_phone, server):
    phone = new_phone()
    phone.page.route("**/app/sw.js", lambda route: route.abort())
    phone.page.add_init_script("delete Navigator.prototype.serviceWorker")
    phone.enrol()
    phone.sign_in()
    phone.tap(re.compile("PC7130001"), "link")

    expect(phone.page.get_by_role("banner")).to_contain_text("Read only")
    expect(phone.page.get_by_role("contentinfo")).to_contain_text("Read only")
    assert phone.page.get_by_role("link", name="Start inspection").count() == 0


@pytest.mark.signed_in
def test_what_is_saved_while_a_sync_is_on_its_way_goes_with_the_next_at_once(phone):
    phone.begin("PC7130001")
    phone.expect_all_sent()
    devtools = phone.context.new_cdp_session(phone.page)
    devtools.send("Network.enable")
    slow = {"offline": False, "latency": 700, "downloadThroughput": -1, "uploadThroughput": -1}
    devtools.send("Network.emulateNetworkConditions", slow)

    for zone in ("^Front panel", "^Front cap", "^Front window"):
        phone.zone(re.compile(zone))
        phone.tap(re.compile("^(Panel ripple|Trim loose)"))
        phone.tap(re.compile("^Save"))
        phone.expect_status("Saved on phone")
        phone.page.wait_for_timeout(700)

    phone.expect_all_sent()  # a round that nobody asked for comes after 45 s at the earliest
