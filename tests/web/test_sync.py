"""Phones push operations and pull units: what an honest phone gets, and what a strange body gets."""

import hashlib
import json

import orjson
import pytest

from qc.store.checking.verify import verify
from qc.store.intake.writer import StorageFull
from tests.web.plant_server import CAST, UNIT


@pytest.fixture
def planned(server):
    planner = server.phone("planner")
    assert [told["verdict"] for told in planner.push(planner.plan())] == ["applied"]
    return server


def inspected(phone, unit=UNIT):
    """Return the operations of a short look: begun, one zone looked at, one defect, ended."""
    begun = phone.operation("inspection_begun", unit, {"point": "D01", "purpose": "presentation", "light": "bright"})
    looked = phone.operation("zone_looked_at", unit, {"inspection": begun["id"], "zones": ["front.panel"]})
    defect = phone.operation(
        "defect_recorded",
        unit,
        {
            "point": "D01",
            "zone": "front.panel",
            "type": "PAN-03",
            "severity": "minor",
            "inspection": begun["id"],
            "note": "Kratzer 4 mm × links",
            "mark": [1200, 1800],
        },
    )
    ended = phone.operation("inspection_ended", unit, {"inspection": begun["id"]})
    return [begun, looked, defect, ended]


def test_what_one_phone_records_another_phone_pulls(planned):
    ivo, tess = planned.phone("inspector"), planned.phone("tester")

    verdicts = ivo.push(*inspected(ivo))
    pulled = tess.get("pull?after=0").json

    assert [told["verdict"] for told in verdicts] == ["applied"] * 4
    (unit,) = pulled["units"]
    assert unit["chassis"] == UNIT
    assert unit["defects"][0]["note"] == "Kratzer 4 mm × links"
    assert unit["defects"][0]["finder"] == "IV1"
    assert unit["release"] is None
    assert pulled["through"] == planned.house.reads.chain()[0]
    assert tess.get(f"pull?after={pulled['through']}").json["units"] == []


def test_a_push_sent_twice_counts_once_and_gets_the_same_verdicts(planned):
    ivo = planned.phone()
    operations = inspected(ivo)
    first = ivo.push(*operations)

    again = ivo.push(*operations)

    assert [told["verdict"] for told in again] == ["duplicate"] * 4
    assert [told["number"] for told in again] == [told["number"] for told in first]
    assert len(ivo.get("pull?after=0").json["units"][0]["defects"]) == 1


def test_the_bytes_are_kept_as_they_came(planned):
    ivo = planned.phone()
    operation = inspected(ivo)[0]
    raw = json.dumps(operation, indent=1, ensure_ascii=False)
    frame = json.dumps(ivo.frame([], runs=ivo.runs([operation], [raw.encode()])))
    body = frame.replace('"operations": []', f'"operations": [ {raw} ]').encode()

    assert ivo.post("push", body).json["verdicts"][0]["verdict"] == "applied"

    kept = planned.house.reads.connection().execute("SELECT bytes FROM journal ORDER BY number DESC").fetchone()[0]
    assert kept == raw.encode()


def test_a_gap_is_told_with_the_number_that_is_awaited(planned):
    ivo = planned.phone()
    first, second, third, _ = inspected(ivo)

    told = ivo.push(first, third)

    assert [(one["verdict"], one["expected"]) for one in told] == [("applied", None), ("gap", 2)]
    assert [one["verdict"] for one in ivo.push(second, third)] == ["applied", "applied"]


def test_work_of_two_people_on_one_phone_goes_up_under_either_sign_in(planned):
    ivo = planned.phone("inspector")
    operations = inspected(ivo)
    runs = ivo.runs(operations)
    tess = planned.phone("tester", device=ivo.signed["device"])

    assert [told["verdict"] for told in tess.send(operations, runs=runs).json["verdicts"]] == ["applied"] * 4


def test_work_under_a_name_that_never_signed_in_on_the_phone_is_set_aside(planned):
    ivo, mia = planned.phone("inspector"), planned.phone("quality_manager")
    stolen = inspected(ivo)[0]
    stolen["author"] = CAST["quality_manager"].code
    other_session = ivo.operation(
        "station_passed", UNIT, {"station": "S05"}, session=mia.signed["session"], author="MI1"
    )
    other_session["seq"] = 2

    told = ivo.push(stolen, other_session)

    assert [(one["verdict"], one["code"]) for one in told] == [("quarantined", "unverified_author")] * 2


