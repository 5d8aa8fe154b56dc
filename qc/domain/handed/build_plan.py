"""A build plan held against the plant and what is planned already: what each row would do, before anything is done."""

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.days import day_fault
from qc.domain.facts.operations import Fault
from qc.domain.plant.chassis import (
    chassis_fault,
    cleaned,
    full_number,
    model_of,
    number_fault,
    sequence_told,
    shop_number,
)
from qc.domain.plant.naming import Names
from qc.domain.plant.plan_form import CHANGING, is_other_form
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import marked, say, told

Outcome = Literal["new", "changed", "same", "wrong"]

# How a heading may be written beside the plant's own names for it; blanks, underscores, dashes and case do not matter.
_KNOWN: Mapping[str, tuple[str, ...]] = {
    "chassis": ("chassis", "chassis number", "chassis no"),
    "model": ("model", "model code"),
    "sequence": ("sequence", "sequence number"),
    "shop_number": ("shop number", "shop no"),
    "planned_day": ("planned day", "day", "build day", "planned for"),
    "options": ("options", "option"),
    "build_sheet": ("build sheet",),
    "line": ("line",),
}
_COLUMNS: Mapping[str, str] = {
    "chassis": marked("chassis"),
    "model": marked("model"),
    "sequence": marked("sequence"),
    "shop_number": marked("shop number"),
    "planned_day": marked("planned day"),
    "options": marked("options"),
    "build_sheet": marked("build sheet"),
    "line": marked("line"),
}
_STAYS_CANCELLED = marked(
    "planned so already, for {day}; it is cancelled, and stays so until it is taken up again on its page"
)
_ENDED = marked("{model} is ended in the plant's tables; no unit of it is planned any more")
NO_LINE = marked("{line!r} is no line of this plant; it has {known}")
_NUMBER_TAKEN = marked("{number} is the shop number of {unit}, which is planned already")
_DIVIDES_OPTIONS = re.compile(r"[;,|]")


class UnusablePlan(Exception):
    """The table's heading does not say what a plan must say; the words say what is missing and what would do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedUnit:
    """A unit as the record has it. is_released, is_cancelled: its plan changes no more.
    met_by: who met it while no plan holds it, "" where one does. line: as told of it, "" where nobody said."""

    chassis: str
    shop_number: str
    options: tuple[str, ...]
    build_sheet: str | None
    planned_day: str
    is_released: bool
    is_cancelled: bool = False
    met_by: str = ""
    line: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLine:
    """What a row of the file would do. row: in the file, from 1; unit: its number as told or made, "" where none is.

    outcome: "new" plans a unit, "changed" changes its plan, "same" is planned so already, "wrong" is not taken.
    words: what changes, or what is wrong with which value and what would do. kind, body: of the operation, "" and
    empty where none is made.
    """

    row: int
    unit: str
    outcome: Outcome
    words: str
    kind: str = ""
    body: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Columns:
    """Where a plan's columns stand. at: place in the row by column; left_out: headings that no column bears."""

    at: Mapping[str, int]
    left_out: tuple[str, ...]


def columns_of(heading: Sequence[str], plant: Plant) -> Columns:
    """Return where each column of a plan stands, by the plant's own names or the usual ones. Raises UnusablePlan."""
    known = {_plain(name): column for column, names in _KNOWN.items() for name in names}
    known |= {_plain(name): column for column, name in plant.plan.names.items()}
    at: dict[str, int] = {}
    left_out = []
    for place, name in enumerate(heading):
        column = known.get(_plain(name))
        if column is None:
            left_out.extend([name[:60]] if name else [])
        elif column in at:
            raise UnusablePlan(
                say(
                    "two columns of the file mean {column}, the second is {told!r}; keep one",
                    column=_plain(column),
                    told=name[:60],
                )
            )
        else:
            at[column] = place
    if not ("chassis" in at or "shop_number" in at or {"model", "sequence"} <= at.keys()):
        raise UnusablePlan(
            _missing(
                marked("no column tells a chassis number, a shop number or a model with a sequence; {more}"),
                heading,
                plant,
            )
        )
    if "planned_day" not in at:
        raise UnusablePlan(_missing(marked("no column tells the planned day; {more}"), heading, plant))
    return Columns(at, tuple(left_out))


