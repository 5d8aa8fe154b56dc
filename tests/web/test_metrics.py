"""The server's figures, read back by the format's own parsers (prometheus-client), without a name or a code."""

import json
import time

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families as open_metrics
from prometheus_client.parser import text_string_to_metric_families as plain_text

from qc.store.keeping.backup import NOTED
from qc.web.app import create_app
from qc.web.metrics import metrics_of
from tests.web.plant_server import CAST, UNIT, picture, site

OPEN = "application/openmetrics-text; version=1.0.0"


def figures(client, **asked):
    """Return each sample by its name and labels."""
    answer = client.get("/metrics", **asked)
    assert answer.status_code == 200
    parsed = open_metrics if "openmetrics" in answer.content_type else plain_text
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in parsed(answer.text)
        for sample in family.samples
    }


@pytest.mark.parametrize("headers", [{}, {"Accept": OPEN}])
def test_pushes_verdicts_answers_and_seconds_are_counted(server, headers):
    planner = server.phone("planner")
    planned = planner.plan()
    planner.push(planned)
    planner.push(planned)
    refused = planner.operation("unit_planned", UNIT, {**planned["body"], "model": "ZZZ"})
    planner.push(refused)
    server.client().get("/nowhere")

    found = figures(server.client(), headers=headers)

    assert found["qc_verdicts_total", "applied"] == 1
    assert found["qc_verdicts_total", "duplicate"] == 1
    assert found["qc_verdicts_total", "refused"] == 1
    assert found["qc_answers_total", "page", "404"] == 1
    pushed = found["qc_answers_total", "push", "200"]
    assert found["qc_request_seconds_count", "push"] >= pushed >= 3
    assert found["qc_request_seconds_bucket", "push", "+Inf"] == found["qc_request_seconds_count", "push"]
    assert 0 < found["qc_request_seconds_sum", "push"] < 60
    assert found["qc_record_rows",] == server.house.reads.chain()[0]


def test_what_waits_on_phones_and_at_the_threads_is_told(server, monkeypatch):
    phone = server.phone("inspector")
    phone.upload(picture(), 0, 1000)
    metrics_of(server.app).queued = lambda: {"push": 3, "page": 1}
    monkeypatch.setattr(server.house.journal, "away_seconds", lambda: 12.5)
    conn = "INSERT INTO device_word (device, at_ms, app, waiting, behind_ms) VALUES (?, 1, 'a', 7, 0)"
    server.house.journal.write(lambda c: c.execute(conn, (phone.signed["device"],)))

    found = figures(server.client())

    assert found["qc_requests_in_hand", "push"] == 3
    assert found["qc_record_away_seconds",] == 12.5
    assert found["qc_phones",] == 1
    assert found["qc_phones_with_work",] == 1
    assert found["qc_phones_waiting_records",] == 7
    assert (found["qc_photos_unfinished",], found["qc_photos_unfinished_bytes",]) == (1, 1000)


def test_the_age_of_the_newest_verified_backup_is_told_and_absent_where_there_is_none(server):
    assert ("qc_verified_backup_age_seconds",) not in figures(server.client())

    at_ms = time.time_ns() // 1_000_000 - 3_600_000
    noted = {"at_ms": at_ms, "target": "/srv/copies/a", "operations": 1, "head": "", "failed": "no space"}
    (server.house.folder / NOTED).write_text(json.dumps(noted))
    assert 3_600 <= figures(server.client())["qc_verified_backup_age_seconds",] < 3_700


def test_no_name_no_code_and_no_chassis_number_stands_in_it(server):
    for role in CAST:
        server.page(role).get("/units")
    planner = server.phone("planner")
    planner.push(planner.plan())
    server.client().get(f"/units/{UNIT}")

    text = server.client().get("/metrics").text

    for person in CAST.values():
        assert person.name not in text
        assert person.code not in text
    assert UNIT not in text
    assert planner.signed["device"] not in text


@pytest.mark.parametrize("address", ["192.0.2.7", "10.0.0.1", "::ffff:192.0.2.7", ""])
def test_another_machine_is_answered_as_for_a_page_that_is_not_there(server, address):
    answer = server.client().get("/metrics", environ_base={"REMOTE_ADDR": address})
    nowhere = server.client().get("/nowhere", environ_base={"REMOTE_ADDR": address})

    assert answer.status_code == 404
    assert "qc_" not in answer.text
    assert answer.content_type == nowhere.content_type


def test_one_that_was_named_may_ask_and_a_forwarded_address_opens_nothing(server):
    app = create_app(server.house, site=site(), collectors=("192.0.2.7",))

    assert app.test_client().get("/metrics", environ_base={"REMOTE_ADDR": "192.0.2.7"}).status_code == 200
    told = {"X-Forwarded-For": "127.0.0.1", "Forwarded": "for=127.0.0.1"}
    assert app.test_client().get("/metrics", environ_base={"REMOTE_ADDR": "192.0.2.8"}, headers=told).status_code == 404