def test_work_recorded_before_the_sign_in_ended_is_taken_after_it(planned):
    ivo = planned.phone("inspector")
    operations = inspected(ivo)
    planned.now += 11 * 3_600_000

    assert ivo.send(operations).status_code == 401
    again = planned.phone("inspector", device=ivo.signed["device"])

    assert [told["verdict"] for told in again.push(*operations)] == ["applied"] * 4


def test_a_revoked_phone_reads_nothing_and_its_work_is_set_aside(planned):
    ivo = planned.phone()
    operations = inspected(ivo)
    planned.house.devices.revoke(ivo.signed["device"])

    for path in ("pull", "plant", "photos/" + "0" * 64):
        answer = ivo.get(path)
        assert (answer.status_code, answer.json["error"]["code"]) == (403, "device_revoked")
    assert {(told["verdict"], told["code"]) for told in ivo.push(*operations)} == {("quarantined", "device_revoked")}


def test_one_bad_operation_does_not_hold_up_the_others(planned):
    ivo = planned.phone()
    begun, looked, defect, ended = inspected(ivo)
    defect["body"]["type"] = "XYZ-99"

    told = ivo.push(begun, looked, defect, ended)

    assert [(one["verdict"], one["code"]) for one in told] == [
        ("applied", ""),
        ("applied", ""),
        ("refused", "unknown_code"),
        ("applied", ""),
    ]


def escaped(phone, operations):
    """Return a push in which every character that is not ASCII is written as an escape."""
    raws = [json.dumps(one, separators=(",", ":")).encode() for one in operations]
    frame = phone.frame(operations, runs=phone.runs(operations, raws))
    return json.dumps(frame, separators=(",", ":")).encode()


@pytest.mark.parametrize("note", ["tear\x00", "two\r\nlines", "half \ud83d", "\x85"])
def test_text_that_no_program_reads_alike_refuses_its_operation_alone(planned, note):
    ivo = planned.phone()
    begun, looked, defect, ended = inspected(ivo)
    defect["body"]["note"] = note

    told = ivo.post("push", escaped(ivo, [begun, looked, defect, ended])).json["verdicts"]

    assert [one["verdict"] for one in told] == ["applied", "applied", "refused", "applied"]
    assert told[2]["code"] == "malformed"
    assert "body.note" in told[2]["reason"]


@pytest.mark.parametrize("wrong", [True, 2**53, -1, 1.5, "1", None])
def test_a_number_that_is_no_number_refuses_its_operation_alone(planned, wrong):
    ivo = planned.phone()
    operation = ivo.operation("station_passed", UNIT, {"station": "S05"}, mono_ms=wrong)

    (told,) = ivo.push(operation)

    assert (told["verdict"], told["code"]) == ("refused", "malformed")
    assert "mono_ms" in told["reason"]


@pytest.mark.parametrize("odd", [None, 1, "x", [], {}, {"id": "x"}, {"id": 1}, {"id": None}])
def test_what_is_no_operation_is_refused_and_the_rest_goes_on(planned, odd):
    ivo = planned.phone()
    told = ivo.push(odd, ivo.operation("station_passed", UNIT, {"station": "S05"}))

    assert [one["verdict"] for one in told] == ["refused", "applied"]


REFUSED_FRAMES = {
    "protocol": (1, 400, "protocol_unknown"),
    "device": ("P99", 403, "wrong_device"),
    "install_epoch": ("", 400, "malformed"),
    "sent_ms": (True, 400, "malformed"),
    "chain": ({"size": 1}, 400, "malformed"),
    "server_epoch": (5, 400, "malformed"),
    "surprise": (1, 400, "malformed"),
    "operations": ({}, 400, "not_json"),
    "runs": ([{"operations": 1, "certificate": None, "signature": None}], 400, "malformed"),
}


@pytest.mark.parametrize(("field", "case"), REFUSED_FRAMES.items())
def test_a_wrong_frame_is_refused_whole_and_named(planned, field, case):
    value, status, code = case
    ivo = planned.phone()
    frame = {**ivo.frame([]), field: value}

    answer = ivo.post("push", orjson.dumps(frame))

    assert (answer.status_code, answer.json["error"]["code"]) == (status, code)


def test_a_push_of_more_than_a_hundred_is_413(planned):
    ivo = planned.phone()
    operations = [ivo.operation("station_passed", UNIT, {"station": "S05"}) for _ in range(101)]

    before = planned.house.reads.chain()
    answer = ivo.send(operations)

    assert (answer.status_code, answer.json["error"]["field"]) == (413, "operations")
    assert planned.house.reads.chain() == before


