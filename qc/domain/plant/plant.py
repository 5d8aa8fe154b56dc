"""The plant as data: frozen records of what its tables say. Reading and checking the tables is `plant_tables`."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from functools import cached_property
from types import MappingProxyType
from typing import Literal

from qc.domain.numbers.number_form import NumberForm, usual_form
from qc.domain.plant.backup_plan import BackupPlan
from qc.domain.plant.drop_plan import DropPlan
from qc.domain.plant.mail_plan import MailPlan
from qc.domain.plant.plan_form import PlanForm

Severity = Literal["critical", "major", "minor"]
SEVERITIES: tuple[Severity, ...] = ("critical", "major", "minor")


@dataclass(frozen=True, slots=True)
class OwnSeverity:
    """One of the severities that a plant has in its own words, and which of the three it counts as."""

    code: str
    name: str
    counts_as: Severity


@dataclass(frozen=True, slots=True)
class Option:
    """Something that a unit can be planned with; its code stands in build plans."""

    code: str
    name: str


@dataclass(frozen=True, slots=True)
class ProductionLine:
    """One of several lines on which a plant builds. ended: no unit is planned on it any more; those on record stay."""

    code: str
    name: str
    ended: bool = False


StationKind = Literal["feeder", "remote", "main", "test", "inspection", "rework", "dispatch", "external", "unknown"]

FIELD = "FIELD"  # detection point of what is found after dispatch, at the dealer's or the user's
UNKNOWN = "UNK"  # origin that is not yet known; never counts against a station
DESIGN = "DSN"  # origin "as designed / as instructed": every unit has it, no station is charged


CLOSED_PARTS = ("body", "window", "door", "step", "drawbar", "light", "vent")
OPEN_PARTS = ("roof", "line")
PARTS = (*CLOSED_PARTS, *OPEN_PARTS, "wheel")
SWINGS = ("left", "right", "top", "bottom", "plan")

VITAL_FEW = 0.8  # where a plant says nothing (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """A model of unit. Lengths in millimetres, masses in kilograms; digit stands in the shop number.

    ended: no unit of it is planned any more; those on record are looked at, repaired and released as before.
    """

    code: str
    name: str
    what: str
    length_mm: int
    axles: int
    mass_kg: int
    digit: str
    ended: bool = False


@dataclass(frozen=True, slots=True)
class View:
    """One drawing of a unit. x runs right and y up in millimetres; left and right name the view's edges."""

    id: str
    name: str
    left: str
    right: str
    x0: str
    y0: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A zone of one model in one view.

    key is shared by all models, so that counts add up; points is the outline as (x, y) in millimetres;
    layer 1 lies over layer 0 and wins a touch; caution is a code of the plant's cautions or "". holds: "plate" where
    the chassis number is read off the metal, "whole" where keys, papers and options are recorded, else "". ended: it
    is offered for nothing new, and names what was recorded there.
    """

    id: str
    model: str
    view: str
    key: str
    name: str
    kind: str
    layer: int
    points: tuple[tuple[int, int], ...]
    walk_order: int
    caution: str
    holds: str = ""
    ended: bool = False
    options: tuple[str, ...] = ()  # of a unit with one of these alone, () of every unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A line of a unit's drawing that lies under the zones: what the unit looks like in one view of one model.

    part: what it is, one of PARTS. points as (x, y) in millimetres of the view; of a wheel its centre and a point of
    its rim. swing: the side on which a door is hung as seen in the view, "plan" for one seen from above (points: its
    hinge, its free edge shut, its free edge open), "" for everything else.
    """

    model: str
    view: str
    part: str
    points: tuple[tuple[int, int], ...]
    swing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewPicture:
    """A picture that lies under the zones of one model in one view.

    sha256 (hex) names its bytes, which are kept beside the photos; width, height in pixels. left, bottom, right, top:
    the rectangle of the view that it covers, in millimetres.
    """

    model: str
    view: str
    sha256: str
    width: int
    height: int
    left: int
    bottom: int
    right: int
    top: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where work is done or a unit is looked at, or an origin that is no station (external, unknown).

    lead_days: working days before the daylight bay that its work is done. first_day/end_day bound its
    validity (end exclusive, None open); successors name the stations that took over its work.
    models: codes whose build contains the station, empty for all. final: a unit is presented here, and is not released
    before it was; at a final inspection every zone is looked at. outside: an origin outside the line, whose defects are
    "supplied" in the unit from the start or "handled" into it at any point; "" for every other. shifts: those that it
    works in, empty for all. line: where the plant names lines, the one that passes here, "" for every line; else a
    part of the plant, which separates nothing (`Plant.line_at`).
    """

    id: str
    name: str
    kind: StationKind
    line: str
    lead_days: int
    crew: str
    can_detect: bool
    note: str = ""
    models: tuple[str, ...] = ()
    first_day: date | None = None
    end_day: date | None = None
    successors: tuple[str, ...] = ()
    final: bool = False
    outside: str = ""
    shifts: tuple[str, ...] = ()

    def stands_on(self, day: date) -> bool:
        """Return whether the station is valid on a day."""
        return (self.first_day or day) <= day and (self.end_day is None or day < self.end_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectType:
    """A coded type. rework_min is the usual minutes; usual_origins in order of likelihood; models empty for all.

    caution: a code of the plant's cautions that its work carries, "" for none, None where the tables do not say: then
    the app shows the general caution, never none. words: what people at the unit say for it, beside its name.
    """

    code: str
    group: str
    group_name: str
    name: str
    default_severity: Severity
    stop_unit: bool
    photo_required: bool
    rework_min: int
    first_detect_point: str
    usual_origins: tuple[str, ...]
    zone_kinds: tuple[str, ...]
    models: tuple[str, ...]
    retired: bool = False
    grade: str = ""  # which of the plant's own severities the default is, "" where it has none
    caution: str | None = None
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """A test of a unit. kind "measure" has a number within [lower, upper] (None open); "pass" has none.

    least, most: what a reading can plausibly be (None open); a value outside is asked about, never refused for it.
    beyond: "above", "below" where a reading past the end of the instrument's range can be entered, as >200. hazard:
    its failure always makes a defect. basis: S stated in the reference, M from memory of it, P plant setting.
    voided_by names defect groups whose repair voids an earlier result. models empty for all. ended: no unit is asked
    for it any more; its results stay.
    """

    __test__ = False  # not a test class for pytest

    id: str
    name: str
    point: str
    defect_on_fail: str
    kind: Literal["measure", "pass"]
    unit: str
    lower: float | None
    upper: float | None
    conditions: str
    reference: str
    basis: str
    models: tuple[str, ...]
    caution: str
    who: str
    voided_by: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    beyond: tuple[str, ...] = ()
    hazard: bool = False
    ended: bool = False
    options: tuple[str, ...] = ()  # as of a zone


@dataclass(frozen=True, slots=True)
class Shift:
    """A shift of the plant in its own time zone; days are ISO weekdays 1..7 on which it begins.

    One that crosses midnight belongs to the day on which it begins or, where the plant says so, on which it ends.
    other_hours: of a weekday that has its own, its start and end.
    """

    id: str
    start: time
    end: time
    days: tuple[int, ...]
    belongs_to: Literal["begin", "end"] = "begin"
    other_hours: tuple[tuple[int, time, time], ...] = ()

    def hours(self, weekday: int) -> tuple[time, time]:
        """Return when the shift starts and ends that begins on an ISO weekday."""
        return next(((start, end) for day, start, end in self.other_hours if day == weekday), (self.start, self.end))

    def crosses(self, weekday: int) -> bool:
        """Return whether the shift that begins on an ISO weekday ends on the next day."""
        start, end = self.hours(weekday)
        return end <= start

    def belongs_later(self, weekday: int) -> int:
        """Return how many days after it begins the day lies that it belongs to: 0 or 1."""
        return int(self.belongs_to == "end" and self.crosses(weekday))


@dataclass(frozen=True, slots=True)
class Shutdown:
    """Days without production, first and last among them, of some stations or (empty) of the whole plant."""

    name: str
    first: date
    last: date
    stations: tuple[str, ...] = ()

    def days(self) -> frozenset[date]:
        """Return each of its days."""
        return frozenset(self.first + timedelta(days=n) for n in range((self.last - self.first).days + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A reminder for work that can hurt: short for the phone, more for reading. It permits nothing.

    camera: "free", "ask" (only after a person confirms ``before_photo``), "no", and "" where the tables do not say,
    which is taken as "ask". move_away: get away from the unit before a phone is used to call. call, phone: who is told
    of a critical finding under this caution and their number, "" for the plant's own. shown: "begin" when a look
    begins, "unit" on every unit's page, None where the tables do not say.
    """

    code: str
    short: str
    more: str
    camera: str = ""
    before_photo: str = ""
    move_away: bool = True
    call: str = ""
    phone: str = ""
    shown: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Links:
    """The build graph's edges: flow (the unit moves), feed (a sub-assembly joins), rework (the loop)."""

    flow: tuple[tuple[str, str], ...]
    feed: tuple[tuple[str, str], ...]
    rework: tuple[tuple[str, str], ...]


