"""What nothing proves on a phone waits for its author; what others recorded on other units goes on."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

# As on a phone whose people signed in before there were keys, or after the server's key was changed.
LOSE_KEY = """person => new Promise((resolve, reject) => {
  const opening = indexedDB.open("daybay");
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const tx = opening.result.transaction("settings", "readwrite");
    const store = tx.objectStore("settings");
    const asked = store.get("keys");
    const left = (keys) => keys.filter((one) => one.person !== person);
    asked.onsuccess = () => store.put({...asked.result, value: left(asked.result.value)});
    tx.oncomplete = () => { opening.result.close(); resolve(); };
    tx.onerror = () => reject(tx.error);
  };
})"""


def unsent(phone) -> set[tuple[str, str]]:
    settled = {row["seq"] for row in phone.stored("verdicts")}
    return {(row["op"]["author"], row["unit"][-5:]) for row in phone.stored("operations") if row["seq"] not in settled}


def expect_unsent_by(phone, authors: set[str]) -> None:
    """Wait until what is unsent is of these people alone; the words stand before the push has been answered."""
    phone.wait_until(lambda: {author for author, _ in unsent(phone)} == authors, f"not only {authors} have unsent work")


@pytest.mark.signed_in
def test_one_persons_unproved_work_holds_back_nobody_elses(phone, server):
    phone.begin("PC7130001")
    server.stop()
    phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
    phone.page.evaluate(LOSE_KEY, "I1")
    phone.page.reload()
    server.start()
    phone.open("#/settings")
    phone.tap("Sign out")
    phone.tap("Sign I1 out")
    phone.sign_in("Inspector Two")
    phone.begin("PC7130014")
    phone.record(re.compile("^Front panel"), "Panel ripple or print-through")
    phone.sync()

    expect(phone.page.get_by_role("main")).to_contain_text("records by I1 wait until I1 signs in on this phone")
    expect_unsent_by(phone, {"I1"})
    phone.open("#/settings")
    phone.tap("Sign out")
    phone.tap("Sign I2 out")
    phone.sign_in("Inspector One")
    phone.sync()
    phone.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}