def test_a_push_of_more_than_256_000_bytes_is_413_and_stores_nothing(planned):
    ivo = planned.phone()
    note = "x" * 900
    operations = [ivo.operation("station_passed", UNIT, {"station": "S05", "note": note * 4}) for _ in range(90)]

    before = planned.house.reads.chain()
    answer = ivo.send(operations)

    assert answer.status_code == 413
    assert planned.house.reads.chain() == before


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b" ", "not_json"),
        (b"[]", "not_json"),
        (b"{}", "malformed"),
        (b'{"operations":[]}', "malformed"),
        (b'{"operations":[{"id":1,"id":2}]}', "unclear_json"),
        (b'{"operations":[{"id":NaN}]}', "unclear_json"),
        (b'{"operations":[1e400]}', "unclear_json"),
        (b'{"operations":' + b"[" * 5000, "too_deep"),
        (b'{"operations":["\xff"]}', "not_utf8"),
    ],
)
def test_a_strange_body_is_refused_whole(planned, body, code):
    answer = planned.phone().post("push", body)

    assert (answer.status_code, answer.json["error"]["code"]) == (400, code)


def test_a_packed_or_untyped_body_is_415(planned):
    ivo = planned.phone()
    packed = ivo.client.post(
        "/api/v1/push",
        data=b"{}",
        headers={**ivo.headers, "Content-Encoding": "gzip"},
        content_type="application/json",
    )

    assert packed.status_code == 415
    assert ivo.post("push", b"{}", "text/plain").status_code == 415
    assert ivo.post("push", b"{}", "application/x-www-form-urlencoded").status_code == 415


@pytest.mark.parametrize(
    "query", ["after=-1", "after=x", "after=1&after=2", "limit=0", "limit=501", "who=1", "after=1e3", "after=٣"]
)
def test_a_strange_pull_is_refused(server, query):
    answer = server.phone().get(f"pull?{query}")

    assert (answer.status_code, answer.json["error"]["code"]) == (400, "malformed")


def test_a_long_pull_goes_on_where_it_left_off(server):
    planner = server.phone("planner")
    units = [f"0PC7T3600TW0{number:05d}" for number in range(30001, 30008)]
    planner.push(*(planner.plan(unit) for unit in units))

    seen, after, more = [], 0, True
    while more:
        answer = planner.get(f"pull?after={after}&limit=3").json
        seen += [unit["chassis"] for unit in answer["units"]]
        after, more = answer["through"], answer["more"]

    assert sorted(set(seen)) == units


def test_the_plant_is_sent_once_for_what_a_phone_gets_of_it(server):
    ivo = server.phone()
    plant = ivo.get("plant")

    again = ivo.get("plant", **{"If-None-Match": plant.headers["ETag"]})

    # Not the revision of the tables: a newer program may tell more of the same tables, and phones must get that.
    assert plant.headers["ETag"] == f'"{hashlib.sha256(plant.data).hexdigest()[:32]}"'
    assert (again.status_code, again.data) == (304, b"")


def test_a_long_answer_is_packed_for_who_unpacks_it(server):
    ivo = server.phone()
    plain, packed = ivo.get("plant"), ivo.get("plant", **{"Accept-Encoding": "gzip"})

    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert len(packed.data) < len(plain.data) / 3


def test_a_ping_echoes_the_nonce_with_clock_and_epoch(server):
    ivo = server.phone()

    answer = ivo.post("ping", b'{"nonce":"k3v-9"}').json

    assert answer == {
        "nonce": "k3v-9",
        "server_now": server.now,
        "server_epoch": server.house.server_epoch,
        "protocol": [2],
    }


@pytest.mark.parametrize("odd", ["\ud800", "x\x00", "", 7, None])
def test_what_is_no_id_is_refused_and_not_echoed(planned, odd):
    ivo = planned.phone()
    operation = ivo.operation("station_passed", UNIT, {"station": "S05"}, id=odd)

    (told,) = ivo.post("push", escaped(ivo, [operation])).json["verdicts"]

    assert (told["verdict"], told["code"], told["id"]) == ("refused", "malformed", "")


def test_half_a_character_in_the_record_keeps_nobody_from_reading_it(planned):
    ivo = planned.phone()
    begun, _, defect, ended = inspected(ivo)
    defect["body"]["note"], defect["seq"], ended["seq"] = "half \ud83d", 2, 3
    ivo.post("push", escaped(ivo, [begun, defect, ended]))

    answer = ivo.get("pull?after=0")

    assert answer.status_code == 200
    assert answer.json["units"][0]["defects"] == []
    planned.house.close()
    assert verify(planned.house.folder).exit_code == 0


