"""Counts with their noun, for sentences that say more: as subjects, or where German leaves them as they are."""

from qc.domain.words.speaking import say, say_many


def units(number: int) -> str:
    """Return "1 unit", "2 units", "no unit"."""
    return say_many("{number} unit", "{number} units", number) if number else say("no unit")


def weeks(number: int) -> str:
    """Return "1 week", "2 weeks", "no week"."""
    return say_many("{number} week", "{number} weeks", number) if number else say("no week")


def defects(number: int) -> str:
    """Return "1 defect", "2 defects", "no defect"; as a subject or an object."""
    return say_many("{number} defect", "{number} defects", number) if number else say("no defect")
