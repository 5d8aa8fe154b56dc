"""A random day at the plant: several phones, late and out of order, much of it against the rules."""

import random
from typing import Any

from qc.domain.acts.kinds import KINDS as OPERATIONS
from qc.domain.facts.operations import AGAIN_REASONS, CHANGE_KINDS, DIRECTIONS, LIGHTS, NOT_LOOKED_REASONS, PURPOSES
from qc.domain.plant.plant import SEVERITIES
from qc.store.intake.journal import Journal
from tests.store.record_kit import MINUTE, PEOPLE, PLANT, Phone, new_id, unit_number

TYPES = ("GAS-01", "WAT-01", "EXT-01", "PAN-05", "SEA-01", "MNS-01", "CHS-06")
ZONES = ("front.gas", "front.plate", "nearside.door", "in.kitchen", "no.such.zone")
STATIONS = ("S06", "S07", "S08", "FU1", "RP1", "T01", "D01", "SUP", "UNK", "R01", "DSN", "X01")
POINTS = ("T01", "T02", "D01", "S07")
AUTHORS = tuple(PEOPLE)


class Day:
    """What the phones of a random day know: the ids that they may name."""

    def __init__(self, journal: Journal, seed: int) -> None:
        self.seed = seed
        self.random = random.Random(seed)
        self.drawn = random.Random(-1 - seed).randbytes  # ids of their own source: the seed plays the same day again
        self.journal = journal
        self.phones = [Phone(journal, f"P{n}", drawn=self.drawn) for n in (1, 2, 3)]
        self.units = [unit_number(30001), unit_number(30002, "M50")]
        self.inspections: dict[str, list[str]] = {unit: [] for unit in self.units}
        self.defects: dict[str, list[str]] = {unit: [] for unit in self.units}
        self.results: dict[str, list[str]] = {unit: [] for unit in self.units}
        self.passings: dict[str, list[str]] = {unit: [] for unit in self.units}
        self.mutes: list[str] = []
        self.suspected = dict.fromkeys(self.units, ("", "S06"))  # the last guess on each unit: defect, station

    def known(self, ids: dict[str, list[str]], unit: str) -> str:
        """Return an id of the unit, seldom one of another or of nothing that exists."""
        pool = ids[unit][-4:] if self.random.random() < 0.95 else [one for some in ids.values() for one in some]
        return self.random.choice(pool) if pool and self.random.random() < 0.97 else self.new_id()

    def new_id(self) -> str:
        """Return an id that nothing has."""
        return new_id(self.journal.clock(), self.drawn)

    def step(self) -> None:
        """Let one phone record something about a unit, and sometimes send what it holds."""
        pick = self.random.choice
        phone, unit, kind = pick(self.phones), pick(self.units), pick(KINDS)
        body = BODIES[kind](self, unit)
        author = pick(RIGHT_AUTHORS.get(kind, AUTHORS)) if self.random.random() < 0.9 else pick(AUTHORS)
        if kind in LEADS and self.random.random() < 0.8:
            author = f"L-{self.suspected[unit][1]}"
        self.journal.clock.after(self.random.randint(0, 20))  # type: ignore[attr-defined]
        late = {"wall_ms": self.journal.clock() - self.random.randint(0, 300) * MINUTE}
        made = phone.make(kind, author, unit if OPERATIONS[kind].on_unit else None, **body, envelope=late)
        if kind == "inspection_begun":
            self.inspections[unit].append(made["id"])
        if kind == "origin_suspected":
            self.suspected[unit] = (body["defect"], body["station"])
        if kind in ("defect_recorded", "field_finding"):
            self.defects[unit].append(made["id"])
        if kind == "station_passed":
            self.passings[unit].append(made["id"])
        if kind == "test_recorded":
            self.results[unit].append(made["id"])
        if kind == "signal_muted":
            self.mutes.append(made["id"])
        if self.random.random() < 0.4:
            phone.send()


def _defect(day: Day, unit: str) -> dict[str, Any]:
    pick = day.random.choice
    body = {"point": pick(POINTS), "zone": pick(ZONES), "type": pick(TYPES), "severity": pick(SEVERITIES)}
    if day.random.random() < 0.6:
        body["severity_reason"] = "shallow and dry"
    if day.random.random() < 0.6:
        body["inspection"] = day.known(day.inspections, unit)
    if day.random.random() < 0.1:
        body["result"] = day.known(day.results, unit)
    return body