Names = Mapping[str, Mapping[str, Mapping[str, Mapping[str, str]]]]


@dataclass(frozen=True, kw_only=True)
class Plant:
    """A whole plant. revision is the SHA-256 (hex) of its tables; demo marks invented limits, not for use.

    Mappings keep the order of the tables. zones is keyed by (model, zone key), since a key is shared by models,
    pictures by (model, view). holidays are days without production, as are the days of shutdowns, of which a station
    may have its own. standing_line closes every caution.
    """

    maker: str
    site: str
    product: str
    time_zone: str
    demo: bool
    revision: str
    sequence_start: int
    world_code: str  # the first three of a number of 17 characters, see `chassis`; "" where its form is its own
    stop_phone: str  # the number to call at a critical finding, "" if the plant names none
    models: MappingProxyType[str, Model]
    views: MappingProxyType[str, View]
    zones: MappingProxyType[tuple[str, str], Zone]
    stations: MappingProxyType[str, Station]
    types: MappingProxyType[str, DefectType]
    tests: MappingProxyType[str, Test]
    shifts: MappingProxyType[str, Shift]
    cautions: MappingProxyType[str, Caution]
    standing_line: str
    links: Links
    holidays: frozenset[date] = field(default_factory=frozenset)
    shutdowns: tuple[Shutdown, ...] = ()
    series: str = "7"  # one character after the world code, also in the shop number
    works: str = "W"  # one character for the works in a full chassis number
    model_year: int = 2026  # its letter or figure stands in a full chassis number
    stop_who: str = "the lead"  # who is told of a critical finding, in the plant's words
    says_final: bool = False  # whether the tables name the final stations, or they follow from the stations' kinds
    backup: BackupPlan | None = None  # how the server copies its record, None where the plant does it otherwise
    drop: DropPlan | None = None  # where build plans are dropped, None where nowhere
    mail: MailPlan | None = None  # how the server mails who asked, None where nobody is mailed
    plan: PlanForm = field(default_factory=PlanForm)
    outlines: tuple[Outline, ...] = ()  # in table order, which is the order of drawing; () where the plant has none
    pictures: MappingProxyType[tuple[str, str], ViewPicture] = field(default_factory=lambda: MappingProxyType({}))
    severities: MappingProxyType[str, OwnSeverity] = field(default_factory=lambda: MappingProxyType({}))
    options: MappingProxyType[str, Option] = field(default_factory=lambda: MappingProxyType({}))
    # Its lines by code, in the order in which it names them; none where it has one and says nothing of it
    lines: MappingProxyType[str, ProductionLine] = field(default_factory=lambda: MappingProxyType({}))
    own_numbers: NumberForm | None = None  # the form of its numbers where the plant says one, see `numbers`
    # Words in further languages: by language tag, kind of thing, code and column
    names: Names = field(default_factory=lambda: MappingProxyType({}))
    vital_few: float = VITAL_FEW  # share of the whole that a Pareto's vital few are asked to make

    def severity_name(self, severity: str, grade: str) -> str:
        """Return what people of this plant call a severity: its own name where it has one, else one of the three."""
        own = self.severities.get(grade)
        return own.name if own else severity

    def zones_of(self, model: str, *, options: Collection[str] | None = None, ended: bool = False) -> tuple[Zone, ...]:
        """Return the model's zones, views in table order and zones in walk order; ended: those that are ended too.

        options: of a unit, which leaves out zones of options that it has not; None for every zone of the model.
        """
        order = {view: place for place, view in enumerate(self.views)}
        own = [
            zone
            for zone in self.zones.values()
            if zone.model == model and (ended or not zone.ended) and is_asked(zone.options, options)
        ]
        return tuple(sorted(own, key=lambda z: (order[z.view], z.walk_order, z.layer, z.id)))

    def outlines_of(self, model: str) -> tuple[Outline, ...]:
        """Return the lines of the model's drawings in table order, all views; () where the plant has none."""
        return tuple(one for one in self.outlines if one.model == model)

    def line_at(self, station: str) -> str:
        """Return the line on which a place stands, "" where every line comes by, or the plant names no lines."""
        line = self.stations[station].line if station in self.stations else ""
        return line if line in self.lines else ""

    def lines_of(self, model: str) -> tuple[str, ...]:
        """Return the lines that build a model, in table order: those with a station of their own in its build.

        () where the plant names no lines. Also those that are ended.
        """
        return self._lines_of.get(model, ())

    def line_of(self, model: str, told: str = "") -> str:
        """Return the line of a unit. told: what was said of it, "" where nothing was.

        Where a model is built on one line that follows from it. Where nobody said which of several, the first that the
        plant names stands in for it: it lists first the line that it had before. "" where it names none.
        """
        lines = self.lines_of(model)
        return told if told in lines else lines[0] if lines else ""

    def comes_by(self, station: Station, model: str, told: str | None = "") -> bool:
        """Return whether a unit of this model comes by a station, as its build goes.

        told: its line as in line_of, None for one of whatever line.
        """
        if station.models and model not in station.models:
            return False
        return not self.lines or told is None or self.line_at(station.id) in ("", self.line_of(model, told))

    def builds(self) -> tuple[tuple[str, str], ...]:
        """Return each model with each line that may be told of its unit, "" for none told."""
        return tuple((model, line) for model in self.models for line in ("", *self.lines))

    def tests_of(
        self, model: str, point: str | None = None, options: Collection[str] | None = None, line: str | None = None
    ) -> tuple[Test, ...]:
        """Return the tests that a unit of this model needs, at one point or (None) at all; options as in zones_of.

        line: as told of a unit, which leaves out tests at a point of another line; None for those of every line.
        """
        return tuple(
            test
            for test in self.tests.values()
            if not test.ended
            and (not test.models or model in test.models)
            and point in (None, test.point)
            and is_asked(test.options, options)
            and (line is None or self.line_at(test.point) in ("", self.line_of(model, line)))
        )

    def end_points(self) -> tuple[str, ...]:
        """Return the points where a whole unit is presented: the final test and inspection stations in flow order."""
        return self._end_points

    def final_inspections(self, model: str, line: str = "") -> tuple[Station, ...]:
        """Return the final inspections of a build, in flow order: where every zone is looked at; line as in line_of."""
        return tuple(one for one in self.presenting(model, line) if one.kind == "inspection")

    def is_final_inspection(self, point: str) -> bool:
        """Return whether a look at a point is one of those that a release rests on."""
        station = self.stations.get(point)
        return station is not None and station.kind == "inspection" and station.final

    def shown_at(self, place: str) -> tuple[str, ...]:
        """Return the codes of the cautions that show at a place of the app, "begin" or "unit", in table order.

        Where the tables do not say it of a caution, one that no zone, type or test carries shows when a look begins,
        so that none of them is lost.
        """
        carried = {*(zone.caution for zone in self.zones.values()), *(test.caution for test in self.tests.values())}
        carried |= {one.caution for one in self.types.values() if one.caution}
        said = {one.code: one.shown for one in self.cautions.values()}
        unsaid = {code for code, shown in said.items() if shown is None and code not in carried}
        return tuple(code for code, at in said.items() if place in (at or ()) or (place == "begin" and code in unsaid))

    def presenting(self, model: str, line: str = "") -> tuple[Station, ...]:
        """Return the end points in a build, in flow order: those that must present a unit of it; line as in line_of.

        One with a first or an end day is asked of the units that are planned for a day on which it stands.
        """
        stations = (self.stations[point] for point in self.end_points())
        return tuple(one for one in stations if self.comes_by(one, model, line))

    def shifts_of(self, station: str) -> tuple[Shift, ...]:
        """Return the shifts that a station works in; all of them for a place that the plant does not have."""
        named = self.stations[station].shifts if station in self.stations else ()
        return tuple(one for one in self.shifts.values() if not named or one.id in named)

    def closed_days(self, station: str = "") -> frozenset[date]:
        """Return the days without production of the whole plant, and those of one station beside."""
        ranges = (one.days() for one in self.shutdowns if not one.stations or station in one.stations)
        return self.holidays.union(*ranges)

    def outside(self, *how: str) -> tuple[str, ...]:
        """Return the origins that lie outside the line and come in one of these ways, way by way in table order."""
        return tuple(s.id for one in how for s in self.stations.values() if s.outside == one)

    @cached_property
    def numbers(self) -> NumberForm:
        """The form of the plant's chassis and shop numbers: its own, else that of 17 characters."""
        return self.own_numbers or usual_form(self.world_code, self.series, self.works)

    @cached_property
    def _lines_of(self) -> Mapping[str, tuple[str, ...]]:
        linked = {place for pair in (*self.links.flow, *self.links.feed) for place in pair}
        own = [(one.line, one.models) for one in self.stations.values() if one.id in linked]
        return {
            model: tuple(code for code in self.lines if any(code == line and _has(of, model) for line, of in own))
            for model in self.models
        }

    @cached_property
    def _end_points(self) -> tuple[str, ...]:
        # Asked once for each event of a fold: found once and kept, since the tables never change.
        return tuple(s.id for s in self.stations.values() if s.final)


def _has(models: tuple[str, ...], model: str) -> bool:
    return not models or model in models


def is_asked(of: tuple[str, ...], options: Collection[str] | None) -> bool:
    """Return whether what is asked of these options is asked of a unit with those; None is every unit."""
    return options is None or not of or any(one in options for one in of)