def test_a_history_that_a_phone_saw_and_the_record_no_longer_holds_is_told(planned, caplog):
    ivo = planned.phone()
    chain = ivo.send([]).json["chain"]
    epoch = planned.house.server_epoch
    nothing = {"size": 0, "head": "0" * 64}

    for seen in (chain, nothing):
        assert ivo.send([], chain=seen, server_epoch=epoch).json["history_differs"] is False
    told = ivo.send([], chain={**chain, "head": "a" * 64}, server_epoch="before-a-restore")
    assert told.json["history_differs"] is False
    assert "history_differs" not in caplog.text
    assert ALARM not in planned.page("quality_manager").get("/units").text

    for seen in ({**chain, "head": "a" * 64}, {**chain, "size": chain["size"] + 1}):
        caplog.clear()
        answer = ivo.send([ivo.operation("station_passed", UNIT, {"station": "S05"})], chain=seen, server_epoch=epoch)
        assert answer.json["verdicts"][0]["verdict"] == "applied"
        assert answer.json["history_differs"] is True
        assert "history_differs: device P2" in caplog.text


ALARM = "The record is not the one that phones saw"


def test_another_history_is_an_alarm_for_those_who_answer_for_the_record(planned):
    ivo = planned.phone()
    chain = ivo.send([]).json["chain"]
    ivo.send([], chain={**chain, "head": "a" * 64}, server_epoch=planned.house.server_epoch)

    for role in ("quality_manager", "administrator"):
        text = planned.page(role).get("/units").text
        assert ALARM in text
        assert f"hone P2 was told of row {chain['size']} with another hash" in text
        assert "IV1 signed in" in text
    for role in ("inspector", "station_lead", "dispatch"):
        assert ALARM not in planned.page(role).get("/units").text
    assert any(f"was told of row {chain['size']}" in note for note in verify(planned.house.folder).notes)


def test_a_restored_record_begins_without_the_alarms_of_the_one_before(planned):
    from qc.store.intake.door import new_server_epoch
    from qc.store.record.history import history_alarms

    ivo = planned.phone()
    ivo.send([], chain={"size": 9, "head": "a" * 64}, server_epoch=planned.house.server_epoch)
    assert len(history_alarms(planned.house.reads.connection())) == 1
    planned.house.journal.write(new_server_epoch)

    assert history_alarms(planned.house.reads.connection()) == []


def test_a_ping_tells_how_much_of_an_installation_is_here(planned):
    ivo = planned.phone()
    ivo.push(*inspected(ivo))

    def asked(**more):
        return ivo.post("ping", orjson.dumps({"nonce": "n", **more})).json

    mine = {"device": ivo.signed["device"], "install_epoch": "first"}
    assert asked(**mine)["arrived"] == 4
    assert asked(**mine | {"install_epoch": "another"})["arrived"] == 0
    assert "arrived" not in asked()
    assert asked(device=7, install_epoch="e")["error"]["field"] == "device"


def test_a_phone_says_of_itself_what_waits_on_it_and_people_read_it(planned):
    ivo = planned.phone()
    say = "app=0123456789abcdef&waiting=3&behind=-120000"
    assert ivo.get(f"pull?after=0&{say}").status_code == 200
    administrator = planned.page("administrator")

    told = administrator.get("/people").text
    assert "By the phone's own word" in told
    assert "3 records waiting on it; clock 2 min fast; app 01234567, not the version that the server gives now" in told
    assert ivo.get("pull?after=0&app=" + planned.app.jinja_env.globals["app_version"]).status_code == 200
    told = administrator.get("/people").text
    assert "no records waiting on it; clock within a minute" in told
    assert "not the version" not in told


@pytest.mark.parametrize("said", ["app=", "app=a%20b", "app=" + "x" * 65, "waiting=-1", "waiting=1e3", "behind=1.5",
                                  "behind=" + "9" * 16, "behind=--1", "app=a&app=b", "behind="])  # fmt: skip
def test_a_phones_word_that_is_none_is_told(planned, said):
    assert planned.phone().get(f"pull?{said}").status_code == 400


def test_units_are_pulled_where_a_phones_word_cannot_be_kept(planned, monkeypatch):
    def full(work):
        raise StorageFull("the disk is full")

    phone = planned.phone()
    monkeypatch.setattr(planned.house.journal, "write", full)

    assert phone.get("pull?after=0&app=x&waiting=1&behind=0").status_code == 200
