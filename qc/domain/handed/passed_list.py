"""A list of units that passed stations, handed in as a file: what each row would do, before anything is done."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

from qc.domain.plant.chassis import cleaned
from qc.domain.plant.naming import Names
from qc.domain.plant.plant import Plant
from qc.domain.plant.references import passed_station
from qc.domain.unit.unit_record import UnitRecord
from qc.domain.words.speaking import marked, say
from qc.domain.words.speaking import told as say_told

Outcome = Literal["new", "same", "wrong"]

MINUTE_MS = 60_000
LONG_MS = 60 * 24 * 60 * MINUTE_MS  # what is older is set aside at the door, whoever tells it
_KNOWN: Mapping[str, tuple[str, ...]] = {
    "unit": ("unit", "chassis", "chassis number", "chassis no", "shop number", "shop no"),
    "station": ("station", "station id", "passed station"),
    "passed_at": ("passed at", "passed", "day and time"),
    "day": ("day", "passed on", "date"),
    "time": ("time", "hour"),
}
_NO_UNIT = marked("{unit!r} is no unit on record; give its chassis number or its shop number, or plan it first")
_NO_TIME = marked("{told!r} tells no day and time; write it as YYYY-MM-DD HH:MM, in the plant's own time")
_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(:[0-5]\d)?")


class UnusableList(Exception):
    """The table's heading does not say what such a list must say; the words say what is missing and what would do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedLine:
    """What a row of the file would do. row: in the file, from 1; unit: its chassis number, or what was told for one.

    outcome: "new" tells a passing, "same" is told so already, "wrong" is not taken; words: which, or why not and what
    would do. kind, body, passed_ms: of the operation; kind is "" where none is made. astray: the station stands on
    another line than the unit is built on, which is taken all the same: the words say so.
    """

    row: int
    unit: str
    outcome: Outcome
    words: str
    kind: str = ""
    body: Mapping[str, Any] = field(default_factory=dict)
    passed_ms: int = 0
    astray: bool = False


def places_of(heading: Sequence[str]) -> dict[str, int]:
    """Return where each column of a list stands. Raises UnusableList."""
    known = {name: column for column, names in _KNOWN.items() for name in names}
    at: dict[str, int] = {}
    for place, told in enumerate(heading):
        column = known.get(_plain(told))
        if column in at:
            raise UnusableList(
                say(
                    "two columns of the file mean {column}, the second is {told!r}",
                    column=_plain(column or ""),
                    told=told[:60],
                )
            )
        if column is not None:
            at[column] = place
    for needed, what in (
        ("unit", marked("no column tells the unit; {more}")),
        ("station", marked("no column tells the station; {more}")),
    ):
        if needed not in at:
            raise UnusableList(_missing(what, heading))
    if "passed_at" not in at and not {"day", "time"} <= at.keys():
        raise UnusableList(_missing(marked("no column tells when it passed; {more}"), heading))
    return at


def _missing(what: str, heading: Sequence[str]) -> str:
    seen = ", ".join(repr(one[:30]) for one in heading[:12]) or say("nothing")
    more = say("the heading has {seen}, a list's columns are unit, station, passed at (or day, time)", seen=seen)
    return say(what, more=more)


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[\s_.-]+", " ", name).split()).casefold()


def passed_lines(
    rows: Iterable[tuple[int, Sequence[str]]],
    at: Mapping[str, int],
    plant: Plant,
    units: Mapping[str, str],
    record: Callable[[str], UnitRecord | None],
    now: int,
) -> tuple[PassedLine, ...]:
    """Return what each row would do, in order.

    units: chassis number by chassis and by shop number; record: of a unit; now: ms since 1970.
    """
    reader = _Rows(plant, at, units, record, now)
    return tuple(reader.line(row, cells) for row, cells in rows)


class _Wrong(Exception):
    """A row that is not taken, in words."""