def _missing(what: str, heading: Sequence[str], plant: Plant) -> str:
    asked = [column for column in _KNOWN if column != "line" or plant.lines]
    own = [f"{plant.plan.names.get(column, _KNOWN[column][0])}" for column in asked]
    seen = ", ".join(repr(one[:30]) for one in heading[:12]) or say("nothing")
    more = say("the heading has {seen}, a plan's columns are {columns}", seen=seen, columns=", ".join(own))
    return say(what, more=more)


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[\s_.-]+", " ", name).split()).casefold()


def plan_lines(
    rows: Iterable[tuple[int, Sequence[str]]],
    columns: Columns,
    plant: Plant,
    planned: Mapping[str, PlannedUnit],
    today: date,
) -> tuple[PlanLine, ...]:
    """Return what each row would do, in order. planned: the units on record by chassis number."""
    reader = _Rows(plant, columns, planned, today)
    return tuple(reader.line(row, cells) for row, cells in rows)


class _Wrong(Exception):
    """A row that is not taken, in words."""


class _Rows:
    def __init__(self, plant: Plant, columns: Columns, planned: Mapping[str, PlannedUnit], today: date) -> None:
        self._plant, self._at, self._planned, self._today = plant, columns.at, planned, today
        self._names = Names(plant)
        self._by_shop = {unit.shop_number: unit.chassis for unit in planned.values()}
        self._models = {_plain(name): code for code, model in plant.models.items() for name in (model.name, code)}
        self._met: dict[str, int] = {}

    def line(self, row: int, cells: Sequence[str]) -> PlanLine:
        def cell(column: str) -> str:
            place = self._at.get(column)
            return cells[place] if place is not None and place < len(cells) else ""

        try:
            chassis, body = self._numbers(cell)
        except _Wrong as wrong:
            unit = cell("chassis") or cell("shop_number") or f"{cell('model')} {cell('sequence')}".strip()
            return PlanLine(row=row, unit=unit[:40], outcome="wrong", words=str(wrong))
        try:
            body |= self._rest(cell, body["model"])
            return self._held_against(row, chassis, body)
        except _Wrong as wrong:
            return PlanLine(row=row, unit=chassis, outcome="wrong", words=str(wrong))

    def _numbers(self, cell: Callable[[str], str]) -> tuple[str, dict[str, Any]]:
        """Return the chassis number with model, sequence and shop number, each as told or as the others tell it."""
        chassis, shop = cleaned(cell("chassis")), cleaned(cell("shop_number"))
        if chassis and (fault := chassis_fault(self._plant, chassis)):
            raise _Wrong(told(fault))
        model = self._model(cell("model"), chassis, shop)
        sequence = self._sequence(cell("sequence"), chassis, shop, model)
        try:
            short = shop or shop_number(self._plant, model, sequence)
            full = chassis or full_number(self._plant, model, sequence)
        except ValueError as error:
            raise _Wrong(told(str(error))) from None
        if fault := number_fault(self._plant, full, model, sequence, short):
            raise _Wrong(say("{number} does not belong to this row: {why}", number=full, why=told(fault)))
        return full, {"model": model, "shop_number": short, "sequence": sequence}

    def _model(self, named: str, chassis: str, shop: str) -> str:
        if named:
            model = self._models.get(_plain(named))
        else:
            model = model_of(self._plant, chassis or shop, is_shop=not chassis) if chassis or shop else None
        if model is None:
            models = ", ".join(self._plant.models)
            if named:
                raise _Wrong(
                    say("{named!r} is no model of this plant; it has {models}", named=named[:40], models=models)
                )
            number = chassis or shop or say("an empty number")
            raise _Wrong(say("{number} is of no model of this plant; it has {models}", number=number, models=models))
        return model

    def _sequence(self, counted: str, chassis: str, shop: str, model: str) -> int:
        figures = counted or sequence_told(self._plant, chassis or shop, model, is_shop=not chassis)
        if not re.fullmatch(r"[0-9]{1,9}", figures):
            most = 10**self._plant.numbers.figures - 1
            raise _Wrong(
                say(
                    "{figures!r} is no sequence; it is a whole number from 1 to {most}", figures=figures[:40], most=most
                )
            )
        return int(figures)

    def _rest(self, cell: Callable[[str], str], model: str) -> dict[str, Any]:
        rest: dict[str, Any] = {"planned_day": self._day(cell("planned_day"))}
        if "options" in self._at:
            # One spelling of each letter: spreadsheets of some machines write an umlaut as two characters.
            told = unicodedata.normalize("NFC", cell("options"))
            parts = [part.strip() for part in _DIVIDES_OPTIONS.split(told)]
            rest["options"] = self._options(list(dict.fromkeys(part for part in parts if part)))
        if "build_sheet" in self._at:
            rest["build_sheet"] = cell("build_sheet") or None
        if self._plant.lines and (told := cell("line")):
            rest["line"] = self._line(told, model)
        return rest

    def _line(self, told: str, model: str) -> str:
        known = self._plant.lines
        names = {
            _plain(unicodedata.normalize("NFC", word)): one.code
            for one in known.values()
            for word in (one.name, one.code)
        }
        line = names.get(_plain(unicodedata.normalize("NFC", told)))
        if line is None:
            raise _Wrong(say(NO_LINE, line=told[:40], known=self._names.lines(known)))
        if line not in self._plant.lines_of(model):
            lines, its = self._names.lines(self._plant.lines_of(model)), self._names.line(line)
            raise _Wrong(say("{line} builds no {model}; that is built on {lines}", line=its, model=model, lines=lines))
        return line

    def _new_line(self, known: PlannedUnit | None, body: Mapping[str, Any]) -> dict[str, str]:
        """Return the line of a new unit where the plan says none and one alone is not ended; refuses what is open."""
        model, told = body["model"], body.get("line") or (known.line if known else "")
        lines = self._plant.lines_of(model)
        going = [one for one in lines if not self._plant.lines[one].ended]
        if lines and (not going or (told and self._plant.line_of(model, told) not in going)):
            raise _Wrong(
                say(
                    "line {line} is ended in the plant's tables; no unit is planned on it any more",
                    line=self._names.line(told or lines[0]),
                )
            )
        if not told and len(going) > 1:
            column = self._plant.plan.names.get("line", "line")
            raise _Wrong(
                say(
                    "{model} is built on {lines}; say on which in the column {column}",
                    model=model,
                    lines=self._names.lines(going),
                    column=column,
                )
            )
        return {} if told or len(lines) < 2 else {"line": going[0]}

    def _options(self, told: list[str]) -> list[str]:
        """Return the options, each one of the plant's where it names them: a slip would leave out what one asks for."""
        known = self._plant.options
        names = {_plain(word): one.code for one in known.values() for word in (one.name, one.code)}
        for one in told if known else ():
            if _plain(one) not in names:
                raise _Wrong(
                    say(
                        "{option!r} is no option of this plant; it has {known}",
                        option=one[:40],
                        known=", ".join(each.name for each in known.values()),
                    )
                )
        return list(dict.fromkeys(names[_plain(one)] for one in told)) if known else told

    def _day(self, told: str) -> str:
        try:
            return self._plant.plan.day_of(told).isoformat()
        except ValueError:
            form, day = self._plant.plan.day_format, told[:40]
            if form:
                words = say("{day!r} is no day; write it as YYYY-MM-DD or {form}", day=day, form=form)
            elif is_other_form(told):
                words = say(
                    "{day!r} is no day; write it as YYYY-MM-DD, or let [plan] in plant.toml tell the plan's own form "
                    "(day_format)",
                    day=day,
                )
            else:
                words = say("{day!r} is no day; write it as YYYY-MM-DD", day=day)
            raise _Wrong(words) from None

    def _held_against(self, row: int, chassis: str, body: dict[str, Any]) -> PlanLine:
        if chassis in self._met:
            raise _Wrong(
                say("row {row} names {unit} already; a plan names each unit once", row=self._met[chassis], unit=chassis)
            )
        self._met[chassis] = row
        known = self._planned.get(chassis)
        if known is None and self._plant.models[body["model"]].ended:
            raise _Wrong(say(_ENDED, model=body["model"]))
        if known is None or (known.met_by and not known.is_cancelled):
            body |= self._new_line(known, body)
        if known is None:
            body = {name: value for name, value in body.items() if value is not None}
            other = self._by_shop.get(body["shop_number"])
            if other is not None:
                raise _Wrong(say(_NUMBER_TAKEN, number=body["shop_number"], unit=other))
            return self._doing(row, chassis, "new", _planned_words(body, self._names), "unit_planned", body)
        if known.met_by and not known.is_cancelled:
            body = {name: value for name, value in body.items() if value is not None}
            words = _planned_words(body, self._names, known.met_by)
            return self._doing(row, chassis, "new", words, "unit_planned", body)
        changes = {name: body[name] for name in CHANGING if name in body and body[name] != _told(known, name)}
        if not changes:
            words = say("planned so already, for {day}", day=known.planned_day)
            if known.is_cancelled:
                words = say(_STAYS_CANCELLED, day=known.planned_day)
            return PlanLine(row=row, unit=chassis, outcome="same", words=words)
        if known.is_cancelled:
            words = say("{unit} is cancelled; take it up again on its page", unit=known.shop_number)
            raise _Wrong(f"{words} ({_words(self._plant, known, changes)})")
        if known.is_released:
            words = say("{unit} is released; its plan changes no more", unit=known.shop_number)
            raise _Wrong(f"{words} ({_words(self._plant, known, changes)})")
        return self._doing(
            row, chassis, "changed", _words(self._plant, known, changes), "plan_changed", {"changes": changes}
        )

    def _doing(
        self, row: int, chassis: str, outcome: Outcome, words: str, kind: str, body: Mapping[str, Any]
    ) -> PlanLine:
        fault = body_fault(KINDS[kind], chassis, body) or day_fault(kind, body, self._today)
        if fault:
            raise _Wrong(_fault_words(fault))
        return PlanLine(row=row, unit=chassis, outcome=outcome, words=words, kind=kind, body=body)


