"""A unit's record: frozen tables of what its operations tell. Reading them from operations is `unit`.

Instants are milliseconds since 1970 UTC; number is the server's number of the operation that made the entry.
"""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from typing import Any, Literal, NamedTuple, ParamSpec, TypeVar

from qc.domain.facts.operations import Operation
from qc.domain.facts.rule_set import RULES
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.unit.origins import Origin

DefectState = Literal["open", "repaired", "closed", "withdrawn"]
UnitState = Literal["planned", "on_line", "at_end_points", "in_rework", "released", "cancelled"]
OPEN = ("open", "repaired")  # states of a defect that is not settled


class Event(NamedTuple):
    """An operation as the server settled it. Events stand in the order in which they came into effect.

    plant_rules: the plant's tables in force at receipt, for the limits of the day, with its calendar. rules: the rule
    set of the program that received it. since: the
    number of the operation whose arrival brought this one into effect, its own unless it was parked.
    """

    number: int
    operation: Operation
    happened_ms: int
    verdict: str
    plant_rules: PlantRules
    since: int
    received_ms: int = 0
    clock_suspect: bool = False
    code: str = ""
    reason: str = ""
    rules: int = RULES

    @property
    def plant(self) -> Plant:
        """The plant's tables in force at receipt."""
        return self.plant_rules.plant

    def day_and_shift(self, station: str = "") -> tuple[str, str]:
        """Return the production day (ISO) and the shift in which it happened, at a station where one is told."""
        return self.plant_rules.day_and_shift(self.happened_ms, station)


P = ParamSpec("P")
E = TypeVar("E")
R = TypeVar("R", "InspectionRecord", "DefectRecord", "TestRecord")


def entered(record: Callable[P, E], *_: P.args, **values: P.kwargs) -> E:
    """Return a new record, as ``record(**values)`` does, which sets each of thirty fields by itself.

    Records share what they have by default: nothing in them is ever changed. Raises TypeError for a field that is
    missing, and for one that the record does not have.
    """
    defaults, names = _fields_of(record)
    told = {**defaults, **values}
    if told.keys() != names:
        return record(*_, **values)  # which raises, and says what is wrong
    kind: Any = record  # a class, called only by its fields' names, so that these are looked over where it is entered
    made: E = object.__new__(kind)
    made.__dict__.update(told)
    return made


@cache
def _fields_of(record: Any) -> tuple[Mapping[str, Any], frozenset[str]]:
    """Return the fields of a record that have a default, with it, and the names of all."""
    defaults = {}
    for one in fields(record):
        if one.default is not MISSING:
            defaults[one.name] = one.default
        elif one.default_factory is not MISSING:
            defaults[one.name] = one.default_factory()
    return defaults, frozenset(one.name for one in fields(record))


def altered(record: R, **values: Any) -> R:
    """Return a record with other values in some fields. Raises TypeError for a field that it does not have.

    As `dataclasses.replace`, which sets each of thirty fields anew and is a tenth as quick; these records have no
    slots so that their fields can be copied at once.
    """
    fields = record.__dict__
    copy = object.__new__(type(record))
    changed = copy.__dict__
    changed.update(fields)
    changed.update(values)
    if len(changed) != len(fields):
        raise TypeError(f"{type(record).__name__} has no {', '.join(sorted(values.keys() - fields.keys()))}")
    return copy


class PassRecord(NamedTuple):
    """The first pass of a station, by when it happened; number: of the operation that tells it."""

    passed_ms: int
    production_day: str
    number: int


class PassingRecord(NamedTuple):
    """One telling that the unit passed a station, and by whom; withdrawn: it was taken back as a slip."""

    id: str
    station: str
    by: str
    passed_ms: int
    production_day: str
    number: int
    withdrawn: bool = False


Circle = tuple[float, float, float, float]


class PhotoRecord(NamedTuple):
    """A photo tied to a defect; view: "far" or "near", None not told.

    circle: left, top, right and bottom of the box that the ellipse round the flaw fills, as shares of the photo's width
    and height from 0 to 1; None where nothing is circled.
    """

    view: str | None
    number: int
    circle: Circle | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """A zone marked in an inspection: looked at, or not and why."""

    zone: str
    looked: bool
    reason: str
    note: str
    number: int


@dataclass(frozen=True, kw_only=True)
class InspectionRecord:
    """One look at the unit at a point. presentation counts 1, 2… by when it began, 0 where it is no presentation.

    production_day, shift: in which it ended. clean_all, clean_major: whether it found nothing that stands, or nothing
    above minor, and no test in it failed. These four are None while it runs.
    """

    id: str
    point: str
    purpose: str
    inspector: str
    device: str
    light: str
    weather: str | None
    begun_ms: int
    number: int
    presentation: int = 0
    ended_ms: int | None = None
    looks: tuple[Look, ...] = ()
    production_day: str | None = None
    shift: str | None = None
    clean_all: bool | None = None
    clean_major: bool | None = None


@dataclass(frozen=True, slots=True)
class RepairRecord:
    """A repair of one defect: its cycle, who did it and how ("rework" meets the requirement, "repair" does not)."""

    id: str
    number: int
    cycle: int
    repairer: str
    method: str
    minutes: int
    repaired_ms: int


