"""What is held of the line and not of a unit: notes, mutes, people, phones, machines, revised tables, as records."""

from dataclasses import dataclass, field

from qc.domain.facts.people import InRoles
from qc.domain.unit.folding import Kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """What changed at a station: a new person, tool, batch or method, noted at the time."""

    id: str
    station: str
    change: str
    what: str
    types: tuple[str, ...]
    from_day: str
    noted_by: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mute:
    """A signal that the quality manager does not want listed before a day. ended_*: by whom it was ended early."""

    id: str
    station: str
    type: str
    direction: str
    reason: str
    from_day: str
    until: str
    muted_by: str
    number: int
    ended_day: str | None = None
    ended_by: str | None = None

    def stands(self, day: str) -> bool:
        """Whether it keeps its signal off the list on a day (ISO)."""
        return self.ended_day is None and self.until >= day


@dataclass(frozen=True, slots=True, kw_only=True)
class Member(InRoles):
    """A person. secret: SHA-256 of the kept form, "" where none will do; secret_by: who set it, at secret_ms.

    number: of the last operation that changed them.
    """

    code: str
    name: str
    role: str
    stations: tuple[str, ...]
    ended: bool
    secret: str
    passphrase: bool
    secret_by: str
    secret_ms: int
    number: int
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Enrolled:
    """A phone or tablet. secret: SHA-256 of its own, "" for one that was never given any."""

    code: str
    enrolled_ms: int
    enrolled_by: str
    revoked: bool
    secret: str
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine's token. may: scopes; in_name_of: whose plans it hands in, "" for one that only reads.

    secret: SHA-256 of the token in hexadecimal. number: of the last operation that changed it.
    """

    code: str
    may: tuple[str, ...]
    in_name_of: str
    secret: str
    made_by: str
    made_ms: int
    ended: bool
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Revised:
    """Tables that followed others. from_day: the day (ISO) since which the plant works by them; revised_ms: received.

    revision, previous: digests of the tables, which the record keeps. at_console: the machine's account under which a
    command ran, "" on a page.
    """

    id: str
    revision: str
    previous: str
    reason: str
    from_day: str
    revised_by: str
    at_console: str
    revised_ms: int
    number: int


@dataclass(frozen=True, slots=True)
class SetAside:
    """An operation that was set aside. number: the server's; waits: it has no effect yet."""

    number: int
    kind: str
    waits: bool


@dataclass(slots=True)
class Line:
    """The line as its operations leave it. No rule asks for notes: only those not yet written need be here."""

    notes: Kept[str, Note] = field(default_factory=Kept)
    mutes: Kept[str, Mute] = field(default_factory=Kept)
    people: Kept[str, Member] = field(default_factory=Kept)
    devices: Kept[str, Enrolled] = field(default_factory=Kept)
    machines: Kept[str, Machine] = field(default_factory=Kept)
    revisions: Kept[str, Revised] = field(default_factory=Kept)

    def begin_anew(self) -> None:
        """Take what stands now for what stood before."""
        self.notes.clear()
        self.notes.before.clear()
        self.mutes.before.clear()
        self.people.before.clear()
        self.devices.before.clear()
        self.machines.before.clear()
        self.revisions.before.clear()
