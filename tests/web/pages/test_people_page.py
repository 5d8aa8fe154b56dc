"""The administrator's page: people added, changed and ended, phones enrolled and taken out of use, and who did what."""

import csv
import io
import re

import pytest

from qc.domain.plant_json import phone_plant
from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.checking.verify import verify
from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read
from tests.web.plant_server import CAST, PHRASE, PlantServer, cheap_hashes, invented_plant
from tests.web.test_enrolment import code_of, enrol, sign_in


@pytest.fixture
def ada(server):
    return server.page("administrator")


def add(page, person="I9", name="Ina", role="inspector", **more):
    return send(page, "/people/add", person=person, name=name, role=role, **more)


def secret_on(slip):
    return re.search(r"<dt>(?:PIN|Passphrase)</dt><dd><code>([^<]+)</code>", slip.text).group(1)


def test_a_person_is_added_with_a_slip_and_signs_in_with_it(server, ada):
    slip = add(ada, person="i9")

    assert (slip.status_code, slip.headers["Cache-Control"]) == (200, "no-store")
    secret = secret_on(slip)
    assert server.page(None).sign_in("I9", secret).status_code == 303
    assert server.page(None).sign_in("i9", secret).status_code == 303  # typed in small letters
    page = ada.get("/people").text
    assert "I9 Ina" in page
    assert secret not in page
    assert "I9 added as inspector</strong> by AD1" in page


@pytest.mark.parametrize(
    ("form", "words", "status"),
    [
        ({"person": "IV1"}, "IV1 is taken", 409),
        ({"person": "iv1"}, "IV1 is taken", 409),
        ({"person": "a b"}, "A code begins with a letter or a figure and has 1 to 32", 400),
        ({"person": "-5"}, "A code begins with a letter or a figure and has 1 to 32", 400),
        ({"person": "CONSOLE"}, "is taken", 409),
        ({"person": ""}, "A code begins with a letter or a figure and has 1 to 32", 400),
        ({"person": "x" * 33}, "A code begins with a letter or a figure and has 1 to 32", 400),
        ({"name": ""}, "The name must have 1 to 80 characters", 400),
        ({"name": "x" * 81}, "The name must have 1 to 80 characters", 400),
        ({"role": "king"}, "The role must be one of", 400),
        ({"role": "station_lead"}, "name one or more", 409),
        ({"role": "station_lead", "stations": "S99"}, "no station S99", 409),
    ],
)
def test_who_cannot_be_added_is_told_and_nothing_is_changed(server, ada, form, words, status):
    before = server.house.people.all()
    answer = add(ada, **form)

    assert answer.status_code == status
    assert words in read(answer).one("p", class_="notice").text
    assert server.house.people.all() == before


def test_stations_of_who_is_no_lead_are_refused_and_not_dropped(server, ada):
    """They were once left out without a word: the person stood there as an inspector, and S05 had no lead."""
    before = server.house.people.all()
    told = [
        add(ada, stations=["S05", "S06"]),
        send(ada, "/people/role", person="IV1", role="inspector", also="tester", stations="S05"),
    ]

    assert [answer.status_code for answer in told] == [400, 400]
    words = [read(answer).one("p", class_="notice").text for answer in told]
    assert "S05 Wiring first fix, S06 Gas and heating fit: stations were chosen without the role" in words[0]
    assert "S05 Wiring first fix: stations were chosen without the role station lead" in words[1]
    assert server.house.people.all() == before


def test_a_fault_of_one_of_several_reads_in_german(ada):
    assert send(ada, "/own-language", language="de").status_code == 303
    words = read(add(ada, also=["king"])).one("p", class_="notice").text

    assert "Die weiteren Rollen: jeder Eintrag muss eines sein von inspector, tester" in words


def test_the_stations_that_a_lead_has_go_with_the_role(server, ada):
    assert send(ada, "/people/role", person="L-S05", role="repairer", stations="S05").status_code == 303
    assert server.house.people.get("L-S05").stations == ()


def picked(form, name):
    return [one.attrs["value"] for one in form.one("select", name=name).all("option") if "selected" in one.attrs]


def ticked(form, name):
    return [one.attrs["value"] for one in form.all("input", name=name) if "checked" in one.attrs]


