"""What waits and for whom: open criticals, disputes, origins that nobody has named, and each lead's own backlog."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.counted.backlogs import OpenOrigin, OpenOrigins
from qc.domain.counted.counts import Critical
from qc.domain.facts.people import Person
from qc.domain.plant.plant import FIELD, UNKNOWN, Plant
from qc.domain.unit.origins import has_lead
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.asking import Asking
from qc.store.counts import Counts
from qc.store.reading.reads import Reads

LISTED = 200  # of each list; the counts are of all
MANAGER = marked("Quality manager")
CANCELLED = marked(
    "The unit is cancelled, which mends nothing: see to it where the unit stands, or have it taken up again."
)
LOOK_ANEW = marked(
    "Tell whoever has the unit: it must be looked at before it is used. Then repair, and another looks again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCriticalLine:
    """One critical that is open or waits for its re-check. age_days: days since it was found.

    owner: who has it now, as the rules say; nobody is named in the record for a repair. next_step: what they do.
    """

    defect: str
    unit: str
    shop_number: str
    what: str
    found_at: str
    found_day: date
    age_days: int
    state: str
    owner: str
    next_step: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginLine:
    """One defect whose origin waits for the manager: disputed, or named by nobody. age_days: since that is so.

    said: "disputed", "named by nobody", "said to be not known"; place: what it stands against, in words, "" nothing.
    """

    defect: str
    unit: str
    shop_number: str
    what: str
    severity: str
    found_at: str
    found_day: date
    finder: str
    place: str
    said: str
    said_by: str
    reason: str
    age_days: int


@dataclass(frozen=True, slots=True)
class LeadLine:
    """What waits for the word of one place's lead. leads: their codes; without one the manager answers.

    waiting: suspected there, overdue: of these found more than three working days ago, disputed: answered, with the
    manager now; oldest_days: days since the oldest that waits was found, None where nothing waits.
    """

    place: str
    name: str
    leads: tuple[str, ...]
    waiting: int
    overdue: int
    disputed: int
    oldest_days: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Backlog:
    """Everything that waits, as of a day. plant_found, field_found: open origins of what the plant found and of what
    was found after dispatch; disputes, unnamed: the first 200 of each. sentence: the first screen's line."""

    today: date
    criticals: tuple[OpenCriticalLine, ...]
    plant_found: OpenOrigins
    field_found: OpenOrigins
    disputes: tuple[OriginLine, ...]
    unnamed: tuple[OriginLine, ...]
    by_lead: tuple[LeadLine, ...]
    sentence: str

    @property
    def disputed_total(self) -> int:
        """Return all disputes, listed or not."""
        return self.plant_found.disputed + self.field_found.disputed

    @property
    def unnamed_total(self) -> int:
        """Return all defects that nobody has named a place for, or said to be not known."""
        return sum(one.unnamed + one.not_known for one in (self.plant_found, self.field_found))


def backlog(counts: Counts, reads: Reads, plant: Plant, people: Sequence[Person], now_ms: int) -> Backlog:
    """Return what waits now (ms since 1970 UTC); people: who is at work, whose stations are theirs to answer for."""
    ask = Asking(counts=counts, plant=plant, now_ms=now_ms)
    found = [counts.open_origins(now_ms, field=field) for field in (False, True)]
    criticals = tuple(_critical(ask, one, people) for one in counts.open_criticals())
    disputes = tuple(_origin(ask, one, code_words("disputed")) for one in counts.disputed(LISTED))
    unnamed = tuple(_origin(ask, one, _said(one)) for one in counts.unnamed(LISTED))
    by_lead = _by_lead(ask, reads, people)
    return Backlog(
        today=ask.today,
        criticals=criticals,
        plant_found=found[0],
        field_found=found[1],
        disputes=disputes,
        unnamed=unnamed,
        by_lead=by_lead,
        sentence=_sentence(criticals, found, disputes, by_lead),
    )


def _critical(ask: Asking, one: Critical, people: Sequence[Person]) -> OpenCriticalLine:
    owner, step = _whose(ask, one, people)
    return OpenCriticalLine(
        defect=one.defect,
        unit=one.unit,
        shop_number=one.shop_number,
        what=ask.names.critical(one.type, one.grade),
        found_at=ask.names.found_at(one.point),
        found_day=one.found_day,
        age_days=(ask.today - one.found_day).days,
        state=code_words(one.state),
        owner=owner,
        next_step=step,
    )


