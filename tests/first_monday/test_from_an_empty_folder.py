"""A plant's first day: from an empty folder to a released unit and the first review, by commands and pages alone.

The second invented plant of `tests/plants/other` starts as its people would: its own tables, the first account on the
console, everybody else on the administrator's page with a slip, a phone by its QR code, a build plan as a file; then an
inspector finds a defect, its lead says whose it was, it is repaired, looked at again, tested and signed. Nothing is put
into the record but by what a person would touch. The steps are those of the handbook's page *Starting a plant*.
"""

import re
import shutil
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

from qc.cli import main
from qc.domain.plant.chassis import full_number, shop_number
from qc.domain.tables.plant_tables import read_plant
from tests.browser.pages.drawn import on_screen
from tests.first_monday.pictures import NAMES, Pictures

pytestmark = pytest.mark.browser

OTHER = Path(__file__).parents[1] / "plants" / "other"
PEOPLE = (
    ("QM1", "Mara Ost", "quality_manager", ""),
    ("PL1", "Pia Lenz", "planner", ""),
    ("I1", "Ida Nord", "inspector", ""),
    ("I2", "Ivo Sand", "inspector", ""),
    ("TB1", "Tom Bach", "tester", ""),
    ("RW1", "Ria Wiese", "repairer", ""),
    ("L-B10", "Lea Berg", "station_lead", "B10"),
)
MODELS = (("A21", 50001), ("BRG34", 50002))


def qc(*words) -> str:
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.output


class Desk:
    """A browser at a desk in which one person after another signs in; secrets: by code, as the slips say them."""

    def __init__(self, page: Page, address: str, secrets: dict[str, str]) -> None:
        self.page, self.address, self.secrets = page, address, secrets

    def sign_in(self, code: str, to: str = "/") -> None:
        self.page.context.clear_cookies()
        self.page.goto(f"{self.address}/sign-in?next={to}")
        self.page.get_by_label("Your code").fill(code)
        self.page.get_by_label("PIN or passphrase").fill(self.secrets[code])
        self.page.get_by_role("button", name="Sign in").click()
        self.page.locator(".head .who").wait_for()

    def press(self, name: str | re.Pattern[str]) -> None:
        self.page.get_by_role("button", name=name).first.click()

    def add(self, code: str, name: str, role: str, stations: str) -> None:
        """Add a person and keep what the slip says."""
        self.page.goto(f"{self.address}/people")
        self.page.get_by_text("Add a person").click()
        self.page.get_by_label("Code, in capitals").fill(code)
        self.page.locator("#new-name").fill(name)
        form = self.page.locator("form[action='/people/add']")
        form.locator("select[name=role]").select_option(role)
        form.locator("select[name=stations]").select_option(stations.split())
        self.press("Add, and show the PIN once")
        slip = self.page.locator(".slip")
        expect(slip).to_contain_text(name)
        self.secrets[code] = slip.locator("dd code").nth(1).inner_text()


def side_on(size: tuple[int, int]) -> Image.Image:
    """Return what stands for the photo of a unit's side: a pale box with a window and a flap, on a wheel."""
    across, down = size
    photo = Image.new("RGB", size, (168, 176, 184))
    draw = ImageDraw.Draw(photo)
    draw.rectangle((0.02 * across, 0.02 * down, 0.98 * across, 0.9 * down), (236, 236, 230), (90, 90, 90), 4)
    draw.rectangle((0.52 * across, 0.16 * down, 0.86 * across, 0.4 * down), (70, 84, 96))
    draw.rectangle((0.144 * across, 0.635 * down, 0.431 * across, 0.862 * down), (214, 214, 206), (120, 120, 120), 3)
    draw.ellipse((0.56 * across, 0.76 * down, 0.8 * across, 0.99 * down), (40, 40, 42), (20, 20, 20), 4)
    return photo


def draw_a_zone(desk: Desk, pictures: Pictures, place: Path, model: str, view: str) -> None:
    """Lay a photo under a view, draw a zone over it and put both in force."""
    page, photo = desk.page, place / "side.jpg"
    side_on((1260, 1320)).save(photo)
    page.goto(f"{desk.address}/plant-tables/zones?model={model}&view={view}")
    page.locator("#picture").set_input_files(photo)
    desk.press("Lay it under the zones")
    expect(page.locator("[data-sheet] image")).to_be_attached()
    desk.press("Draw a zone")
    for corner in ((300, 300), (900, 300), (900, 800), (300, 800), (300, 300)):
        page.mouse.click(*on_screen(page, corner))
    for field, value in (("name", "Serviceklappe"), ("key", "seite.klappe"), ("kind", "wand"), ("layer", "1")):
        page.locator(f"[data-field={field}]").fill(value)
    page.locator("[data-field=layer]").blur()
    expect(page.locator("[data-found]")).to_have_text("None.")
    pictures.take(page, "zones", page.locator("h1"))
    desk.press("Look it through")
    expect(page.get_by_role("main")).to_contain_text("A21 seite.klappe Serviceklappe: added")
    page.get_by_label("Why they change").fill("Die Serviceklappe wird mit angesehen")
    desk.press("Put these tables in force")
    expect(page.get_by_role("status")).to_contain_text("In force from")


