"""Who may do what: the roles of a plant and the operations each may author."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

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
ROLES: tuple[Role, ...] = get_args(Role)

PLANNING_ROLES = frozenset({"planner", "quality_manager"})  # who plans units
PASSPHRASE_ROLES = frozenset({"quality_manager", "administrator"})  # who signs in with more than a PIN

SERVER = "SERVER"  # author and device of what the server says of itself, or is told on its console; nobody's code
SERVER_ROLE = "server"


class InRoles:
    """Somebody in one role or several; whatever asks for a role asks here, never the field alone.

    role: the first, by which the person is named; also: further ones, in the order of `ROLES`, empty for most.
    """

    __slots__ = ()

    role: str
    also: tuple[str, ...]

    @property
    def roles(self) -> tuple[str, ...]:
        """Every role, the first one first; empty for somebody unknown."""
        return (self.role, *self.also) if self.role else ()

    def has(self, *any_of: str) -> bool:
        """Return whether one of these roles is theirs."""
        return not set(any_of).isdisjoint(self.roles)

    @property
    def asks_passphrase(self) -> bool:
        """Whether they sign in with more than a PIN."""
        return self.has(*PASSPHRASE_ROLES)

    @property
    def role_words(self) -> str:
        """Their roles for a sentence: "tester", "station lead and repairer"."""
        return words_of(self.roles)


@dataclass(frozen=True, slots=True)
class Roles(InRoles):
    """Roles alone, before or without a person who has them."""

    role: str = ""
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Person(InRoles):
    """A named person by code. stations: what a station lead answers for, empty for who is none."""

    code: str
    name: str
    role: Role
    stations: tuple[str, ...] = ()
    also: tuple[Role, ...] = ()


def words_of(roles: Sequence[str], led: Sequence[str] = ()) -> str:
    """Return roles for a sentence, "" for none: "tester", "station lead of S05, repairer and dispatch".

    led: the stations that a lead answers for, none where they are not to be said.
    """
    of = {"station_lead": f" of {', '.join(led)}"} if led else {}
    named = [f"{one.replace('_', ' ')}{of.get(one, '')}" for one in roles]
    return " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)


def in_order(roles: Collection[Role]) -> tuple[Role, ...]:
    """Return roles in the order of `ROLES`, each once; one that the plant does not know comes last, to be refused."""
    known = [one for one in ROLES if one in roles]
    return (*known, *sorted(one for one in set(roles) if one not in ROLES))
