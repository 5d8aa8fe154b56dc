"""A check of the record: how many things were looked at, how many were wrong, and the first of them in words."""

from collections.abc import Iterator
from dataclasses import dataclass

SHOWN = 5  # faults told of each check; the count is told in full


@dataclass(frozen=True, slots=True)
class Check:
    """One check. looked_at: how many things; faults: how many were wrong; told: the first of them in words."""

    name: str
    looked_at: int
    faults: int
    told: tuple[str, ...]


def checked(name: str, looks: Iterator[str | None]) -> Check:
    """Run a check: it yields for each thing looked at None, or what is wrong with it."""
    looked_at, faults = 0, 0
    told: list[str] = []
    for wrong in looks:
        looked_at += 1
        if wrong is not None:
            faults += 1
            told += [wrong] if len(told) < SHOWN else []
    return Check(name, looked_at, faults, tuple(told))