def test_who_is_not_added_stands_in_the_form_again(ada):
    form = {"person": "a b", "name": "Xaver <Ost>", "role": "station_lead", "also": ["repairer"]}
    page = read(send(ada, "/people/add", **form, stations=["S05", "S06"]))
    again = page.one("form", action="/people/add")
    typed = [again.one("input", name=name).attrs["value"] for name in ("person", "name")]

    assert typed == ["a b", "Xaver <Ost>"]
    assert (picked(again, "role"), ticked(again, "also")) == (["station_lead"], ["repairer"])
    assert picked(again, "stations") == ["S05", "S06"]
    assert [fold.all("summary")[0].text for fold in page.all("details") if "open" in fold.attrs] == ["Add a person"]


def test_what_is_not_changed_stands_open_with_what_was_chosen(ada):
    """A refusal once opened the form for adding somebody, whatever form it came from."""
    page = read(send(ada, "/people/role", person="IV1", role="tester", also="planner", stations="S06"))
    (fold,) = [one for one in page.all("details") if "open" in one.attrs]
    form = fold.one("form", action="/people/role")

    assert fold.all("summary")[0].text == "Change IV1"
    assert (picked(form, "role"), ticked(form, "also"), picked(form, "stations")) == (["tester"], ["planner"], ["S06"])


def test_a_machine_that_gets_no_token_stands_in_the_form_again(ada):
    page = read(send(ada, "/people/token", machine="n ight", may=["plan", "read"], in_name_of="MI1"))
    form = page.one("form", action="/people/token")

    assert form.one("input", name="machine").attrs["value"] == "n ight"
    assert (ticked(form, "may"), picked(form, "in_name_of")) == (["plan", "read"], ["MI1"])


def test_a_role_a_new_pin_an_end_and_its_undoing(server, ada):
    assert send(ada, "/people/role", person="IV1", role="station_lead", stations="S05").status_code == 303
    assert server.house.people.get("IV1").stations == ("S05",)
    promoted = secret_on(send(ada, "/people/role", person="IV1", role="quality_manager"))
    assert server.page(None).sign_in("IV1", promoted).status_code == 303
    assert len(promoted) >= 15
    assert server.page(None).sign_in("TE1", secret_on(send(ada, "/people/secret", person="TE1"))).status_code == 303

    assert send(ada, "/people/end", person="IV1", reason="left the plant").status_code == 303
    assert server.page(None).sign_in("IV1", promoted).status_code == 401
    assert "has left" in ada.get("/people").text
    assert send(ada, "/people/return", person="IV1").status_code == 303
    assert server.page(None).sign_in("IV1", promoted).status_code == 303
    assert send(ada, "/people/end", person="AD1").status_code == 409
    assert send(ada, "/people/end", person="NOBODY").status_code == 409
    assert verify(server.house.folder).is_whole


def test_further_roles_are_ticked_told_shown_and_let_in(server, ada):
    """Ticked as further roles, the first one among them is no mistake: it is theirs once."""
    assert send(ada, "/people/role", person="IV1", role="inspector", also=["tester", "inspector"]).status_code == 303

    page = read(ada.get("/people"))
    assert server.house.people.get("IV1").also == ("tester",)
    assert "IV1 made inspector, tester" in page.text
    ticked = [one.attrs["value"] for one in page.all("input", name="also") if "checked" in one.attrs]
    assert ticked == ["tester"]
    slip = add(ada, person="X1", name="Xaver", role="repairer", also=["station_lead", "planner"], stations="S05")
    assert slip.status_code == 200
    xaver = server.page(None)
    assert xaver.sign_in("X1", secret_on(slip)).headers["Location"] == "/"
    assert xaver.get("/").headers["Location"] == "/app/"
    head = read(xaver.get("/units")).one("p", class_="who").text
    assert "repairer, station lead, planner" in head
    assert [xaver.get(one).status_code for one in ("/plan", "/stations/S05", "/stations/S06")] == [200, 200, 403]
    refused = xaver.get("/review")
    assert "You are repairer, station lead, planner." in refused.text


