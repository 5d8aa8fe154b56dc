"""The units in hand: those that operations came for lately, folded once and kept, and the line beside them.

What is here is what one connection's transaction has come to. Whoever undoes a part of that drops the whole of this.
"""

from collections import OrderedDict
from collections.abc import Callable, Sequence

from qc.domain.acts.kinds import BEGINS, Kind
from qc.domain.acts.unit import fold, folded, put
from qc.domain.line.line_record import Line, SetAside
from qc.domain.line.proposal import Proposal
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.unit.folding import Folding
from qc.domain.unit.unit_record import Event, UnitRecord
from qc.store.intake.quarantine import set_aside
from qc.store.record.entries import Entries
from qc.store.record.events import events_of
from qc.store.record.tables_kept import keeps_tables
from qc.store.tables.derived_rows import read_line, write_line, write_units

UNITS = 256  # kept; a plant has about as many on its lines and in its yard, and a cold one is folded in milliseconds

_UNIT_OF = "SELECT j.kind, j.unit, v.verdict FROM journal AS j JOIN verdict AS v USING (number) WHERE j.id = ?"
_PLANNED = "SELECT chassis, shop_number FROM unit WHERE chassis = ? OR shop_number = ?"


class InHand:
    """Units and the line in one connection: asked for, changed by operations, and written together.

    It is also what rules may ask of the whole record.
    """

    def __init__(self, entries: Entries, plant_rules_of: Callable[[str], PlantRules]) -> None:
        self._entries = entries
        self._plant_rules_of = plant_rules_of
        self._units: OrderedDict[str, Folding] = OrderedDict()
        self._unwritten: dict[str, Folding] = {}
        self._line: Line | None = None
        self._read: tuple[str, UnitRecord | None, list[Event]] | None = None  # anew, and not kept yet

    def unit(self, chassis: str) -> Folding:
        """Return a unit as its operations in effect leave it; one that is not planned is blank."""
        known = self._units.get(chassis)
        if known is not None:
            self._units.move_to_end(chassis)
            return known
        state, _ = folded(chassis, events_of(self._entries.conn, chassis, self._plant_rules_of))
        self._units[chassis] = state
        if len(self._units) > UNITS:
            oldest, _ = self._units.popitem(last=False)
            if oldest in self._unwritten:
                self.write()
        return state

    def line(self) -> Line:
        """Return the line as its operations in effect leave it."""
        if self._line is None:
            self._line = read_line(self._entries.conn)
        return self._line

    def apply(self, kind: Kind, held: Folding | Line, proposal: Proposal) -> None:
        """Ask the kind's rule and take its step; what it changed waits to be written. Raises Refusal, then nothing did.

        A unit that begins is written at once: the next plan is held against its numbers.
        """
        kind.rule(held, proposal)
        event = proposal.event
        if isinstance(held, Line):
            kind.step(held, event, proposal.body)
            return
        put(held, event)
        self._unwritten[event.operation.unit or ""] = held
        if kind.name in BEGINS:
            self.write()

    def write(self) -> None:
        """Write what waits: the rows that changed and the days that they count on."""
        conn = self._entries.conn
        if self._unwritten:
            write_units(conn, self._unwritten.values())
            self._unwritten.clear()
        if self._line is not None:
            write_line(conn, self._line)

    def unit_of(self, kinds: Sequence[str], id_: str) -> str | None:
        """Return the unit of an operation in effect of one of these kinds, None where there is no such."""
        row = self._entries.conn.execute(_UNIT_OF, (id_,)).fetchone()
        return str(row[1]) if row and row[0] in kinds and row[2] == "applied" else None

    def planned_as(self, chassis: str, shop_number: str) -> tuple[str, str] | None:
        """Return chassis and shop number of a planned unit that has either, None where both are free."""
        row: tuple[str, str] | None = self._entries.conn.execute(_PLANNED, (chassis, shop_number)).fetchone()
        return row

    def set_aside(self, id_: str) -> SetAside | None:
        """Return how an operation that was set aside stands, None for an id of no such."""
        return set_aside(self._entries.conn, id_)

    def keeps_tables(self, revision: str) -> bool:
        """Return whether the record keeps the plant's tables of a revision."""
        return keeps_tables(self._entries.conn, revision)

    def read_anew(self, chassis: str) -> tuple[UnitRecord | None, list[Event]]:
        """Return a unit's record folded anew from its operations, None where none plans it, and the operations."""
        events = events_of(self._entries.conn, chassis, self._plant_rules_of)
        self._read = chassis, fold(events), events
        return self._read[1:]

    def as_judged(self, chassis: str) -> tuple[UnitRecord, list[Event]]:
        """Return what was just read anew of a unit, for what is kept to be what was judged; it is forgotten by that."""
        assert self._read is not None
        (read, record, events), self._read = self._read, None
        assert read == chassis
        assert record is not None
        return record, events
