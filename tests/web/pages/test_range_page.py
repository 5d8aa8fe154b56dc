"""An act on a range of shop numbers: shown first, done whole or not at all, again without harm, and undone by range."""

import pytest

from qc.store.checking.verify import verify
from tests.web.pages.reading import read
from tests.web.pages.test_plan_page import look as look_at_plan
from tests.web.pages.test_plan_page import take as take_plan
from tests.web.plant_server import PlantServer

NUMBERS = range(30_001, 30_007)
SHOP = "PC71{}"
FIRST, LAST = SHOP.format(30_002), SHOP.format(30_004)


@pytest.fixture
def page(server: PlantServer):
    page = server.page("planner")
    rows = "".join(f"0PC7T3600TW0{number},2026-03-02\n" for number in NUMBERS)
    assert "6 planned" in take_plan(page, look_at_plan(page, f"chassis,planned day\n{rows}")).text
    return page


def asked(first=FIRST, last=LAST, act="cancel", reason="order withdrawn", day=""):
    return {"first": first, "last": last, "act": act, "reason": reason, "day": day}


def look(page, **form):
    return page.post("/plan/range", csrf_token=page.form_token("/plan/range"), **form)


def take(page, looked, **more):
    shown = read(looked).one("form", class_="act")
    form = {field.attrs["name"]: field.attrs["value"] for field in shown.all("input") if "value" in field.attrs}
    form.pop("csrf_token")
    form.pop("leave_wrong", None)
    return page.post("/plan/range/take", csrf_token=page.form_token("/plan/range"), **{**form, **more})


def of_state(server, state):
    return {line.shop_number for line in server.house.reads.unit_list(state, 100)}


def test_it_is_shown_first_then_done_and_undone_by_the_same_range(server, page):
    shown = look(page, **asked())
    assert "3 units: 3 to change." in shown.text
    assert of_state(server, "cancelled") == set()
    assert "3 units cancelled." in take(page, shown).text
    assert of_state(server, "cancelled") == {FIRST, SHOP.format(30_003), LAST}
    assert "order withdrawn" in page.get("/units/0PC7T3600TW030003").text

    back = take(page, look(page, **asked(act="take_up", reason="ordered anew")))
    assert "3 units taken up again." in back.text
    assert of_state(server, "cancelled") == set()
    assert verify(server.house.folder).is_whole


def test_a_range_is_planned_for_another_day(server, page):
    shown = look(page, **asked(act="day", reason="", day="2026-03-09"))
    assert f"{FIRST} planned day 2026-03-02 → 2026-03-09" in shown.text
    take(page, shown)

    days = {line.shop_number: line.planned_day for line in server.house.reads.unit_list("planned", 100)}
    assert [days[SHOP.format(number)] for number in NUMBERS] == [
        "2026-03-02", "2026-03-09", "2026-03-09", "2026-03-09", "2026-03-02", "2026-03-02"
    ]  # fmt: skip


def test_a_second_tap_and_a_record_that_changed_meanwhile_do_nothing_unseen(server, page):
    shown = look(page, **asked())
    wider = look(page, **asked(last=SHOP.format(30_005)))
    take(page, shown)

    assert "Nothing is left to do" in take(page, shown).text
    late = take(page, wider)
    assert (late.status_code, "The record changed since this was shown" in late.text) == (409, True)
    assert "4 units: 1 to change and 3 so already." in late.text
    assert SHOP.format(30_005) not in of_state(server, "cancelled")


def test_what_cannot_be_changed_keeps_all_unless_it_is_left_out(server, page):
    take(page, look(page, **asked(FIRST, FIRST)))
    shown = look(page, **asked(act="day", reason="", day="2026-03-09"))
    kept = take(page, shown)
    days = {line.planned_day for line in server.house.reads.unit_list("planned", 100)}

    assert (kept.status_code, "Some units cannot be changed so" in kept.text) == (409, True)
    assert days == {"2026-03-02"}
    assert "2 units planned anew." in take(page, shown, leave_wrong="yes").text


@pytest.mark.parametrize(
    ("form", "words"),
    [
        (asked(first="", last=""), "No shop number was given"),
        (asked(first=LAST, last=FIRST), "the smaller first"),
        (asked(first="PC7", last=LAST), "of one length"),
        (asked(first="PC7199001", last="PC7199009"), "is planned; read the numbers off"),
        (asked(reason=""), "The reason"),
        (asked(reason="x" * 501), "The reason"),
        (asked(act="release"), "nothing that is done to a range"),
        (asked(act="day", day=""), "The day"),
        (asked(act="day", day="9999-12-31"), "The day"),
        (asked(act="day", day="-5"), "The day"),
        (asked(act="day", day="2026-02-30"), "The day"),
    ],
)
def test_nonsense_is_told_and_nothing_is_changed(server, page, form, words):
    for address in ("/plan/range", "/plan/range/take"):
        answer = page.post(address, csrf_token=page.form_token("/plan/range"), **form)
        assert (answer.status_code, words in read(answer).one("p", class_="notice").text) == (400, True), answer.text
    assert of_state(server, "cancelled") == set()


def test_one_number_alone_is_a_range_of_one(server, page):
    take(page, look(page, **asked(last="")))

    assert of_state(server, "cancelled") == {FIRST}


def test_what_was_released_is_not_cancelled(lived):
    page, unit = lived.server.page("planner"), lived.ids["released"]
    shop = next(one.shop_number for one in lived.server.house.reads.find_units(unit, 1))
    shown = look(page, **asked(shop, shop))

    assert "what was released is not cancelled" in shown.text
    assert "There is nothing to do." in shown.text