@dataclass(frozen=True, kw_only=True)
class DefectRecord:
    """A defect as it stands. cycles counts failed re-checks; changes holds (field, number, author, value) each.
    said: the words of its last repair, for who looks again, or of its last failed re-check, for who repairs.
    circles: of its photos (SHA-256) on which the flaw is circled, where.

    grade: which of the plant's own severities it has, "" where nobody said; severity is what that counts as.
    lot: of the part that it is on, as the finder read it, "" where nobody said.
    production_day, shift: in which it was found. first_presentation: whether in a first presentation. work_day: when
    the work was done at the origin, None not known; work_day_basis: "scan" of the unit there, "lead" time, or "".
    """

    id: str
    inspection: str | None
    point: str
    zone: str
    type: str
    severity: str
    note: str
    mark: tuple[int, int] | None
    found_ms: int
    finder: str
    device: str
    number: int
    linked_to: str | None = None
    state: DefectState = "open"
    cycles: int = 0
    said: str = ""
    repairs: tuple[RepairRecord, ...] = ()
    rechecked_by: str | None = None
    withdrawn_why: str | None = None
    duplicate_of: str | None = None
    origin: Origin = field(default_factory=Origin)
    photos: tuple[str, ...] = ()
    circles: Mapping[str, Circle] = field(default_factory=dict)
    changes: tuple[tuple[str, int, str, Any], ...] = ()
    production_day: str = ""
    shift: str = ""
    first_presentation: bool = False
    work_day: str | None = None
    work_day_basis: str = ""
    received_ms: int = 0
    grade: str = ""
    lot: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it still has to be repaired or looked at again."""
        return self.state in OPEN

    def repairers(self) -> tuple[str, ...]:
        """Return who repaired it in the present cycle, latest last; none of them may re-check it."""
        latest_first = dict.fromkeys(one.repairer for one in reversed(self.repairs) if one.cycle == self.cycles)
        return tuple(reversed(latest_first))

    @property
    def repaired_by(self) -> str | None:
        """Who last repaired it in the present cycle, None where nobody has."""
        return (self.repairers() or (None,))[-1]

    def changed_also_by(self) -> tuple[str, ...]:
        """Return, in code order, whose value of a field was replaced by another person's."""
        last = {name: author for name, number, author, _ in sorted(self.changes, key=lambda c: c[1])}
        return tuple(sorted({author for name, _, author, _ in self.changes if author != last[name]}))


@dataclass(frozen=True, kw_only=True)
class TestRecord:
    """A test's result. lower and upper are the limits of the day, None open; voided_by: the repair that voids it.

    beyond: "above" or "below" where the reading went past the instrument's range, so that ``value`` is only where
    that ends; again: why a failed test was done again, "" for a first value; confirmed: the tester was asked about
    the value and said that it is right. taken_back_by: who took it back as a slip, why and when, None where it
    stands. hazard: a defect must tell its failure, usually of the type
    fails_into; told_by: that defect.
    """

    __test__ = False  # not a test class for pytest

    id: str
    test: str
    point: str
    inspection: str | None
    value: float | None
    passed: bool
    instrument: str
    calibrated_until: str | None
    note: str
    tester: str
    tested_ms: int
    number: int
    unit: str
    lower: float | None
    upper: float | None
    voided_by: str | None = None
    beyond: str = ""
    again: str = ""
    confirmed: bool = False
    hazard: bool = False
    fails_into: str = ""
    told_by: str | None = None
    taken_back_by: str | None = None
    taken_back_why: str = ""
    taken_back_ms: int | None = None
    taken_back: str | None = None  # the operation that did
    production_day: str = ""


@dataclass(frozen=True, slots=True)
class ReleaseRecord:
    """A release: by whom, against what, and the digest of the open list that the signer saw."""

    id: str
    signed_by: str
    against: str
    open_digest: str
    released_ms: int
    number: int


class MetRecord(NamedTuple):
    """That the unit was met before a plan held it, by whom; planned: a plan came since."""

    by: str
    met_ms: int
    planned: bool = False


class PlaceRecord(NamedTuple):
    """Where the unit stands, in a person's words, told by whom and when."""

    place: str
    by: str
    moved_ms: int
    number: int


@dataclass(frozen=True, slots=True)
class CancelRecord:
    """That a unit is not built on: by whom and why."""

    by: str
    reason: str
    cancelled_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRecord:
    """One unit's whole story as its operations in effect tell it; entries in order of coming into effect.

    passes: (station, first passed ms); passings: every one that was told. alarm: words, "" for none; alarm_place: how
    many events were in effect when it was raised. looked_since_alarm: an inspection at an inspection station began
    after it and has ended.
    cancelled: None unless it is, and was not taken up again. place: where it stands, None where nobody told.
    line: on which it is built, as the plan or who met it said, "" where nobody did (`Plant.line_of`).
    met: None where it was planned first. planned_day: while no plan holds it, the day on which it was met.
    not_in_effect: events that were refused, parked or quarantined.
    """

    chassis: str
    shop_number: str
    sequence: int
    model: str
    options: tuple[str, ...]
    build_sheet: str | None
    planned_day: str
    line: str = ""
    state: UnitState = "planned"
    alarm: str = ""
    looked_since_alarm: bool = False
    cancelled: CancelRecord | None = None
    place: PlaceRecord | None = None
    met: MetRecord | None = None
    last_number: int = 0
    passes: tuple[tuple[str, int], ...] = ()
    passings: tuple[PassingRecord, ...] = ()
    inspections: tuple[InspectionRecord, ...] = ()
    defects: tuple[DefectRecord, ...] = ()
    tests: tuple[TestRecord, ...] = ()
    releases: tuple[ReleaseRecord, ...] = ()
    not_in_effect: tuple[Event, ...] = ()

    @property
    def is_unplanned(self) -> bool:
        """Whether no plan holds the unit yet."""
        return self.met is not None and not self.met.planned

    def defect(self, id_: str) -> DefectRecord | None:
        """Return one of the unit's defects by id, None where it has no such."""
        return next((one for one in self.defects if one.id == id_), None)

    def latest_test(self, test: str) -> TestRecord | None:
        """Return the test's latest result that was not taken back, voided or not; None where there is none."""
        return next((one for one in reversed(self.tests) if one.test == test and one.taken_back_by is None), None)
