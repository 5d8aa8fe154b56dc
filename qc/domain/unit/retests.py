"""A failed test stands: what a further value needs, and which failures a defect has to tell.

A test that is done again until it passes says nothing: with enough tries a leaking unit shows a good value once. So a
value after a failure names why the first is not believed or no longer holds, both stand side by side and are counted.
A repair in the test's groups voids the failure already, and after that the next value is a first one; a repair that
the record does not tie to the test does not, so the tester says "repair". A slip of the finger is taken back by its
author while the inspection runs; it stays in the record with the reason. Common practice, no source.

A hazardous failure (gas, mains: the tests' table says which) is also a defect, which somebody has to repair and
another person look at, whatever the next value shows. Nobody but the tester may write that in the tester's name, so
the record makes none by itself: the release stays blocked until a person has recorded it, and taking the value back
does not lift that. A defect tells a failure where it names it, or is of the type that the test fails into and was not
settled before the failure.
"""

from collections.abc import Iterable

from qc.domain.unit.unit_record import DefectRecord, TestRecord


def stands_failed(results: Iterable[TestRecord]) -> TestRecord | None:
    """Return the failure that stands: the latest of a test's results where it failed, is not voided nor taken back."""
    standing = [one for one in results if one.taken_back_by is None]
    latest = standing[-1] if standing else None
    return latest if latest is not None and not latest.passed and latest.voided_by is None else None


def untold(results: Iterable[TestRecord]) -> tuple[TestRecord, ...]:
    """Return the failures of hazardous tests that no defect tells yet, taken back or not."""
    return tuple(one for one in results if one.hazard and not one.passed and one.told_by is None)


def told_failures(defect: DefectRecord, names: str | None, results: Iterable[TestRecord]) -> set[str]:
    """Return the ids of failures that a defect tells from now on: the one that it names, and those of its type."""
    return {
        one.id
        for one in results
        if not one.passed
        and one.told_by is None
        and (one.id == names or (one.hazard and one.fails_into == defect.type))
    }
