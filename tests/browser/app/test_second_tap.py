"""A second tap never does another thing: each button of each screen, tapped once and again, makes the same records.

The time between the taps is told to the page (told_time.js) instead of waited for, and before each later tap the app
has done all that the tap before began: the screen has changed as far as it will, which is harsher than any real wait,
and the same on every machine. Rows of taps are made with nothing done in between too, as on a phone that stalls.
"""

import re
from base64 import b64encode
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from qc.domain.plant.chassis import full_number
from qc.web.house import open_house
from tests.browser.app.test_taps import PNG
from tests.browser.phone import Phone
from tests.browser.plant_server import PEOPLE, PIN, PlantServer, copy_of, record

pytestmark = pytest.mark.browser

IN_PAGE = [Path(__file__).parent.parent / "told_time.js", Path(__file__).with_name("second_tap.js")]
GAPS_MS = (100, 300, 900)
ACTS = 30  # things on these screens that make a record at one tap, at least


@dataclass(frozen=True)
class Screen:
    """A screen with what is chosen, typed (#field=value) or pressed there first, and by whom ("": nobody)."""

    path: str
    ready: tuple[str, ...] = ()
    person: str = "I1"

    def __str__(self) -> str:
        return "-".join((self.path, *self.ready, *([] if self.person == "I1" else [self.person or "nobody"])))


SCREENS = (
    Screen("sign-in", person=""),
    Screen("sign-in", ("Inspector One",), person=""),
    Screen("sign-in", ("Inspector One", *PIN), person=""),
    Screen("sign-in", ("Manager One",), person=""),
    Screen("units"),
    Screen("find"),
    Screen("find", tuple("30003")),
    Screen("menu"),
    Screen("menu", person=""),
    Screen("met/0PC7T3600TW030077", ("Tarrow 36",)),
    Screen("station"),
    Screen("station", ("T02",)),
    Screen("station", ("T02", "PC7330003")),
    Screen("outbox"),
    Screen("settings"),
    Screen("settings", ("Sign out",)),
    Screen("unit/{unit}"),
    Screen("unit/{unit}", person="PL1"),
    Screen("unit/{other}/begin"),
    Screen("unit/{other}/begin", ("Overcast",)),
    Screen("unit/{unit}/walk/{view}"),
    Screen("unit/{unit}/walk/{view}", ("Drawbar, coupling, jockey wheel looked at",)),
    Screen("unit/{unit}/views/{view}"),
    Screen("unit/{unit}/views/{view}", ("List",)),
    Screen("unit/{unit}/rest/{view}"),
    Screen("unit/{unit}/rest/{view}", ("Yes, I looked at all",)),
    Screen("unit/{unit}/zone/{zone}"),
    Screen("unit/{unit}/zone/{zone}", ("Not looked at",)),
    Screen("unit/{unit}/search/{zone}"),
    Screen("unit/{unit}/search/{zone}", ("Gas",)),
    Screen("unit/{unit}/search/{zone}", ("#said=scuff",)),
    Screen("unit/{unit}/search/{zone}", ("Not on the list",)),
    Screen("unit/{other}/draft/{draft}"),
    Screen("unit/{other}/draft/{draft}", ("Minor",)),
    Screen("unit/{other}/draft/{draft}", ("Save",)),
    Screen("unit/{other}/draft/{draft}", ("Save", "Same again")),
    Screen("unit/{other}/draft/{draft}", person="TB1"),
    Screen("unit/{other}/draft/{draft}/none"),
    Screen("unit/{other}/draft/{gas}"),
    Screen("unit/{other}/draft/{gas}", ("Save",)),
    Screen("unit/{other}/origin/{draft}"),
    Screen("unit/{unit}/origin/{open}"),
    Screen("unit/{unit}/origin/{open}", ("Other places upstream",)),
    Screen("unit/{unit}/stop/{open}"),
    Screen("unit/{unit}/defect/{open}"),
    Screen("unit/{unit}/defect/{open}", person="TB1"),
    Screen("unit/{other}/photo/{pictured}/{photo}"),
    Screen("unit/{other}/photo/{pictured}/{photo}", ("Larger",)),
    Screen("unit/{unit}/photo/{open}/{sha}", ("Larger",)),
    Screen("unit/{unit}/repair/{open}"),
    Screen("unit/{unit}/repair/{open}", ("15",)),
    Screen("unit/{unit}/recheck/{repaired}"),
    Screen("unit/{unit}/recheck/{repaired}", ("Failed", "#reason=still loose")),
    Screen("unit/{unit}/correct/{open}", ("Major", "Severity seen better")),
    Screen("unit/{unit}/withdraw/{open}", ("Recorded by mistake",)),
    Screen("unit/{unit}/withdraw/{open}", ("Duplicate of another", "Same thing is on the list")),
    Screen("unit/{unit}/place", ("#other=Bay 4",)),
    Screen("unit/{unit}/tests"),
    Screen("unit/{unit}/test/G1", ("#value=5", "#instrument=MAN-7")),
    Screen("unit/{unit}/test/G1", ("#value=99999", "#instrument=MAN-7", "Save the value")),
    Screen("unit/{unit}/test/G1", ("#value=12", "#instrument=MAN-7", "Save the value")),
    Screen("unit/{unit}/test/G2", ("#instrument=MAN-7",)),
    Screen("unit/{unit}/end"),
    Screen("unit/{unit}/end", ("Not looked at",)),
    Screen("unit/{unit}/release"),
    Screen("unit/{clean}/release"),
    Screen("unit/{clean}/release", ("I have read this list", "#pin=" + PIN)),
)


