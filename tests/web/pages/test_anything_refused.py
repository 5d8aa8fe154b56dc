"""Whatever was sent and refused, each page still opens and tells it in generic words.

Every kind with every field replaced by every wrong type, and every field of the envelope, is pushed onto one unit;
92 such entries of 548 once ended its page for good.
"""

import pytest

from qc.domain.acts.kinds import KINDS
from qc.domain.facts.operations import ENVELOPE_FIELDS
from qc.web.pages import set_aside
from tests.web.pages.acting_kit import send
from tests.web.pages.lived_in import code
from tests.web.pages.reading import read

WRONG = (
    None, True, 5, -5, 1e12, "", "x" * 40, "<b>", "9999-12-31", "GAS-01", [], [None], [[1]], ["a", "a"], {},
    {"zone": 7}, {"a": {"b": []}},
)  # fmt: skip
# One well-shaped value a field, so that only the replaced one is wrong; ids of nothing, codes of the invented plant.
RIGHT = {
    "model": "T36", "shop_number": "PC7130002", "sequence": 30002, "planned_day": "2026-03-02", "station": "S05",
    "place": "yard", "point": "D01", "purpose": "presentation", "light": "bright", "zone": "front.panel",
    "zones": ["front.panel"], "reason": "tried it", "type": "PAN-05", "severity": "major", "changes": {"note": "x"},
    "why": "not_a_defect", "sha256": "0" * 64, "bytes": 5, "test": "GAS1", "instrument": "IN-7", "method": "rework",
    "minutes": 3, "scope": "unit", "departure": "tried it", "until": "2026-04-01", "open_digest": "0" * 64,
    "against": "a rule", "found_day": "2026-03-02", "change": "tool", "what": "tried it", "from_day": "2026-03-02",
    "direction": "up", "expected": "tried it", "answer": "tried it", "person": "IV1", "enrolled": "P9", "revoked": "P9",
    "revision": "0" * 64,
}  # fmt: skip
AN_ID = "01900000-0000-7000-8000-000000000000"
PAGES = (
    "/review",
    "/backlog",
    "/set-aside",
    "/signals",
    "/stations",
    "/stations/S05",
    "/units",
    "/inspectors",
    "/sign-ins",
    "/paper",
    "/labels",
)


def body_of(kind):
    return {name: RIGHT.get(name, AN_ID) for name in kind.fields}


def sendings(lived, envelope=None):
    """Make (kind, field, value) of every wrong entry and push it, a hundred to a batch; return the verdicts."""
    unit, told = lived.ids["waiting"], []
    for kind in KINDS.values():
        for field in (*kind.fields, *kind.optional):
            for value in WRONG:
                body = {**body_of(kind), field: value}
                lived.phone.make(kind.name, code("quality_manager"), unit, **body, envelope=envelope or {})
                told.append((kind.name, field, value))
    for field in ENVELOPE_FIELDS:
        if field in ("id", "seq", "device", "install_epoch"):  # the door turns these away and keeps no row
            continue
        for value in WRONG:
            made = {**(envelope or {}), field: value}
            lived.phone.make("inspection_ended", code("inspector"), unit, inspection=AN_ID, envelope=made)
            told.append(("envelope", field, value))
    waiting, lived.phone.unsent, verdicts = lived.phone.unsent, [], []
    for first in range(0, len(waiting), 100):
        lived.phone.unsent = waiting[first : first + 100]
        verdicts += lived.phone.send()
    return list(zip(told, verdicts, strict=True))


@pytest.fixture
def sent(lived):
    return sendings(lived)


def test_no_refused_entry_ends_a_page_or_a_phone(lived, sent):
    manager = lived.server.page("quality_manager")
    units = [f"/units/{lived.ids[name]}" for name in ("waiting", "released", "critical", "planned")]
    opened = {page: manager.get(page).status_code for page in (*PAGES, *units)}

    assert {page: status for page, status in opened.items() if status != 200} == {}
    answer = lived.server.phone().get("pull?after=0")
    assert answer.status_code == 200
    assert lived.ids["waiting"] in {unit["chassis"] for unit in answer.json["units"]}


def test_whatever_was_set_aside_is_shown_and_can_be_left(lived, monkeypatch):
    """The same entries from a phone whose clock is days ahead: each is kept without effect, and read on its page."""
    ahead = {"wall_ms": lived.server.house.clock() + 3 * 24 * 3_600_000}
    kept = {verdict.id for _, verdict in sendings(lived, ahead) if verdict.verdict == "quarantined"}
    manager = lived.server.page("quality_manager")
    with monkeypatch.context() as all_at_once:
        all_at_once.setattr(set_aside, "SHOWN", 10_000)
        shown = manager.get("/set-aside")

    assert len(kept) > 1000
    assert shown.status_code == 200
    assert {id_ for id_ in kept if f'value="{id_}"' not in shown.text} == set()
    assert manager.get(f"/units/{lived.ids['waiting']}").status_code == 200
    for id_ in sorted(kept)[::200]:
        taken = send(manager, "/set-aside/take", operation=id_, reason="read and taken")
        left = send(manager, "/set-aside/leave", operation=id_, reason="read and left")
        if taken.status_code == 303:  # one that the record takes: what is settled is not left as well
            assert (left.status_code, "taken in already" in left.text) == (404, True), left.text
        else:
            assert taken.status_code in (422, 409, 400), taken.text
            assert left.status_code == 303, left.text


def test_each_kept_entry_is_told_in_the_unit_s_story(lived, sent):
    kept = {verdict.number for _, verdict in sent if verdict.number is not None}
    story = lived.server.page("quality_manager").get(f"/units/{lived.ids['waiting']}")
    shown = {int(cell) for row in read(story).all("tr") for cell in [_first_figure(row)] if cell}
    elsewhere = {verdict.number for (_, field, _), verdict in sent if field == "unit"}

    assert len(kept) > 1000
    assert kept - shown - elsewhere == set()


def _first_figure(row):
    first = next((cell.text for cell in row.children if not isinstance(cell, str)), "")
    figures = first.replace(",", "").replace("\u202f", "").replace(" ", "")
    return figures if figures.isdigit() else ""
