"""Settling: each numbered operation gets its verdict by the rules, and those that waited for it get theirs."""

from collections.abc import Callable
from dataclasses import replace
from heapq import heapify, heappop, heappush

from qc.domain.acts.kinds import BEGINS, KINDS, Kind, body_fault, named_ids
from qc.domain.facts.days import day_fault
from qc.domain.facts.operations import Fault, Operation
from qc.domain.facts.proof import SIGNATURES
from qc.domain.facts.refusals import Refusal
from qc.domain.facts.rule_set import DAYS_JUDGED, UNITS_AWAITED
from qc.domain.line.line_record import Line
from qc.domain.line.proposal import Proposal
from qc.domain.line.roster import NO_PHONES
from qc.domain.plant.references import reference_fault
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.unit.folding import Folding
from qc.domain.unit.unit_record import Event
from qc.store.intake.admission import REASONS
from qc.store.intake.frozen import freeze
from qc.store.intake.in_hand import InHand
from qc.store.intake.quarantine import keep_word
from qc.store.record import verdicts
from qc.store.record.arrivals import REVISION, Arrival, arrival_of, journal_row
from qc.store.record.entries import Entries
from qc.store.record.verdicts import Parked, Verdict, unit_key

_PLACE = "SELECT coalesce(max(place), 0) FROM verdict"


class Settler:
    """Applies the rules in one transaction. What operations change is written by `write`, before the transaction ends.

    places: how many operations have come into effect so far. released: ids of the releases among them since this
    list was last emptied.
    """

    def __init__(self, entries: Entries, plant_rules_of: Callable[[str], PlantRules]) -> None:
        conn = entries.conn
        self._entries = entries
        self._plant_rules_of = plant_rules_of
        self.released: list[str] = []
        self.places = int(conn.execute(_PLACE).fetchone()[0])
        self._waited_for = verdicts.waited_for(conn)
        self._hand = InHand(entries, plant_rules_of)

    def settle(self, arrival: Arrival) -> Verdict:
        """Give a new journal row its verdict, then settle what was parked for it; return the row's own verdict."""
        verdict, waits_for = self._judged(arrival)
        self._entries.settle(arrival.number, verdict, self._place(arrival, verdict))
        if waits_for:
            self._park(arrival.number, waits_for)
        else:
            self._release_waiting(arrival, verdict, arrival.number)
        return verdict

    def write(self) -> None:
        """Write what waits: rows, verdicts and what the operations settled so far changed in the derived tables."""
        self._hand.write()

    def _place(self, arrival: Arrival, verdict: Verdict) -> int | None:
        if verdict.verdict != "applied":
            return None
        if arrival.kind == "unit_released":
            self.released.append(arrival.id)
        self.places += 1
        return self.places

    def _release_waiting(self, arrival: Arrival, verdict: Verdict, cause: int) -> None:
        """Settle what waited for an operation that has its verdict, and for the unit that it brought on record."""
        ready = [arrival.id] if arrival.id in self._waited_for else []
        while ready:
            for number in verdicts.take_waiting(self._entries.conn, ready.pop(0)):
                ready += self._settle_waiting(number, cause)
        if arrival.kind in BEGINS and verdict.verdict == "applied":
            self._release_unit(unit_key(arrival.unit or ""), cause)

    def _release_unit(self, key: str, cause: int) -> None:
        """Settle what waited for a unit in the order of the journal, whatever else each waited for.

        One look at it ends before the next begins.
        """
        if key not in self._waited_for:
            return
        numbers = verdicts.take_waiting(self._entries.conn, key)
        heapify(numbers)
        while numbers:
            for id_ in self._settle_waiting(heappop(numbers), cause):
                for number in verdicts.take_waiting(self._entries.conn, id_):
                    heappush(numbers, number)

    def _settle_waiting(self, number: int, cause: int) -> tuple[str, ...]:
        """Look at one that waited again; return its id, which others may wait for, () where it waits still."""
        waiting = self._waiting(number, cause)
        verdict, waits_for = self._judged(waiting)
        verdicts.resettle(self._entries.conn, number, verdict, self._place(waiting, verdict), cause)
        if waits_for:
            self._park(number, waits_for)
            return ()
        return (waiting.id,)

    def _park(self, number: int, waits_for: str) -> None:
        verdicts.park(self._entries.conn, number, waits_for)
        self._waited_for.add(waits_for)

    def _waiting(self, number: int, cause: int) -> Arrival:
        row = journal_row(self._entries.conn, number)
        arrival = arrival_of(row, self._plant_rules_of(row[REVISION]))
        arrival.cause = cause
        return arrival

    def _judged(self, a: Arrival) -> tuple[Verdict, str]:
        """Return the verdict on an operation, which has had its effect where applied, and the id it waits for or ""."""
        if a.admission:
            return Verdict(a.id, "quarantined", a.admission, REASONS[a.admission], number=a.number), ""
        try:
            self._effect(a)
        except Refusal as no:
            return Verdict(a.id, "refused", no.code, no.reason, number=a.number), ""
        except Parked as parked:
            return Verdict(a.id, "parked", "", str(parked), number=a.number), parked.waits_for
        return Verdict(a.id, "applied", number=a.number), ""

    def _effect(self, a: Arrival) -> None:
        op = a.op
        if op is None or a.fault is not None:
            raise _malformed(a.fault or Fault("", "cannot be read"))
        kind = KINDS[op.kind]
        if not kind.effective or a.rules < kind.since:
            raise Refusal("not_effective_yet", kind.later)
        if fault := body_fault(kind, op.unit, op.body, a.rules):
            raise _malformed(fault)
        _require_role(kind, a)
        held = self._hand.unit(op.unit or "") if kind.on_unit else self._hand.line()
        ids = named_ids(kind, op)
        if ids and isinstance(held, Folding):
            ids = tuple(id_ for id_ in ids if not held.holds(id_))
        if ids:
            verdicts.require(self._entries.conn, ids)
        model = _model(held, kind, op, a.rules)
        if fault := reference_fault(kind.refers, op.body, a.plant_rules.plant, model):
            raise Refusal("unknown_code", f"{fault.field}: {fault.message}")
        if a.rules >= DAYS_JUDGED and (fault := day_fault(op.kind, op.body, a.plant_rules.calendar_day(a.received_ms))):
            raise Refusal("day_out_of_range", f"{fault.field}: {fault.message}")
        event = Event(
            *(a.number, op, a.happened_ms, "applied", a.plant_rules, a.cause, a.received_ms),
            clock_suspect=a.clock_suspect,
            rules=a.rules,
        )
        self._hand.apply(kind, held, Proposal(event, a.standing, a.rules, self._hand))
        if kind.name == "unit_released":
            freeze(self._entries.conn, a, event, self._hand)
        elif kind.name == "quarantine_taken":
            self._take_in(a)
        elif kind.name == "quarantine_left":
            self._leave(a)

    def _take_in(self, a: Arrival) -> None:
        """Let what was set aside come into effect under the manager's name, or refuse the manager's word."""
        aside = self._hand.set_aside(a.body["operation"])
        assert aside is not None
        taken = self._waiting(aside.number, a.number)
        taken.admission, taken.taken_in = "", True
        taken.author, taken.standing = a.author, a.standing
        if taken.op is not None:
            taken.op = replace(taken.op, author=a.author)
        verdict, _ = self._judged(taken)
        if verdict.verdict != "applied":
            why = f"it does not come into effect ({verdict.code or 'it waits'}): {verdict.reason}"
            raise Refusal("not_taken_in", why)
        verdicts.resettle(self._entries.conn, aside.number, verdict, self._place(taken, verdict), a.number)
        keep_word(self._entries.conn, aside.number, "taken", a.author, a.body["reason"].strip(), a.number)
        self._release_waiting(taken, verdict, a.number)

    def _leave(self, a: Arrival) -> None:
        """Tell the phone too that it stays without effect, by whose word and why."""
        aside = self._hand.set_aside(a.body["operation"])
        assert aside is not None
        reason = a.body["reason"].strip()
        words = f"{a.author} looked at it and left it without effect: {reason}"
        left = Verdict(a.body["operation"], "quarantined", "left", words, number=aside.number)
        verdicts.resettle(self._entries.conn, aside.number, left, None, a.number)
        keep_word(self._entries.conn, aside.number, "left", a.author, reason, a.number)