@pytest.fixture(scope="module")
def server(filled_folder, certificate, tmp_path_factory) -> Iterator[PlantServer]:
    """A plant where an inspector's look is open on a unit with an open defect and one that is repaired."""
    served = PlantServer(copy_of(filled_folder, tmp_path_factory.mktemp("tapped") / "data"), certificate)
    house = open_house(served.folder)
    try:
        people = {person.code: person for person in PEOPLE}
        unit = full_number(house.plant, "T36", 30001)
        (look,) = record(house, people["I1"], unit, [("inspection_begun", BEGUN)])
        defects = [("defect_recorded", {**FOUND, "type": each, "inspection": look}) for each in ("PAN-02", "EXT-01")]
        _, repaired = record(house, people["I1"], unit, defects)
        record(house, people["RW1"], unit, [("repair_done", {"defects": [repaired], "method": "rework", "minutes": 9})])
    finally:
        house.close()
    served.start()
    yield served
    served.stop()


@pytest.fixture(scope="module")
def phone(playwright_driver, chromium, trusting_home, tmp_path_factory, server) -> Iterator[Phone]:
    """A phone with drafts and refused records; what it holds is put back before each tap, so that one serves all."""
    one = Phone.start(playwright_driver, chromium, trusting_home, tmp_path_factory.mktemp("phone"), server)
    one.context.add_init_script(path=IN_PAGE[0])
    one.open_first()
    one.sign_in()
    one.open(f"#/unit/{unit_of(one, 'PC7330003')}/zone/front.window")
    one.page.locator("main [data-act=type]").first.tap()
    expect(one.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()
    one.expect_all_sent()
    one.page.evaluate(REFUSED_HERE.replace("PNG", repr(b64encode(PNG).decode())), unit_of(one, "PC7130001"))
    one.page.reload()
    expect(one.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()
    one.all_loaded()
    server.stop()
    one.page.evaluate(IN_PAGE[1].read_text() + "; taps.keep()")
    yield one
    errors = one.errors
    one.close()
    assert errors == []


def unit_of(phone: Phone, shop_number: str) -> str:
    return next(row["chassis"] for row in phone.stored("units") if row["shop_number"] == shop_number)


# What an earlier look at the unit made and the server refused, each kind with its own way out; a draft of a critical;
# other people's sign-ins; a unit that nothing blocks. All as the app keeps them, by its own modules.
REFUSED_HERE = """async (unit) => {
  const base = document.querySelector("script[type=module]").src.replace("main.js", "lib/");
  const [{ openDatabase, readAll, write }, { record, keepVerdicts }, { fact, uuid7 }, { loadSettings, putSettings }] =
    await Promise.all(["db", "outbox", "facts", "settings"].map((name) => import(`${base}${name}.js`)));
  const db = await openDatabase();
  const settings = await loadSettings(db);
  const units = await readAll(db, "units");
  const [first] = units.find((each) => each.chassis === unit).defects;
  const [draft] = await readAll(db, "drafts");
  const [session] = settings.sessions;
  const maker = { ...settings, author: session.person.code, session: session.session, seen_through: 0 };
  const entries = await record(db, maker, [
    fact("defect_recorded", unit, { point: "D01", zone: "front.cap", type: "PAN-03", severity: "minor" }),
    fact("defect_corrected", unit, { defect: first.id, changes: { note: "edge" }, reason: "Note completed" }),
    fact("repair_done", unit, { defects: [first.id], method: "rework", minutes: 5 }),
    fact("test_recorded", unit, { test: "G3", instrument: "MAN-7", value: 30, passed: true }),
    fact("unit_released", unit, { against: "the rule", open_digest: "0" }),
    fact("inspection_begun", units.find((each) => each.chassis !== unit).chassis, { point: "D01", light: "overcast" }),
    fact("defect_withdrawn", unit, { defect: first.id, why: "not_a_defect", reason: "Within the limit sample" }),
  ]);
  const no = { verdict: "refused", code: "no", reason: "not so", number: null, epoch: settings.server_epoch, at_ms: 0 };
  await keepVerdicts(db, entries.map(({ seq, id }) => ({ ...no, seq, id })));
  await write(db, "drafts", { ...draft, id: uuid7(), zone: "front.gas", type: "GAS-03", severity: "critical" });
  const bytes = Uint8Array.from(atob(PNG), (sign) => sign.charCodeAt(0)).buffer;
  // A draft of its own: after a save its photo is made ready in real time, and is attached when it is.
  const pictured = { ...draft, id: uuid7(), zone: "front.cap", type: "PAN-02", severity: "minor" };
  await write(db, "drafts", pictured);
  const of = { id: `${pictured.id}/${draft.unit}/far/${uuid7()}`, defect: pictured.id, unit: draft.unit, view: "far" };
  await write(db, "captures", { ...of, bytes, type: "image/png", sha256: "b".repeat(64), maker, taken_ms: 0 });
  const attached = { defect: first.id, sha256: "a".repeat(64), bytes: 9, view: "near" };
  await record(db, maker, [fact("photo_attached", unit, attached)]);
  const sessions = settings.people.map((person) => ({ ...session, person: { stations: [], ...person } }));
  await putSettings(db, { sessions });
  const clean = units.find((each) => each.shop_number === "PC7230002");
  await write(db, "units", { ...clean, blockers: [] });
}"""


@pytest.fixture(scope="module")
def codes(phone) -> dict[str, str]:
    """What the addresses of the screens name."""
    unit, other = unit_of(phone, "PC7130001"), unit_of(phone, "PC7330003")
    drafts = {row["type"]: row["id"] for row in phone.stored("drafts")}
    defects = next(row for row in phone.stored("units") if row["chassis"] == unit)["defects"]
    states = {each["state"]: each["id"] for each in defects}
    return {
        "unit": unit,
        "other": other,
        "clean": unit_of(phone, "PC7230002"),
        "view": next(zone for zone in phone.stored("plant")[0]["value"]["zones"] if zone["key"] == "front.window")[
            "view"
        ],
        "zone": "front.gas",
        "gas": drafts.pop("GAS-03"),
        "pictured": drafts.pop("PAN-02"),
        "draft": drafts.popitem()[1],
        "photo": phone.stored("captures")[0]["id"].rpartition("/")[2],
        "sha": "a" * 64,
        "open": states["open"],
        "repaired": states["repaired"],
    }


BEGUN = {"point": "D01", "purpose": "presentation", "light": "overcast"}
FOUND = {"point": "D01", "zone": "front.panel", "severity": "minor"}


TAPPED: dict[Screen, int] = {}  # of each screen, how many of its things make a record at one tap


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_no_second_tap_makes_another_record(phone, codes, screen):
    found, different, acts = tapped_again(phone, codes, screen, every=False)
    TAPPED[screen] = acts

    assert different == []
    assert found


@pytest.mark.long
@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_no_second_tap_of_any_button_makes_another_record(phone, codes, screen):
    """As above of every button there is: of a drawing's zones, a keypad's keys and a question's answers each one."""
    found, different, _ = tapped_again(phone, codes, screen, every=True)

    assert different == []
    assert found


def tapped_again(phone, codes, screen, every):
    """Return the things tapped, those that more taps made more of with what they made, and how many make a record."""
    shown: dict[str, Any] = {**asdict(screen), "path": screen.path.format(**codes)}
    head = screen == Screen("units")  # which is the same on every screen
    found = phone.page.evaluate("(asked) => taps.found(...asked)", [shown, head, every])
    different, acts = [], 0
    for thing in found:
        told = phone.page.evaluate("(asked) => taps.compared(...asked)", [shown, thing, GAPS_MS])
        different += [(thing, told["once"], other) for other in told["others"]]
        acts += len(told["once"]["made"]) > len(told["shown"]["made"])
    return found, different, acts


def test_the_taps_reach_what_makes_records():
    if set(TAPPED) != set(SCREENS):
        pytest.skip("not every screen was tapped in this run")

    assert sum(TAPPED.values()) >= ACTS, TAPPED
