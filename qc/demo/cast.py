"""The invented plant's people by code and role, and who carries which phone."""

from qc.domain.facts.people import Person
from qc.domain.plant.plant import Plant

LED = ("feeder", "remote", "main", "test", "inspection", "rework", "dispatch")  # kinds of station with a lead
DESK = "DESK"
TEST_TABLETS = ("T1", "T2")  # T1 in the services test bay; T2 in the spray booth and at the wheels
PHONES = ("P1", "P2", "P3", "P4", "P5")
FULL_PHONE_WEEK = 16  # an inspector carries P5 in the week its storage is full; the repairers take P2


def lead_of(station: str) -> str:
    """Return the code of a station's lead."""
    return f"L-{station}"


def people(plant: Plant) -> list[Person]:
    """Return everybody of the demo; names are roles, since nobody here is real."""
    named = [
        *(Person(f"I{k}", f"Inspector {k}", "inspector") for k in (1, 2, 3, 4)),
        *(Person(f"TB{k}", f"Test bay {k}", "tester") for k in (1, 2)),
        *(Person(f"RW{k}", f"Rework {k}", "repairer") for k in (1, 2)),
        Person("QM1", "Quality manager", "quality_manager"),
        Person("DX1", "Dispatch", "dispatch"),
        Person("PL1", "Planner", "planner"),
        Person("AD1", "Administrator", "administrator"),
    ]
    led = [station for station in plant.stations.values() if station.kind in LED]
    return named + [Person(lead_of(one.id), f"Lead of {one.id}", "station_lead", (one.id,)) for one in led]


def phone_of(person: str, week: int) -> str:
    """Return the phone that an inspector or repairer carries in a week of the story."""
    if person.startswith("RW"):
        return "P2" if week == FULL_PHONE_WEEK else "P5"
    if person == "I2" and week == FULL_PHONE_WEEK:
        return "P5"
    return f"P{person[1:]}"


def tester_on(shift: str) -> str:
    """Return who tests in a shift."""
    return "TB1" if shift == "early" else "TB2"


def repairer_on(shift: str) -> str:
    """Return who repairs in a shift."""
    return "RW1" if shift == "early" else "RW2"
