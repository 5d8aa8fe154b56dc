"""A check of the record: how many things were looked at, how many were wrong, and the first of them in words."""

import sqlite3
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
    """Run a check: it yields for each thing looked at None, or what is wrong with it.

    What a changed row makes it trip over is a fault too, and ends the check: bytes by another hand may be anything.
    Failures of the file or the disk are raised (sqlite3.DatabaseError, OSError).
    """
    looked_at, faults = 0, 0
    told: list[str] = []
    for wrong in _guarded(looks):
        looked_at += 1
        if wrong is not None:
            faults += 1
            told += [wrong] if len(told) < SHOWN else []
    return Check(name, looked_at, faults, tuple(told))


def _guarded(looks: Iterator[str | None]) -> Iterator[str | None]:
    try:
        yield from looks
    except (sqlite3.DatabaseError, OSError):
        raise
    except Exception as error:
        yield f"cannot be read, so that nothing after it was checked: {type(error).__name__}: {str(error)[:200]}"