def _correction(day: Day, unit: str) -> dict[str, Any]:
    pick = day.random.choice
    changes = {"zone": pick(ZONES), "type": pick(TYPES), "severity": pick(SEVERITIES), "note": "seen", "mark": [1, 2]}
    names = day.random.sample(sorted(changes), day.random.randint(1, 3))
    return {
        "defect": day.known(day.defects, unit),
        "changes": {name: changes[name] for name in names},
        "reason": "looked again",
    }


def _withdrawal(day: Day, unit: str) -> dict[str, Any]:
    body = {"defect": day.known(day.defects, unit), "why": "not_a_defect", "reason": "dirt only"}
    if day.random.random() < 0.5:
        body |= {"why": "duplicate", "duplicate_of": day.known(day.defects, unit)}
    return body


def _test(day: Day, unit: str) -> dict[str, Any]:
    test = day.random.choice(("G1", "G2", "W1", "B1", "C2a", "M1", "M6"))
    body: dict[str, Any] = {"test": test, "instrument": "IN-1"}
    if PLANT.tests[test].kind == "measure":
        body["value"] = day.random.choice((0.05, 3.5, 12.0))
    else:
        body["passed"] = day.random.random() < 0.8
    if day.random.random() < 0.5:
        body["again"] = day.random.choice(AGAIN_REASONS)
    if test == "M6" and day.random.random() < 0.5:
        body |= {"value": 500, "beyond": "above"}
    if day.random.random() < 0.5:
        body["inspection"] = day.known(day.inspections, unit)
    return body


def _origin(day: Day, unit: str) -> dict[str, Any]:
    station = day.random.choice(("S06", "S07") if day.random.random() < 0.8 else STATIONS)
    return {"defect": day.known(day.defects, unit), "station": station}


def _confirmation(day: Day, unit: str) -> dict[str, Any]:
    defect, station = day.suspected[unit]
    return {"defect": defect, "station": station} if defect and day.random.random() < 0.8 else _origin(day, unit)


def _passed_on(day: Day, unit: str) -> dict[str, Any]:
    defect, station = _confirmation(day, unit)["defect"], _origin(day, unit)["station"]
    return {"defect": defect, "station": station, "reason": "not ours"}


def _disputed(day: Day, unit: str) -> dict[str, Any]:
    return {"defect": _confirmation(day, unit)["defect"], "reason": "made before us"}


def _reasoned(day: Day, unit: str) -> dict[str, Any]:
    return {"defect": day.known(day.defects, unit), "reason": "made before us"}


