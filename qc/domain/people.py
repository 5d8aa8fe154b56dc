"""Who may do what: the roles of a plant and the operations each may author."""

from dataclasses import dataclass
from typing import Literal

Role = Literal[
    "inspector",
    "tester",
    "repairer",
    "station_lead",
    "quality_manager",
    "dispatch",
    "administrator",
    "planner",
]
ROLES: tuple[Role, ...] = (
    "inspector",
    "tester",
    "repairer",
    "station_lead",
    "quality_manager",
    "dispatch",
    "administrator",
    "planner",
)

PLANNING_ROLES = frozenset({"planner", "quality_manager"})  # who plans units
PASSPHRASE_ROLES = frozenset({"quality_manager", "administrator"})  # who signs in with more than a PIN

SERVER = "SERVER"  # author and device of what the server says of itself, or is told on its console; nobody's code
SERVER_ROLE = "server"


@dataclass(frozen=True, slots=True)
class Person:
    """A named person by code. stations: what a station lead answers for, empty for everybody else."""

    code: str
    name: str
    role: Role
    stations: tuple[str, ...] = ()