@pytest.mark.parametrize(
    ("form", "words", "status"),
    [
        ({"role": "inspector", "also": "king"}, "The further roles", 400),
        ({"role": "inspector", "also": "station_lead"}, "name one or more", 409),
        ({"role": "inspector", "also": ["x" * 50, "tester"]}, "The further roles", 400),
    ],
)
def test_further_roles_that_cannot_be_are_told_and_nothing_is_changed(server, ada, form, words, status):
    before = server.house.people.all()
    answer = send(ada, "/people/role", person="IV1", **form)

    assert (answer.status_code, server.house.people.all()) == (status, before)
    assert words in read(answer).one("p", class_="notice").text


def test_of_two_administrators_who_change_one_person_the_second_is_shown_what_is(server, ada):
    seen = server.house.people.secret_set("IV1").number
    changed = {"person": "IV1", "role": "inspector", "looked_at": str(seen)}
    assert send(ada, "/people/role", **changed, also="tester").status_code == 303
    second = send(ada, "/people/role", **changed, also="repairer")
    (fold,) = [one for one in read(second).all("details") if "open" in one.attrs]
    assert ticked(fold.one("form", action="/people/role"), "also") == ["tester"]

    assert second.status_code == 409
    assert "IV1 was changed while you looked" in second.text
    assert server.house.people.get("IV1").also == ("tester",)
    for nonsense in ("", "x", "9" * 40, "-1"):
        sent = send(ada, "/people/role", **{**changed, "looked_at": nonsense}, also="tester")
        assert sent.status_code in (303, 409), nonsense


def test_who_is_given_a_managers_role_beside_gets_a_passphrase_and_all_that_it_opens(server, ada):
    slip = send(ada, "/people/role", person="IV1", role="inspector", also=["quality_manager", "administrator"])

    assert len(secret_on(slip)) >= 15
    ivo = server.page(None)
    assert ivo.sign_in("IV1", secret_on(slip)).status_code == 303
    assert [ivo.get(one).status_code for one in ("/review", "/people", "/inspectors", "/inspectors/me")] == [200] * 4
    hrefs = [one.attrs["href"] for one in read(ivo.get("/units")).all("nav")[0].all("a")]
    assert len(hrefs) == len(set(hrefs))
    assert {"/inspectors", "/inspectors/me", "/plant-tables", "/review"} <= set(hrefs)
    own = server.house.people.get("IV1")
    refused = send(ivo, "/people/role", person="IV1", role="inspector", also="planner")
    assert refused.status_code == 409
    assert "nobody changes their own role" in refused.text.lower()
    assert server.house.people.get("IV1") == own


def test_the_manager_and_the_person_see_who_set_the_secret(server, ada):
    secret = secret_on(send(ada, "/people/secret", person="IV1"))
    mia = server.page("quality_manager")

    assert "IV1 given a new PIN or passphrase</strong> by AD1" in mia.get("/people").text
    assert "PIN set by AD1" in mia.get("/people").text
    assert "/people/add" not in mia.get("/people").text
    ivo = server.page(None)
    ivo.sign_in("IV1", secret)
    assert "was set by AD1" in ivo.get("/units").text
    assert "was set by" not in mia.get("/units").text  # hers was set on the console
    server.now += 31 * 24 * 3_600_000
    again = server.page(None)
    again.sign_in("IV1", secret)
    assert "was set by AD1" not in again.get("/units").text


def test_a_phone_is_enrolled_by_what_the_page_shows_and_taken_out_of_use(server, ada):
    shown = send(ada, "/people/enrol", device="")
    letters = read(shown).one("p", class_="letters").text.strip()
    assert shown.headers["Cache-Control"] == "no-store"
    assert 'src="data:image/svg+xml' in shown.text

    given = enrol(server, letters).json
    assert sign_in(server, given["device"], given["device_secret"]).status_code == 200
    assert "P1 enrolled</strong> by AD1" in ada.get("/people").text
    assert send(ada, "/people/revoke", device="P1", reason="lost").status_code == 303
    assert code_of(sign_in(server, "P1", given["device_secret"])) == (403, "device_revoked")
    assert send(ada, "/people/enrol", device="P1").status_code == 409
    assert send(ada, "/people/enrol", device="P7").status_code == 409
    assert send(ada, "/people/revoke", device="P1").status_code == 409
    assert send(ada, "/people/restore", device="P1").status_code == 303
    assert sign_in(server, "P1", given["device_secret"]).status_code == 200
    assert "P1 taken out of use: “lost”" in ada.get("/people").text


