"""Which pages the head of each page offers to whom."""

from dataclasses import dataclass

from qc.domain.people import Person
from qc.store.intake.quarantine import waiting_count
from qc.web.house import the_house


@dataclass(frozen=True, slots=True)
class Link:
    """An entry of the head's navigation."""

    name: str
    href: str


_LOOKS = {
    "quality_manager": Link("Inspectors", "/inspectors"),
    "inspector": Link("Own re-looks", "/inspectors/me"),
}


def pages_of(person: Person) -> tuple[Link, ...]:
    """Return the pages that a person may open from the head of each page."""
    links = []
    if person.role == "quality_manager":
        aside = "Set aside: look" if waiting_count(the_house().reads.connection()) else "Set aside"
        links += [Link("Review", "/review"), Link("Signals", "/signals"), Link("What waits", "/backlog")]
        links.append(Link(aside, "/set-aside"))
    if person.role in ("quality_manager", "station_lead"):
        links.append(Link("Stations", "/stations"))
    if person.role in ("quality_manager", "inspector"):
        links.append(_LOOKS[person.role])
    if person.role in ("administrator", "quality_manager"):
        links.append(Link("People and phones", "/people"))
    if person.role == "administrator":
        links.append(Link("Plant's tables", "/plant-tables"))  # the manager's head is full; theirs is on that page
        links.append(Link("Wrong tries", "/sign-ins"))
    if person.role in ("planner", "quality_manager"):
        links.append(Link("Build plan", "/plan"))
    return (*links, Link("Units", "/units"), Link("Paper sheets", "/paper"), Link("Recording app", "/app/"))