class _Rows:
    def __init__(
        self,
        plant: Plant,
        at: Mapping[str, int],
        units: Mapping[str, str],
        record: Callable[[str], UnitRecord | None],
        now: int,
    ) -> None:
        self._plant, self._at, self._units, self._record, self._now = plant, at, units, record, now
        self._names = Names(plant)
        self._zone = ZoneInfo(plant.time_zone)
        self._by_name = {_plain(one.name): one.id for one in plant.stations.values()}
        self._met: dict[tuple[str, str, int], int] = {}

    def line(self, row: int, cells: Sequence[str]) -> PassedLine:
        def cell(column: str) -> str:
            place = self._at.get(column)
            return cells[place] if place is not None and place < len(cells) else ""

        told = cell("unit")[:40]
        try:
            unit, station = self._unit(told), self._station(cell("station"))
            ms = self._when(cell("passed_at") or f"{cell('day')} {cell('time')}".strip())
        except _Wrong as wrong:
            return PassedLine(row=row, unit=told, outcome="wrong", words=str(wrong))
        return self._held_against(row, unit, station, ms)

    def _unit(self, told: str) -> str:
        unit = self._units.get(cleaned(told))
        if unit is None:
            raise _Wrong(say(_NO_UNIT, unit=told))
        return unit

    def _station(self, told: str) -> str:
        station = told if told in self._plant.stations else self._by_name.get(_plain(told), told.upper())
        for fault in passed_station({"station": station}, self._plant, ""):
            raise _Wrong(say_told(fault.message).replace(station, repr(told[:40])))
        return station

    def _when(self, told: str) -> int:
        day, _, hour = told.replace("T", " ").partition(" ")
        found = _TIME.fullmatch(hour.strip())
        if found is None:
            raise _Wrong(say(_NO_TIME, told=told[:40]))
        try:
            on = self._plant.plan.day_of(day)
            local = datetime(on.year, on.month, on.day, int(found[1]), int(found[2]), tzinfo=self._zone)
            ms = round(local.timestamp() * 1000)
        except (ValueError, OverflowError):
            raise _Wrong(say("{day!r} is no day; write it as YYYY-MM-DD", day=day[:40])) from None
        if ms > self._now:
            raise _Wrong(say("{day} has not come yet; a passing is told once it was", day=told[:40]))
        if self._now - ms > LONG_MS:
            raise _Wrong(say("{day} is more than 60 days ago; so late a passing is not taken in", day=told[:40]))
        return ms

    def _held_against(self, row: int, unit: str, station: str, ms: int) -> PassedLine:
        met = self._met.setdefault((unit, station, ms), row)
        record = self._record(unit)
        told = [one for one in record.passings if one.station == station] if record else []
        equal = [one for one in told if one.passed_ms // MINUTE_MS == ms // MINUTE_MS]
        if met != row:
            return PassedLine(row=row, unit=unit, outcome="same", words=say("row {row} says the same", row=met))
        if equal:
            undone = all(one.withdrawn for one in equal)
            words = say("{station}: told so before", station=station)
            if undone:
                words = say("{station}: told so before and taken back since; it stays so", station=station)
            return PassedLine(row=row, unit=unit, outcome="same", words=words)
        stands = any(not one.withdrawn for one in told)
        words = say("passed {station}", station=station)
        if stands:
            words = say("passed {station}; it passed there at another time too, the earliest counts", station=station)
        apart = self._apart(record, station) if record else ""
        return PassedLine(
            row=row,
            unit=unit,
            outcome="new",
            words=f"{words}; {apart}" if apart else words,
            kind="station_passed",
            body={"station": station},
            passed_ms=ms,
            astray=bool(apart),
        )

    def _apart(self, record: UnitRecord, station: str) -> str:
        """Return that a station stands on another line than the unit is built on, "" where it does not."""
        own, its = self._plant.line_of(record.model, record.line), self._plant.line_at(station)
        if its in ("", own):
            return ""
        line = self._names.line(its)
        if not own:
            return say("it stands on {line}, which builds no {model}", line=line, model=record.model)
        return say("it stands on {line}, the unit is built on {own}", line=line, own=self._names.line(own))
