"""The record as its bytes tell it: plain sqlite3 over ``journal`` and ``verdict``, folded by a few plain words.

An operation counts when its verdict is ``applied``; effects come in the order of the verdict's ``place``. When it
happened is the instant that the door settled at receipt (``happened_ms``, the device's clock corrected).
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from tests.recount.plant import NOT_KNOWN, PlantTables

FIELD = "FIELD"  # where a finding after dispatch stands
JOURNAL = """
SELECT j.number, j.id, j.kind, j.unit, j.author, j.happened_ms, j.received_ms, j.clock_suspect, j.bytes,
       v.verdict, v.place, v.reason
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 ORDER BY v.place IS NULL, v.place, j.number
"""


@dataclass(slots=True)
class Said:
    """One operation of the journal. place: its order of coming into effect, None while it has none."""

    number: int
    id: str
    kind: str
    unit: str | None
    author: str
    happened: int
    received: int
    suspect: bool
    body: dict[str, Any]
    applied: bool
    reason: str = ""


@dataclass(slots=True)
class Look:
    """One inspection. ended: instant or None while it runs; zones: looked at True, not looked at False."""

    id: str
    unit: str
    point: str
    purpose: str
    by: str
    begun: int
    light: str
    number: int
    ended: int | None = None
    day: date | None = None
    shift: str = ""
    zones: dict[str, bool] = field(default_factory=dict)
    acts: dict[str, int] = field(default_factory=dict)  # by which operation each zone was marked last


@dataclass(slots=True)
class Repair:
    """One repair of one defect. back: it failed its re-check.

    minutes: this defect's part of what one operation took, whole minutes, the odd ones to those named first.
    """

    by: str
    at: int
    minutes: int
    back: bool = False


@dataclass(slots=True)
class Origin:
    """One word on where a defect was made. station: "" where none was named."""

    kind: str
    station: str
    by: str
    at: int


@dataclass(slots=True)
class Defect:
    """One defect as it stands now. state: open, repaired, closed or withdrawn; origin_state as the kinds name it."""

    id: str
    unit: str
    look: str | None
    point: str
    zone: str
    type: str
    severity: str
    finder: str
    found: int
    day: date
    shift: str
    number: int
    received: int
    mark: bool
    state: str = "open"
    why: str = ""
    duplicate_of: str | None = None
    suspected: str = ""
    confirmed: str = ""
    origin_state: str = "none"
    origins: list[Origin] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    failed: int = 0
    shown: set[str] = field(default_factory=set)  # its photos, by hash
    rechecked: str = ""

    @property
    def photos(self) -> int:
        return len(self.shown)

    @property
    def stands_against(self) -> str:
        """Return the station that the defect counts for: confirmed, else suspected and open; "" for none."""
        if self.origin_state in ("confirmed", "settled"):
            return self.confirmed if self.confirmed != NOT_KNOWN else ""
        if self.origin_state == "suspected":
            return self.suspected if self.suspected != NOT_KNOWN else ""
        return ""

    @property
    def is_confirmed(self) -> bool:
        return self.origin_state in ("confirmed", "settled")


@dataclass(slots=True)
class Tested:
    """One test result. passed: against the plant's limits; voided: a later related repair took its word away."""

    test: str
    look: str | None
    by: str
    at: int
    value: float | None
    passed: bool
    number: int
    voided: bool = False


@dataclass(slots=True)
class Unit:
    """One unit and everything on it, in order of coming into effect."""

    chassis: str
    model: str
    shop: str
    sequence: int
    planned: date
    passings: dict[str, tuple[str, int]] = field(default_factory=dict)
    looks: list[Look] = field(default_factory=list)
    defects: list[Defect] = field(default_factory=list)
    tests: list[Tested] = field(default_factory=list)
    released: int | None = None
    released_by: str = ""
    cancelled: bool = False
    said: list[Said] = field(default_factory=list)

    @property
    def passes(self) -> dict[str, int]:
        """When each station was first passed."""
        return dict(sorted(self.passings.values(), key=lambda one: -one[1]))