def _whose(ask: Asking, one: Critical, people: Sequence[Person]) -> tuple[str, str]:
    """Return who has an open critical now and what they do: nobody but the rules says it."""
    if one.on_cancelled:
        return say(MANAGER), say(CANCELLED)
    if one.state == "repaired":
        return (
            say("An inspector who did not repair it"),
            say("Look at the repair again: accept it, or send it back."),
        )
    if one.point == FIELD:
        return say(MANAGER), say(LOOK_ANEW)
    bays = [station.id for station in ask.plant.stations.values() if station.kind == "rework"]
    leads = [person.code for bay in bays for person in people if bay in person.stations]
    named = ", ".join([*map(ask.names.place, bays), *leads]) or say("nobody is named")
    return (
        say("Repairers ({named})", named=named),
        say("Repair it; another person looks at it again. The unit is not released before."),
    )


def _said(one: OpenOrigin) -> str:
    return say("said to be not known") if one.station == UNKNOWN else say("named by nobody")


def _origin(ask: Asking, one: OpenOrigin, said: str) -> OriginLine:
    place = one.station if one.station and one.station != UNKNOWN else ""
    return OriginLine(
        defect=one.defect,
        unit=one.unit,
        shop_number=one.shop_number,
        what=ask.names.type(one.type),
        severity=ask.names.severity(one.severity, one.grade),
        found_at=ask.names.found_at(one.point),
        found_day=one.found_day,
        finder=one.finder,
        place=ask.names.place(place) if place else "",
        said=said,
        said_by=one.said_by,
        reason=one.reason,
        age_days=(ask.today - one.since).days,
    )


def _by_lead(ask: Asking, reads: Reads, people: Sequence[Person]) -> tuple[LeadLine, ...]:
    """Return the places that anything waits at, in table order, those without a lead last."""
    at = reads.unsettled(ask.counts.confirm_before(ask.now_ms))
    oldest = ask.counts.oldest_waiting()
    lines = [
        LeadLine(
            place,
            ask.place_name(place),
            _leads(ask.plant, place, people),
            held.waiting,
            held.overdue,
            held.disputed,
            (ask.today - oldest[place]).days if place in oldest else None,
        )
        for place in ask.plant.stations
        if place != UNKNOWN and (held := at.get(place)) is not None
    ]
    return tuple(sorted(lines, key=lambda line: not has_lead(ask.plant, line.place)))


def _leads(plant: Plant, place: str, people: Sequence[Person]) -> tuple[str, ...]:
    if not has_lead(plant, place):
        return ()
    return tuple(person.code for person in people if person.has("station_lead") and place in person.stations)


def _sentence(
    criticals: Sequence[OpenCriticalLine],
    found: Sequence[OpenOrigins],
    disputes: Sequence[OriginLine],
    by_lead: Sequence[LeadLine],
) -> str:
    disputed, unnamed = sum(one.disputed for one in found), sum(one.unnamed for one in found)
    not_known = sum(one.not_known for one in found)
    waiting, overdue = sum(line.waiting for line in by_lead), sum(line.overdue for line in by_lead)
    if not (criticals or disputed or unnamed or not_known or waiting):
        return say("Nothing waits: no critical is open, and every origin is settled.")
    parts = [
        say_many("{number} critical open", "{number} criticals open", len(criticals)) if criticals else "",
        _disputed(disputed, disputes) if disputed else "",
        say_many("{number} origin that nobody has named", "{number} origins that nobody has named", unnamed)
        if unnamed
        else "",
        say("{number} said to be not known", number=not_known) if not_known else "",
        say(
            "{waiting} with the leads, {overdue} of them for more than 3 working days", waiting=waiting, overdue=overdue
        )
        if waiting
        else "",
    ]
    told = "; ".join(part for part in parts if part)
    return f"{told[0].upper()}{told[1:]}."


def _disputed(number: int, disputes: Sequence[OriginLine]) -> str:
    if not disputes:
        return say_many("{number} dispute for you to settle", "{number} disputes for you to settle", number)
    return say_many(
        "{number} dispute for you to settle, the oldest for {days} days",
        "{number} disputes for you to settle, the oldest for {days} days",
        number,
        days=max(line.age_days for line in disputes),
    )
