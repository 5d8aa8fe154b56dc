"""How a test's value and a defect's severity are judged against the plant's tables."""

from collections.abc import Iterable, Mapping
from typing import Any

from qc.domain.plant.plant import SEVERITIES, DefectType, Plant, Test

RANK: dict[str, int] = {severity: rank for rank, severity in enumerate(SEVERITIES)}  # 0 is the most serious


def within(test: Test, value: float) -> bool:
    """Return whether a measured value is inside the test's limits, which count as inside."""
    low_enough = test.upper is None or value <= test.upper
    return low_enough and (test.lower is None or value >= test.lower)


def judged_reading(test: Test, value: float, beyond: str) -> bool | None:
    """Return whether a reading is inside the limits, None where an open-ended one does not tell.

    beyond "above" says more than ``value`` (>200), "below" less; "" exactly it.
    """
    if not beyond:
        return within(test, value)
    near, far = (test.lower, test.upper) if beyond == "above" else (test.upper, test.lower)
    sign = 1 if beyond == "above" else -1
    if far is not None:
        return False if sign * value >= sign * far else None
    return True if near is None or sign * value >= sign * near else None


def told_reading(value: float, beyond: str) -> str:
    """Return a reading as it was entered: an open-ended one with its sign, never as a plain number."""
    return f"{'>' if beyond == 'above' else '<' if beyond == 'below' else ''}{value:.10g}"


def result_fault(test: Test, body: Mapping[str, Any], name: str) -> str | None:
    """Return what a test's result lacks: a measured one its value, the others their yes or no. A blank is no pass.

    name: what the test is called in these words.
    """
    if test.kind == "pass":
        if body.get("beyond"):
            return f"{name} is passed or failed; it has no reading"
        return None if body.get("passed") is not None else f"{name} needs passed true or false"
    value, beyond = body.get("value"), body.get("beyond", "")
    if value is None:
        return f"{name} is measured in {test.unit}: the value is missing"
    if beyond and beyond not in test.beyond:
        return f"{name} takes no reading {beyond} the instrument's range; use a range that shows the value"
    if body.get("passed") is not False and judged_reading(test, value, beyond) is None:
        told = told_reading(value, beyond)
        return f"{name} {told} {test.unit} does not tell whether the limit is met; use a range that reaches it"
    return None


def has_passed(test: Test, body: Mapping[str, Any]) -> bool:
    """Return whether a result passes: a measured one by the limits, and only if nobody called it failed."""
    if test.kind == "pass":
        return body.get("passed") is True
    value = body.get("value")
    inside = value is not None and judged_reading(test, value, body.get("beyond", "")) is True
    return inside and body.get("passed") is not False


def implausible(test: Test, value: float | None, name: str) -> str:
    """Return why a value has to be asked about, "" where it lies inside what the tests' table calls plausible.

    name: what the test is called in these words.
    """
    if value is None or test.kind == "pass":
        return ""
    if test.least is not None and value < test.least:
        return f"{value:.10g} {test.unit} is less than {test.least:g}, the least that {name} can plausibly show"
    if test.most is not None and value > test.most:
        return f"{value:.10g} {test.unit} is more than {test.most:g}, the most that {name} can plausibly show"
    return ""


def tells_failure(failed: Test, type_: DefectType) -> bool:
    """Return whether a defect of a type can tell a test's failure.

    The type that the test fails into; of a test that is no hazard any other too, of a hazardous one those that stop
    the unit.
    """
    return type_.code == failed.defect_on_fail or type_.stop_unit or not failed.hazard


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