# Who works here and with what, told by the server and its console: it is counted in no figure of a page.
OF_THE_HOUSE = (
    "key_changed", "person_added", "person_assigned", "person_ended", "person_returned", "person_stood",
    "secret_changed", "device_enrolled", "device_secret_given", "device_revoked", "device_restored", "device_stood",
    "token_made", "token_ended",
)  # fmt: skip


class Record:
    """Every unit, look and defect of a journal. left_out: a defect id that a planted fault drops, "" for none."""

    def __init__(self, database: Path, plant: PlantTables, left_out: str = "") -> None:
        self.plant = plant
        self.units: dict[str, Unit] = {}
        self.looks: dict[str, Look] = {}
        self.defects: dict[str, Defect] = {}
        self.changes: list[Said] = []
        self.mutes: list[Said] = []
        self.said = list(_read(database))
        for one in self.said:
            if one.kind in OF_THE_HOUSE:
                continue
            if one.applied and one.body.get("defect") != left_out and one.id != left_out:
                getattr(self, f"_{one.kind}", self._nothing)(one)
        for one in sorted(self.said, key=lambda one: (one.happened, one.number)):
            if one.unit in self.units:
                self.units[one.unit].said.append(one)

    def _nothing(self, one: Said) -> None:
        raise AssertionError(f"an applied operation of a kind that the recount does not know: {one.kind}")

    # the unit on the line

    def _unit_planned(self, one: Said) -> None:
        body = one.body
        assert one.unit is not None
        self.units[one.unit] = Unit(
            one.unit, body["model"], body["shop_number"], body["sequence"], date.fromisoformat(body["planned_day"])
        )

    def _plan_changed(self, one: Said) -> None:
        if day := one.body["changes"].get("planned_day"):
            self._unit(one).planned = date.fromisoformat(day)

    def _unit_cancelled(self, one: Said) -> None:
        self._unit(one).cancelled = True

    def _unit_taken_up(self, one: Said) -> None:
        self._unit(one).cancelled = False

    def _station_passed(self, one: Said) -> None:
        self._unit(one).passings[one.id] = (one.body["station"], one.happened)

    def _passing_withdrawn(self, one: Said) -> None:
        del self._unit(one).passings[one.body["passing"]]

    def _unit_met(self, one: Said) -> None:
        raise AssertionError("a unit before its plan: no story of the demo has one")

    def _unit_moved(self, one: Said) -> None:
        """Where a unit stands is counted nowhere."""

    def _unit_released(self, one: Said) -> None:
        self._unit(one).released, self._unit(one).released_by = one.happened, one.author

    # looking

    def _inspection_begun(self, one: Said) -> None:
        body = one.body
        look = Look(
            one.id, one.unit or "", body["point"], body["purpose"], one.author, one.happened, body["light"], one.number
        )
        self.looks[one.id] = look
        self._unit(one).looks.append(look)

    def _inspection_ended(self, one: Said) -> None:
        look = self.looks[one.body["inspection"]]
        look.ended = one.happened
        look.day, look.shift = self.plant.day_and_shift(one.happened)

    def _zone_looked_at(self, one: Said) -> None:
        self.looks[one.body["inspection"]].zones.update(dict.fromkeys(one.body["zones"], True))
        self.looks[one.body["inspection"]].acts.update(dict.fromkeys(one.body["zones"], one.number))

    def _zone_not_looked_at(self, one: Said) -> None:
        self.looks[one.body["inspection"]].zones[one.body["zone"]] = False
        self.looks[one.body["inspection"]].acts[one.body["zone"]] = one.number

    # defects

    def _defect_recorded(self, one: Said) -> None:
        self._found(one, one.body["point"], one.body.get("inspection"), self.plant.day_and_shift(one.happened))

    def _field_finding(self, one: Said) -> None:
        self._found(one, FIELD, None, (date.fromisoformat(one.body["found_day"]), ""))

    def _found(self, one: Said, point: str, look: str | None, when: tuple[date, str]) -> None:
        body = one.body
        defect = Defect(
            one.id, one.unit or "", look, point, body["zone"], body["type"], body["severity"], one.author,
            one.happened, *when, one.number, one.received, body.get("mark") is not None,
        )  # fmt: skip
        self.defects[one.id] = defect
        self._unit(one).defects.append(defect)

    def _defect_corrected(self, one: Said) -> None:
        defect, changes = self.defects[one.body["defect"]], one.body["changes"]
        for name in ("zone", "type", "severity"):
            setattr(defect, name, changes.get(name, getattr(defect, name)))
        if "mark" in changes:
            defect.mark = changes["mark"] is not None

    def _defect_withdrawn(self, one: Said) -> None:
        defect = self.defects[one.body["defect"]]
        defect.state, defect.why = "withdrawn", one.body["why"]
        defect.duplicate_of = one.body.get("duplicate_of")

    def _photo_attached(self, one: Said) -> None:
        self.defects[one.body["defect"]].shown.add(one.body["sha256"])

    def _photo_withdrawn(self, one: Said) -> None:
        self.defects[one.body["defect"]].shown.discard(one.body["sha256"])

    # whose it is

    def _origin_suspected(self, one: Said) -> None:
        self._origin(one, "suspected", suspected=one.body["station"])

    def _origin_passed_on(self, one: Said) -> None:
        self._origin(one, "suspected", suspected=one.body["station"])

    def _origin_disputed(self, one: Said) -> None:
        self._origin(one, "disputed")

    def _origin_confirmed(self, one: Said) -> None:
        self._origin(one, "confirmed", confirmed=one.body["station"])

    def _origin_settled(self, one: Said) -> None:
        self._origin(one, "settled", confirmed=one.body["station"])

    def _origin(self, one: Said, state: str, **named: str) -> None:
        defect = self.defects[one.body["defect"]]
        defect.origin_state = state
        for name, station in named.items():
            setattr(defect, name, station)
        defect.origins.append(Origin(one.kind, one.body.get("station", ""), one.author, one.happened))

    # settling it

    def _repair_done(self, one: Said) -> None:
        ids = one.body["defects"]
        for k, id_ in enumerate(ids):
            if id_ in self.defects:
                defect = self.defects[id_]
                defect.state = "repaired"
                defect.repairs.append(
                    Repair(
                        one.author, one.happened, one.body["minutes"] // len(ids) + (k < one.body["minutes"] % len(ids))
                    )
                )
        groups = {self.plant.types[self.defects[id_].type]["group"] for id_ in ids if id_ in self.defects}
        for result in self._unit(one).tests:
            result.voided |= bool(groups & set(self.plant.tests[result.test]["voided_by"].split(";")))

    def _recheck_accepted(self, one: Said) -> None:
        defect = self.defects[one.body["defect"]]
        defect.state, defect.rechecked = "closed", one.author

    def _recheck_failed(self, one: Said) -> None:
        defect = self.defects[one.body["defect"]]
        defect.state, defect.failed = "open", defect.failed + 1
        defect.repairs[-1].back = True

    def _test_recorded(self, one: Said) -> None:
        test = self.plant.tests[one.body["test"]]
        value = one.body.get("value")
        passed = bool(one.body.get("passed")) if value is None else _within(value, test)
        self._unit(one).tests.append(
            Tested(test["id"], one.body.get("inspection"), one.author, one.happened, value, passed, one.number)
        )

    # the line itself

    def _change_noted(self, one: Said) -> None:
        self.changes.append(one)

    def _signal_muted(self, one: Said) -> None:
        self.mutes.append(one)

    def _signal_unmuted(self, one: Said) -> None:
        self.mutes.append(one)

    def _unit(self, one: Said) -> Unit:
        assert one.unit is not None
        return self.units[one.unit]


def _read(database: Path) -> Iterator[Said]:
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as connection:
        for (
            number,
            id_,
            kind,
            unit,
            author,
            happened,
            received,
            suspect,
            raw,
            verdict,
            place,
            reason,
        ) in connection.execute(JOURNAL):
            try:
                told = json.loads(raw)
            except ValueError:
                told = {}
            body = told.get("body") if isinstance(told, dict) else None
            applied = verdict == "applied" and place is not None
            yield Said(
                number, id_, kind, unit, author, happened, received, bool(suspect),
                body if isinstance(body, dict) else {}, applied, reason,
            )  # fmt: skip


def _within(value: float, test: dict[str, str]) -> bool:
    low, high = test["lower"], test["upper"]
    return (not low or value >= float(low)) and (not high or value <= float(high))
