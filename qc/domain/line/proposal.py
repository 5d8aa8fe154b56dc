"""What a rule is asked about: an operation that wants to come into effect, and what it may ask of the whole record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from qc.domain.facts.standing import Standing
from qc.domain.line.line_record import SetAside
from qc.domain.unit.unit_record import Event, UnitRecord


class WholeRecord(Protocol):
    """What a rule may ask beyond the unit or the line that it judges."""

    def unit_of(self, kinds: Sequence[str], id_: str) -> str | None:
        """Return the unit of an operation in effect of one of these kinds, None where there is no such."""

    def planned_as(self, chassis: str, shop_number: str) -> tuple[str, str] | None:
        """Return chassis and shop number of a planned unit that has either, None where both are free."""

    def set_aside(self, id_: str) -> SetAside | None:
        """Return how an operation that was set aside stands, None for an id of no such."""

    def keeps_tables(self, revision: str) -> bool:
        """Return whether the record keeps the plant's tables of a revision."""

    def read_anew(self, chassis: str) -> tuple[UnitRecord | None, Sequence[Event]]:
        """Return a unit's record folded anew from its operations, None where none plans it, and the operations."""


@dataclass(slots=True)
class Proposal:
    """An operation before its rule. standing: in what role its author stood at receipt;
    rules: the rule set that it is judged by.
    """

    event: Event
    standing: Standing
    rules: int
    record: WholeRecord

    @property
    def body(self) -> Mapping[str, Any]:
        """The operation's body, whose shape was found right."""
        return self.event.operation.body