def _release(day: Day, unit: str) -> dict[str, Any]:
    return {"open_digest": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", "against": "the rule"}


def _mute(day: Day, unit: str) -> dict[str, Any]:
    return {
        "station": day.random.choice(("S06", "S06", "S06", "S99")),
        "type": day.random.choice(("PAN", "PAN", "rest", "NONE")),
        "direction": day.random.choice(DIRECTIONS),
        "reason": day.random.choice(("a jig is ordered", "a jig is ordered", "  ")),
        "until": day.random.choice(("2026-03-30", "2026-04-27", "2026-05-04", "2026-03-01", "2027-03-01")),
    }


BODIES: dict[str, Any] = {
    "station_passed": lambda day, unit: {"station": day.random.choice(STATIONS)},
    "unit_met": lambda day, unit: {"model": day.random.choice(("T36", "M50"))},
    "unit_moved": lambda day, unit: {"place": day.random.choice(("Bay 4", "yard"))},
    "passing_withdrawn": lambda day, unit: {"passing": day.known(day.passings, unit)},
    "inspection_begun": lambda day, unit: {
        "point": day.random.choice((*POINTS, "D01", "D01", "D01", "D01")),
        "purpose": day.random.choice((*PURPOSES, "presentation", "presentation")),
        "light": day.random.choice(LIGHTS),
    },
    "inspection_ended": lambda day, unit: {"inspection": day.known(day.inspections, unit)},
    "zone_looked_at": lambda day, unit: {
        "inspection": day.known(day.inspections, unit),
        "zones": day.random.sample(ZONES[:4], 2),
    },
    "zone_not_looked_at": lambda day, unit: {
        "inspection": day.known(day.inspections, unit),
        "zone": day.random.choice(ZONES),
        "reason": day.random.choice(NOT_LOOKED_REASONS),
    },
    "defect_recorded": _defect,
    "field_finding": lambda day, unit: {
        "zone": day.random.choice(ZONES),
        "type": day.random.choice(TYPES),
        "severity": day.random.choice(SEVERITIES),
        "found_day": "2026-03-02",
    },
    "defect_corrected": _correction,
    "defect_withdrawn": _withdrawal,
    "photo_attached": lambda day, unit: {
        "defect": day.known(day.defects, unit),
        "sha256": f"{day.random.randint(0, 3):064x}",
        "bytes": 10,
        **day.random.choice(
            [{}, {}, {"circle": None}, {"circle": [0.1, 0, 0.625, 1]}, {"circle": [0.2, 0.3, 0.4, 0.5]}]
        ),
    },
    "photo_withdrawn": lambda day, unit: {
        "defect": day.known(day.defects, unit),
        "sha256": f"{day.random.randint(0, 3):064x}",
        "reason": "half a picture",
    },
    "test_recorded": _test,
    "test_withdrawn": lambda day, unit: {"result": day.known(day.results, unit), "reason": "a slip"},
    "origin_suspected": _origin,
    "origin_confirmed": _confirmation,
    "origin_passed_on": _passed_on,
    "origin_disputed": _disputed,
    "origin_settled": lambda day, unit: _origin(day, unit) | {"reason": "seen at the line"},
    "repair_done": lambda day, unit: {
        "defects": sorted({day.known(day.defects, unit) for _ in range(day.random.randint(1, 2))}),
        "method": "rework",
        "minutes": 7,
    },
    "recheck_accepted": lambda day, unit: {"defect": day.known(day.defects, unit)},
    "recheck_failed": _reasoned,
    "unit_released": _release,
    "unit_cancelled": lambda day, unit: {"reason": "the order was withdrawn"},
    "unit_taken_up": lambda day, unit: {"reason": "ordered anew"},
    "change_noted": lambda day, unit: {
        "station": day.random.choice(STATIONS),
        "change": day.random.choice(CHANGE_KINDS),
        "what": "a new jig",
        "from_day": "2026-03-02",
    },
    "signal_muted": _mute,
    "signal_unmuted": lambda day, unit: {"mute": day.random.choice([*day.mutes[-3:], day.new_id()])},
}
OFTEN = ("defect_recorded", "repair_done", "repair_done", "recheck_accepted", "origin_suspected")
MORE = ("origin_confirmed", "inspection_begun", "defect_corrected", "defect_corrected", "recheck_failed")
KINDS = (*BODIES, *OFTEN, *OFTEN, *MORE)
LEADS = ("origin_confirmed", "origin_passed_on", "origin_disputed")
RIGHT_AUTHORS = {
    "origin_confirmed": ("L-S06", "L-S07", "QM1"),
    "origin_passed_on": ("L-S06", "L-S07", "QM1"),
    "origin_disputed": ("L-S06", "L-S07", "QM1"),
    "origin_settled": ("QM1",),
    "repair_done": ("RW1", "RW2"),
    "recheck_accepted": ("I1", "I2", "RW1"),
    "field_finding": ("QM1", "DX1"),
    "unit_released": ("QM1", "I1"),
    **dict.fromkeys(("unit_cancelled", "unit_taken_up"), ("PL1", "QM1")),
    "change_noted": ("L-S06", "L-S07", "QM1"),
    **dict.fromkeys(("signal_muted", "signal_unmuted"), ("QM1",)),
    **dict.fromkeys(("defect_recorded", "inspection_begun", "inspection_ended", "zone_looked_at"), ("I1", "I2")),
    **dict.fromkeys(("defect_withdrawn", "defect_corrected"), ("I1", "I2", "QM1")),
    **dict.fromkeys(("test_recorded", "test_withdrawn"), ("TB1",)),
    "photo_withdrawn": ("I1", "I2"),
    "passing_withdrawn": ("I1", "L-S06", "L-S07", "QM1"),
}


def a_random_day(journal: Journal, seed: int, steps: int) -> Day:
    """Play a random day into a journal whose clock is a `Clock`; a unit is released on the way, more arrives after."""
    day = Day(journal, seed)
    day.phones[0].plan(30001)
    day.phones[1].plan(30002, "M50")
    for _ in range(steps * 3 // 4):
        day.step()
    _release_one(day)
    for _ in range(steps // 4):
        day.step()
    day.random.shuffle(day.phones)
    for phone in day.phones:
        phone.send()
    return day


def _release_one(day: Day) -> None:
    desk = Phone(day.journal, "DESK", drawn=day.drawn)
    for phone in day.phones:
        phone.send()
    desk.do("unit_taken_up", "PL1", day.units[0], reason="ordered anew")  # refused where it is not cancelled
    desk.settle(day.units[0])
    desk.test_all(day.units[0])
    desk.look(day.units[0])
    verdict = desk.sign(day.units[0])
    assert verdict.verdict == "applied" or verdict.code == "already_released", f"seed {day.seed}: {verdict}"
