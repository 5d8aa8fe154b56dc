"""The words of a unit's alarm: what arrived after its release, and what follows.

They stand in the record's tables: new words need a migration that says the old ones anew.
"""

_STALE = (
    "arrived after this unit was released. That release is no longer in force: the unit is not released until somebody "
    "has looked at it again and it is released anew."
)
_FIELD = (
    "was found after dispatch. The record still says released, and it keeps no holds: whoever has the unit must be "
    "told, and it must be looked at before it is used."
)


def arrival_alarm(kind: str, what: str, zone: str, severity: str, author: str) -> str:
    """Return the alarm that an operation on a released unit raises, "" where it raises none.

    what: the defect's type, or the test. A field finding raises one only when it is critical: others are expected
    after dispatch.
    """
    if kind == "field_finding":
        return f"A critical defect ({what} in {zone}, by {author}) {_FIELD}" if severity == "critical" else ""
    if kind == "test_recorded":
        return f"A failed test ({what}, by {author}) {_STALE}"
    if kind == "repair_done":
        return f"A repair ({what}, by {author}) that nobody has looked at again {_STALE}"
    if kind == "recheck_failed":
        return f"A repair that failed its re-check ({severity} {what} in {zone}, by {author}) {_STALE}"
    if kind == "defect_corrected":
        return f"A correction to critical ({what} in {zone}, by {author}) {_STALE}"
    return f"A {severity} defect ({what} in {zone}, by {author}) {_STALE}"


def joined_alarm(standing: str, words: str) -> str:
    """Return a unit's alarm with one more line under what stands already."""
    return f"{standing}\n{words}" if standing else words
