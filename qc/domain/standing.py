"""In what role a person acted, kept with each operation so that years later it needs no list of people."""

from dataclasses import dataclass

from qc.domain.people import Person


@dataclass(frozen=True, slots=True)
class Standing:
    """A role, "" for somebody unknown, and the stations that a lead answered for."""

    role: str = ""
    stations: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Return the text that the journal keeps: the role, a lead's stations after a colon."""
        return f"{self.role}:{','.join(self.stations)}" if self.stations else self.role

    def leads(self, station: str | None) -> bool:
        """Return whether this is the lead of the station."""
        return self.role == "station_lead" and station in self.stations


def standing_of(person: Person | None) -> Standing:
    """Return a person's standing; nobody's is empty."""
    return Standing() if person is None else Standing(person.role, tuple(person.stations))


def standing_from(text: str) -> Standing:
    """Return the standing that the journal's text tells."""
    role, _, stations = text.partition(":")
    return Standing(role, tuple(stations.split(",")) if stations else ())