def _model(held: Folding | Line, kind: Kind, op: Operation, rules: int) -> str:
    """Return the model of the operation's unit, "" without one. Raises Parked, or Refusal ``unknown_unit``.

    A phone has its units from the record or brings them on it itself. One that the record lacks stood there before it
    went back to a backup, and comes again with its plan: refused, work on it would be lost for good. A signature is
    for what its signer saw; it is given anew.
    """
    if isinstance(held, Line) or kind.name in BEGINS:
        return ""
    if held.is_planned:
        return held.unit.model
    if rules >= UNITS_AWAITED and op.device not in NO_PHONES and kind.name not in SIGNATURES:
        raise Parked(unit_key(op.unit or ""), f"it waits for unit {op.unit}, which no plan on record holds yet")
    raise Refusal("unknown_unit", f"{op.unit} is not planned here; read the number off the metal again")


def _malformed(fault: Fault) -> Refusal:
    return Refusal("malformed", f"{fault.field or 'operation'} {fault.message}")


def _require_role(kind: Kind, a: Arrival) -> None:
    roles = kind.roles_under(a.rules)
    if a.taken_in or a.standing.has(*roles):  # the manager answers for what they take in, whoever may do it
        return
    may = ", ".join(sorted(roles)).replace("_", " ")
    who = f"{a.author} is {a.standing.role_words or 'not known here'}"
    raise Refusal("not_your_role", f"{who}; {kind.name.replace('_', ' ')} is for: {may}")
