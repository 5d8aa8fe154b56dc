"""Which pages the head of each page offers to whom."""

from dataclasses import dataclass

from qc.domain.facts.people import Person
from qc.domain.words.speaking import say
from qc.store.intake.awaited import awaited_count
from qc.store.intake.quarantine import waiting_count
from qc.web.house import the_house

AWAITED_MS = 30 * 24 * 3_600_000  # a unit that has not come by then is none of this plant; the page still tells


@dataclass(frozen=True, slots=True)
class Link:
    """An entry of the head's navigation."""

    name: str
    href: str


def pages_of(person: Person) -> tuple[Link, ...]:
    """Return the pages that a person may open from the head of each page."""
    links = []
    if person.has("quality_manager"):
        aside = say("Set aside: look") if waiting_count(the_house().reads.connection()) else say("Set aside")
        links += [Link(say("Review"), "/review"), Link(say("Signals"), "/signals"), Link(say("What waits"), "/backlog")]
        links.append(Link(aside, "/set-aside"))
    if person.has("quality_manager", "station_lead"):
        links.append(Link(say("Stations"), "/stations"))
    if person.has("quality_manager"):
        links.append(Link(say("Inspectors"), "/inspectors"))
    if person.has("inspector"):
        links.append(Link(say("Own re-looks"), "/inspectors/me"))
    if person.has("administrator", "quality_manager"):
        links.append(Link(say("People and phones"), "/people"))
    if person.has("administrator"):
        links.append(Link(say("Plant's tables"), "/plant-tables"))  # the manager's head is full; theirs is on that page
        links.append(Link(say("Wrong tries"), "/sign-ins"))
    if person.has("planner", "quality_manager"):
        house = the_house()
        waits = awaited_count(house.reads.connection(), house.clock() - AWAITED_MS)
        links.append(Link(say("Build plan: look") if waits else say("Build plan"), "/plan"))
    return (
        *links,
        Link(say("Units"), "/units"),
        Link(say("Paper sheets"), "/paper"),
        Link(say("Recording app"), "/app/"),
    )
