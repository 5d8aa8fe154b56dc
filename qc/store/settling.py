"""Settling: each numbered operation gets its verdict by the rules, and those that waited for it get theirs."""

import sqlite3
from collections.abc import Callable

from qc.domain.days import day_fault
from qc.domain.operations import KINDS, Fault, Kind, body_fault, referred_ids
from qc.domain.references import reference_fault
from qc.domain.rule_set import DAYS_JUDGED
from qc.store import verdicts
from qc.store.admission import REASONS
from qc.store.arrivals import REVISION, Arrival, arrival_of, journal_row
from qc.store.ground import Ground
from qc.store.projections import HANDLERS, units
from qc.store.verdicts import Parked, Refusal, Verdict

_PLACE = "SELECT coalesce(max(place), 0) FROM verdict"


class Settler:
    """Applies the rules in one connection.

    places: how many operations have come into effect so far. released: ids of the releases among them since this
    list was last emptied.
    """

    def __init__(self, conn: sqlite3.Connection, ground_of: Callable[[str], Ground]) -> None:
        self._conn = conn
        self._ground_of = ground_of
        self.released: list[str] = []
        self.places = int(conn.execute(_PLACE).fetchone()[0])
        self._waited_for = verdicts.waited_for(conn)

    def settle(self, arrival: Arrival) -> Verdict:
        """Give a new journal row its verdict, then settle what was parked for it; return the row's own verdict."""
        verdict, waits_for = judged(self._conn, arrival)
        verdicts.store(self._conn, arrival.number, verdict, self._place(arrival, verdict))
        if waits_for:
            self._park(arrival.number, waits_for)
        elif arrival.id in self._waited_for:
            self._release_waiting(arrival)
        return verdict

    def _place(self, arrival: Arrival, verdict: Verdict) -> int | None:
        if verdict.verdict != "applied":
            return None
        if arrival.kind == "unit_released":
            self.released.append(arrival.id)
        self.places += 1
        return self.places

    def _release_waiting(self, arrival: Arrival) -> None:
        ready = [arrival.id]
        while ready:
            for number in verdicts.take_waiting(self._conn, ready.pop(0)):
                waiting = self._waiting(number, arrival.number)
                verdict, waits_for = judged(self._conn, waiting)
                verdicts.resettle(self._conn, number, verdict, self._place(waiting, verdict), arrival.number)
                if waits_for:
                    self._park(number, waits_for)
                else:
                    ready.append(waiting.id)

    def _park(self, number: int, waits_for: str) -> None:
        verdicts.park(self._conn, number, waits_for)
        self._waited_for.add(waits_for)

    def _waiting(self, number: int, cause: int) -> Arrival:
        row = journal_row(self._conn, number)
        arrival = arrival_of(row, self._ground_of(row[REVISION]))
        arrival.cause = cause
        return arrival


def judged(conn: sqlite3.Connection, a: Arrival) -> tuple[Verdict, str]:
    """Return the verdict on an operation, with its effects written where applied, and the id it waits for or ""."""
    if a.admission:
        return Verdict(a.id, "quarantined", a.admission, REASONS[a.admission], number=a.number), ""
    try:
        _effect(conn, a)
    except Refusal as no:
        return Verdict(a.id, "refused", no.code, no.reason, number=a.number), ""
    except Parked as parked:
        reason = f"it waits for {parked.waits_for}, which has not arrived yet"
        return Verdict(a.id, "parked", "", reason, number=a.number), parked.waits_for
    return Verdict(a.id, "applied", number=a.number), ""


def _effect(conn: sqlite3.Connection, a: Arrival) -> None:
    op = a.op
    if op is None or a.fault is not None:
        raise _malformed(a.fault or Fault("", "cannot be read"))
    kind = KINDS[op.kind]
    if not kind.effective:
        raise Refusal("not_effective_yet", kind.later)
    if fault := body_fault(kind, op.unit, op.body, a.rules):
        raise _malformed(fault)
    _require_role(kind, a)
    if ids := referred_ids(op):
        verdicts.require(conn, ids)
    if kind.on_unit and op.kind != "unit_planned":
        units.require_unit(conn, a)
    if fault := reference_fault(op, a.ground.plant, a.model or None):
        raise Refusal("unknown_code", f"{fault.field}: {fault.message}")
    if a.rules >= DAYS_JUDGED and (fault := day_fault(op.kind, op.body, a.ground.calendar_day(a.received_ms))):
        raise Refusal("day_out_of_range", f"{fault.field}: {fault.message}")
    HANDLERS[op.kind](conn, a)
    if kind.on_unit:
        units.touch(conn, a)


def _malformed(fault: Fault) -> Refusal:
    return Refusal("malformed", f"{fault.field or 'operation'} {fault.message}")


def _require_role(kind: Kind, a: Arrival) -> None:
    if a.standing.role in kind.roles:
        return
    may = ", ".join(sorted(kind.roles)).replace("_", " ")
    who = f"{a.author} is {a.standing.role.replace('_', ' ')}" if a.standing.role else f"{a.author} is not known here"
    raise Refusal("not_your_role", f"{who}; {kind.name.replace('_', ' ')} is for: {may}")
