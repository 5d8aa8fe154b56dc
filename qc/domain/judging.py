"""How a test's value and a defect's severity are judged against the plant's tables."""

from collections.abc import Iterable, Mapping
from typing import Any

from qc.domain.plant import SEVERITIES, Plant, Test

RANK: dict[str, int] = {severity: rank for rank, severity in enumerate(SEVERITIES)}  # 0 is the most serious


def within(test: Test, value: float) -> bool:
    """Return whether a measured value is inside the test's limits, which count as inside."""
    low_enough = test.upper is None or value <= test.upper
    return low_enough and (test.lower is None or value >= test.lower)


def result_fault(test: Test, body: Mapping[str, Any]) -> str | None:
    """Return what a test's result lacks: a measured one its value, the others their yes or no. A blank is no pass."""
    if test.kind == "measure" and body.get("value") is None:
        return f"{test.id} is measured in {test.unit}: the value is missing"
    if test.kind == "pass" and body.get("passed") is None:
        return f"{test.id} needs passed true or false"
    return None


def has_passed(test: Test, body: Mapping[str, Any]) -> bool:
    """Return whether a result passes: a measured one by the limits, and only if nobody called it failed."""
    if test.kind == "pass":
        return body.get("passed") is True
    value = body.get("value")
    return value is not None and within(test, value) and body.get("passed") is not False


def is_lower(severity: str, than: str) -> bool:
    """Return whether a severity is less serious than another."""
    return RANK[severity] > RANK[than]


def groups_of(types: Iterable[str], plant: Plant) -> frozenset[str]:
    """Return the groups that defect types belong to; a type that the plant no longer has belongs to none."""
    return frozenset(plant.types[code].group for code in types if code in plant.types)


def voided_tests(groups: frozenset[str], plant: Plant) -> tuple[str, ...]:
    """Return the tests whose earlier results a repair in one of the groups voids, in table order."""
    return tuple(test.id for test in plant.tests.values() if groups & set(test.voided_by))


def shared_minutes(minutes: int, count: int) -> list[int]:
    """Return whole minutes shared evenly over ``count`` defects repaired together; their sum is ``minutes``."""
    each, left = divmod(minutes, count)
    return [each + (place < left) for place in range(count)]
