"""What is done on a page goes through the journal like a phone's operation."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from qc.domain.facts.operations import uuid7 as uuid7_fault
from qc.store.intake.writer import StorageFailed
from qc.web import desk
from tests.web.plant_server import CAST, UNIT

PLANNED = {"model": "T36", "shop_number": "PC7130001", "sequence": 30001, "planned_day": "2026-02-02"}
NOTE = {"station": "S05", "change": "tool", "what": "new jig for the door frame", "from_day": "2026-02-02"}


def kept(server) -> list[tuple]:
    query = (
        "SELECT device, install_epoch, seq, author, kind, admission FROM journal WHERE author <> :house ORDER BY number"
    )
    return [tuple(row) for row in server.house.reads.connection().execute(query, {"house": "SERVER"})]


def test_an_act_on_a_page_is_on_disk_and_in_effect(server):
    verdict = desk.author(server.house, CAST["planner"], "unit_planned", UNIT, PLANNED)

    assert (verdict.verdict, verdict.number) == ("applied", len(CAST) + 1)
    assert [(row[0], row[2], row[3], row[5]) for row in kept(server)] == [("DESK", 1, "PL1", "")]


def test_the_rules_hold_on_a_page_too(server):
    verdict = desk.author(server.house, CAST["inspector"], "unit_planned", UNIT, PLANNED)

    assert (verdict.verdict, verdict.code) == ("refused", "not_your_role")


def test_acts_at_the_same_time_each_get_their_number(server):
    def note(_):
        return desk.author(server.house, CAST["station_lead"], "change_noted", None, NOTE)

    with ThreadPoolExecutor(8) as pool:
        verdicts = list(pool.map(note, range(40)))

    assert {verdict.verdict for verdict in verdicts} == {"applied"}
    assert [row[2] for row in kept(server)] == list(range(1, 41))


def test_after_a_failed_act_the_next_one_is_not_taken_for_it(server, monkeypatch):
    """Whether the failed one was stored is not known, so its number may not be used again."""
    push = server.house.journal.push

    def stored_but_not_told(batch):
        push(batch)
        raise StorageFailed("the answer was lost")

    with monkeypatch.context() as patched:
        patched.setattr(server.house.journal, "push", stored_but_not_told)
        with pytest.raises(StorageFailed):
            desk.author(server.house, CAST["station_lead"], "change_noted", None, NOTE)

    verdict = desk.author(server.house, CAST["station_lead"], "change_noted", None, NOTE)

    assert verdict.verdict == "applied"
    assert len({row[1] for row in kept(server)}) == 2


def test_its_ids_are_version_7_and_carry_the_instant():
    """The example of RFC 9562, appendix A.6: unix_ts_ms 0x017F22E279B0 stands in the first 48 bits."""
    made = desk.uuid7(0x017F22E279B0)

    assert made.startswith("017f22e2-79b0-7")
    assert uuid7_fault(made) is None
    assert len({desk.uuid7(1) for _ in range(100)}) == 100