def _planned_words(body: Mapping[str, Any], names: Names, met_by: str = "") -> str:
    day, line = body["planned_day"], names.line(body["line"]) if "line" in body else None
    if line is not None and met_by:
        return say("met by {who} before the plan; planned for {day} on line {line}", who=met_by, day=day, line=line)
    if met_by:
        return say("met by {who} before the plan; planned for {day}", who=met_by, day=day)
    return say("planned for {day} on line {line}", day=day, line=line) if line else say("planned for {day}", day=day)


def _told(known: PlannedUnit, name: str) -> Any:
    value = getattr(known, name)
    return list(value) if isinstance(value, tuple) else value


def _words(plant: Plant, known: PlannedUnit, changes: Mapping[str, Any]) -> str:
    names = Names(plant)
    pairs = ((name, _shown(name, _told(known, name), names), _shown(name, now, names)) for name, now in changes.items())
    return "; ".join(f"{_column(name)} {before} → {now}" for name, before, now in pairs)


def _shown(name: str, value: Any, names: Names) -> str:
    if isinstance(value, list):  # options alone are several
        return ", ".join(map(names.option, value)) or say("none")
    if name == "line" and value:
        return names.line(value)
    return str(value or say("none"))


def _fault_words(fault: Fault) -> str:
    name = fault.field.removeprefix("body.").removeprefix("changes.")
    return f"{_column(name)}: {told(fault.message.removeprefix(f'{name} '))}"


def _column(name: str) -> str:
    return say(_COLUMNS[name]) if name in _COLUMNS else _plain(name)