def walk_round(phone, pictures) -> None:
    """Look at every zone of the unit, in walk order; on the first view something is wrong."""
    for view in range(3):
        phone.page.locator(".drawing, [data-act=read]").first.wait_for()  # not a caution of the screen before
        if phone.page.get_by_role("button", name="Read: to the drawing").count():
            phone.tap("Read: to the drawing")
        if view == 0:
            pictures.take(phone.page, "walk")
            phone.zone(re.compile("^Vorderwand"))
            pictures.take(phone.page, "defect")
            phone.tap(re.compile("^Wand verkratzt"))
            phone.tap(re.compile("Suspected origin"), "link")
            phone.tap(re.compile("^B10 "))
            phone.tap(re.compile("^Save"))
            phone.expect_status("Saved on phone: ")
        name = phone.page.locator("h1").inner_text()
        phone.rest()
        phone.page.locator(".drawing").wait_for()
        if view < 2:
            phone.touch(phone.page.locator("footer [data-step]"))
            expect(phone.page.locator("h1")).not_to_have_text(name)


def sent(phone) -> None:
    phone.sync()
    phone.expect_all_sent()


def begin_at(phone, name: str, pin: str) -> None:
    """Sign in for the first time with the PIN of one's slip; the app tells who set it."""
    phone.tap(re.compile(name))
    for figure in pin:
        phone.tap(figure, exact=True)
    phone.tap("Sign in", exact=True)
    expect(phone.heading("Your sign-in")).to_be_visible()
    expect(phone.page.get_by_role("main")).to_contain_text("by AD1")
    phone.tap("I asked for it: go on")
    phone.expect_units()


def another(phone, name: str, pin: str) -> None:
    """Another person takes the phone."""
    phone.open("#/settings")
    phone.tap("Sign out")
    phone.tap(re.compile("^Sign .* out"))
    begin_at(phone, name, pin)


@pytest.fixture
def filled_folder(tmp_path):
    """A data folder as a newcomer makes it: `qc init`, the plant's own tables in the place of the invented ones."""
    folder = tmp_path / "works"
    assert "qc check-plant" in qc("init", folder)
    for table in OTHER.iterdir():
        shutil.copy(table, folder / "plant" / table.name)
    toml = folder / "plant" / "plant.toml"
    toml.write_text(toml.read_text().replace("demo = true", "demo = false"))
    left_over = CliRunner().invoke(main, ["check-plant", str(folder)])
    assert left_over.exit_code == 1
    assert "outlines.csv" in left_over.output  # the invented plant's drawings fit no model of this one
    (folder / "plant" / "outlines.csv").unlink()
    assert "no fault found" in qc("check-plant", folder)
    return folder


@pytest.fixture
def secrets(filled_folder):
    told = qc("user", "add", filled_folder, "AD1", "--role", "administrator", "--name", "Ada Dorn")
    return {"AD1": re.search(r"Passphrase: (\S+)|: (\S+-\S+)", told).group(0).rpartition(" ")[2]}


@pytest.fixture
def server(filled_folder, secrets, certificate):
    from tests.browser.plant_server import PlantServer

    served = PlantServer(filled_folder, certificate, shows="W")
    served.start()
    yield served
    served.stop()


@pytest.fixture
def desk(playwright_driver, chromium, trusting_home, tmp_path, server, secrets):
    from tests.browser.phone import launch

    context = launch(playwright_driver, chromium, trusting_home, tmp_path / "desk")
    page = context.pages[0]
    page.set_viewport_size({"width": 1280, "height": 900})
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield Desk(page, server.address, secrets)
    context.close()
    assert errors == []


