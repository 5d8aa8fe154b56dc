"""In what role a person acted, kept with each operation so that years later it needs no list of people."""

from dataclasses import dataclass

from qc.domain.facts.people import InRoles, Person


@dataclass(frozen=True, slots=True)
class Standing(InRoles):
    """A role, "" for somebody unknown, the stations that a lead answered for, and further roles."""

    role: str = ""
    stations: tuple[str, ...] = ()
    also: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Return the text that the journal keeps: the roles with a plus between, a lead's stations after a colon."""
        roles = "+".join(self.roles)
        return f"{roles}:{','.join(self.stations)}" if self.stations else roles

    def leads(self, station: str | None) -> bool:
        """Return whether this is the lead of the station."""
        return self.has("station_lead") and station in self.stations


def standing_of(person: Person | None) -> Standing:
    """Return a person's standing; nobody's is empty."""
    return Standing() if person is None else Standing(person.role, tuple(person.stations), tuple(person.also))


def standing_from(text: str) -> Standing:
    """Return the standing that the journal's text tells."""
    roles, _, stations = text.partition(":")
    role, *also = roles.split("+")
    return Standing(role, tuple(stations.split(",")) if stations else (), tuple(also))