def test_a_name_is_shown_as_text(server, ada):
    add(ada, name="<img src=x onerror=alert(1)>")

    assert "<img src=x" not in ada.get("/people").text


@pytest.mark.parametrize("role", [role for role in CAST if role not in ("administrator", "quality_manager")])
def test_nobody_else_sees_it(server, role):
    assert server.page(role).get("/people").status_code == 403


def test_no_proof_of_a_secret_stands_on_the_page(server, ada):
    send(ada, "/people/secret", person="IV1")
    page = ada.get("/people").text
    digests = [row[0] for row in server.house.reads.connection().execute("SELECT secret FROM person")]

    assert not any(digest in page for digest in digests)
    assert PHRASE not in page


def test_a_machines_token_is_made_shown_once_and_ended_with_a_reason(server, ada):
    slip = send(ada, "/people/token", machine="night", may="plan", in_name_of="PL1")
    token = re.search(r"<dt>Token</dt><dd><code>([^<]+)</code>", slip.text).group(1)

    assert (slip.status_code, slip.headers["Cache-Control"]) == (200, "no-store")
    assert server.house.machines.at_work(token, "plan", "").in_name_of.code == "PL1"
    page = ada.get("/people").text
    assert token not in page
    assert "Hands in build plans in the name of PL1" in page
    assert "night given a token: may plan in the name of PL1</strong> by AD1" in page
    assert send(ada, "/people/token-end", machine="night", reason="replaced").status_code == 303
    assert "night ended: its token opens nothing any more: “replaced”" in ada.get("/people").text
    assert "End: opens nothing any more" not in server.page("quality_manager").get("/people").text
    assert verify(server.house.folder).is_whole


@pytest.mark.parametrize(
    ("form", "words", "status"),
    [
        ({"machine": "a b", "may": "read"}, "A machine's name begins with a letter or a figure and has 1 to 32", 400),
        ({"machine": "-night", "may": "read"}, "A machine's name begins with a letter", 400),
        ({"machine": "night"}, "must be", 400),
        ({"machine": "night", "may": "write"}, "must be", 400),
        ({"machine": "night", "may": "plan", "in_name_of": "IV1"}, "IV1 is inspector", 409),
        ({"machine": "night", "may": "plan", "in_name_of": ""}, "name a planner", 409),
    ],
)
def test_a_token_that_cannot_be_made_is_told_and_nothing_is_made(server, ada, form, words, status):
    answer = send(ada, "/people/token", **form)

    assert answer.status_code == status
    assert words in read(answer).one("p", class_="notice").text
    assert server.house.machines.all() == []


def test_a_machine_whose_planner_left_is_told(server, ada):
    server.house.machines.make("night", ("plan",), "PL1")
    send(ada, "/people/end", person="PL1", reason="left")

    assert "It hands in nothing: PL1 has left" in ada.get("/people").text


def test_a_station_past_its_last_day_is_offered_to_nobody_but_the_lead_who_has_it(tmp_path):
    tables, _ = invented_plant()
    rows = list(csv.reader(io.StringIO(tables["stations.csv"])))
    for row in rows:
        row[rows[0].index("end_day")] = "2020-01-01" if row[0] in ("S05", "S06") else row[rows[0].index("end_day")]
    told = io.StringIO()
    csv.writer(told, lineterminator="\n").writerows(rows)
    ended = {**tables, "stations.csv": told.getvalue()}
    with cheap_hashes():
        server = PlantServer(tmp_path / "plant", (ended, plant_from_tables(ended)))
    page = read(server.page("administrator").get("/people"))
    offered = [[one.attrs["value"] for one in each.all("option")] for each in page.all("select", name="stations")]
    server.house.close()

    assert sum("S05" in codes for codes in offered) == 1  # Leo's own
    assert not any("S06" in codes for codes in offered)
    assert all("S07" in codes for codes in offered)
    assert {one["id"]: one["end_day"] for one in phone_plant(server.house.plant)["stations"]}["S06"] == "2020-01-01"