def test_a_plant_goes_from_an_empty_folder_to_a_released_unit_and_its_first_review(
    filled_folder, desk, new_phone, tmp_path
):
    plant = read_plant(filled_folder / "plant")
    page, pictures = desk.page, Pictures()

    # The administrator adds everybody and enrols the phone.
    desk.sign_in("AD1", "/people")
    for person in PEOPLE:
        desk.add(*person)
    page.goto(f"{desk.address}/people")
    pictures.take(page, "people", page.get_by_role("heading", name="People and phones"))
    desk.press("Enrol one phone more")
    letters = page.locator(".letters code").inner_text()
    phone = new_phone()
    phone.enrol(letters)

    # A flap of the side is looked at too: the administrator draws it over a photo of that side.
    draw_a_zone(desk, pictures, tmp_path, "A21", "seite")
    assert read_plant(filled_folder / "plant").zones["A21", "seite.klappe"].name == "Serviceklappe"

    # The planner hands in the build plan.
    today = datetime.now(ZoneInfo(plant.time_zone)).date()
    same = f"{today},Küche;Türöffner,N"
    rows = [f"{full_number(plant, *one)},{one[0]},{shop_number(plant, *one)},{same}" for one in MODELS]
    plan = tmp_path / "plan.csv"
    plan.write_text("\n".join(["chassis,model,shop_number,planned_day,options,line", *rows]))
    desk.sign_in("PL1", "/plan")
    page.locator("input[type=file]").set_input_files(plan)
    desk.press("Look it through")
    expect(page.get_by_role("main")).to_contain_text("2 new")
    pictures.take(page, "plan", page.get_by_role("heading", name="Build plan"))
    desk.press(re.compile("^Take"))
    expect(page.get_by_role("status")).to_contain_text("2 planned, 0 changed")

    # An inspector walks round, finds a scratched wall and says whose work it looks like.
    unit = shop_number(plant, *MODELS[0])
    begin_at(phone, "Ida Nord", desk.secrets["I1"])
    phone.begin(unit)
    walk_round(phone, pictures)
    phone.end()
    phone.tap("End inspection", exact=True)
    phone.expect_status("ended")
    sent(phone)

    # The lead says that it was made here.
    desk.sign_in("L-B10", "/stations/B10")
    expect(page.get_by_role("main")).to_contain_text("1 waiting for your word")
    pictures.take(page, "station", page.get_by_role("heading", name="1 waiting for your word"))
    page.get_by_text("Made here", exact=True).first.click()
    desk.press("Yes, confirm: made at B10")
    expect(page.get_by_role("main")).to_contain_text("Nothing waits for your word")

    # The bay tests, the repairer repairs, another inspector looks again.
    another(phone, "Tom Bach", desk.secrets["TB1"])
    phone.tap(re.compile(unit), "link")
    phone.tap("Start inspection", "link")
    phone.tap("Dark, with lamps")
    phone.tap(re.compile("begin$"))
    for test, value in (("DPR", "3"), ("SLW", "0,1")):
        phone.tap(re.compile(f"^{test} "), "link")
        phone.page.get_by_label("Value as read").fill(value)
        phone.page.get_by_label("Instrument number").fill("M-1")
        if test == "SLW":
            pictures.take(phone.page, "test", phone.page.get_by_text(re.compile("^Limit")).first)
        phone.tap("Save the value")
        phone.expect_status(f"{test} passed")
    phone.tap(re.compile("^TOF "), "link")  # the door opener, which its options ask for
    phone.page.get_by_label("Instrument number").fill("M-1")
    phone.tap("Passed", exact=True)
    phone.expect_status("TOF passed")
    phone.tap("End inspection at PST", "link")
    phone.tap(re.compile("^End "))
    phone.expect_status("ended")
    sent(phone)
    another(phone, "Ria Wiese", desk.secrets["RW1"])
    phone.tap(re.compile(unit), "link")
    phone.tap(re.compile("Wand verkratzt"), "link")
    phone.tap("Repair done", "link")
    phone.tap("15", exact=True)
    pictures.take(phone.page, "repair", phone.page.get_by_role("heading", name="What was done"))
    phone.tap(re.compile("^Save: repair"))
    phone.expect_status("Saved on phone: repair done")
    sent(phone)
    another(phone, "Ivo Sand", desk.secrets["I2"])
    phone.tap(re.compile(unit), "link")
    phone.tap(re.compile("Wand verkratzt"), "link")
    phone.tap("Re-check", "link")
    phone.tap("Looked again: accepted")
    phone.expect_status("Saved on phone: accepted")
    sent(phone)

    # They sign the release with their own PIN.
    phone.open("#/units")
    phone.tap(re.compile(unit), "link")
    phone.tap("Prepare release", "link")
    expect(phone.page.get_by_role("main")).to_contain_text("What blocks it: 0")
    phone.tap("I have read this list: sign")
    pictures.take(phone.page, "release", phone.page.get_by_role("heading", name=re.compile("^What blocks")))
    phone.page.get_by_label("Your PIN, to sign").fill(desk.secrets["I2"])
    phone.tap("Sign: release this unit")
    expect(phone.page.get_by_role("main")).to_contain_text("Released by I2, against the release rule and checks")

    # The first review: the running week, counted, without limits yet.
    desk.sign_in("QM1", "/review")
    review = page.get_by_role("main")
    for words in ("This week is not over", "1.00 a unit so far", "B10 Aufbau (1), 100 % of 1 defect"):
        expect(review).to_contain_text(words)
    assert re.findall(r"(?<!of )\b1 (?:defects|units|weeks)\b.{20}", review.inner_text()) == []
    pictures.take(page, "review", page.locator("h1"))
    page.goto(f"{desk.address}/units/{full_number(plant, *MODELS[0])}")
    expect(page.get_by_role("main")).to_contain_text("Released by I2")
    pictures.take(page, "released", page.locator("h1"))
    assert pictures.seen == set(NAMES)
    qc("verify", filled_folder)
