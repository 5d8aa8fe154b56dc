"""For how long a signal may be muted."""

from datetime import date, timedelta

# A baseline serves 26 weeks; after that what was muted has become the usual, or is a new signal.
LONGEST = timedelta(weeks=26)
USUAL = timedelta(weeks=4)  # offered at first: long enough to see whether a repair of the process took
LEAST_REASON = 3  # characters, as for every reason in the record


def first_end(made: date) -> date:
    """Return the first day until which a signal muted on a day can be muted: the next one."""
    return made + timedelta(days=1)


def last_end(made: date) -> date:
    """Return the last day until which a signal muted on a day can be muted."""
    return made + LONGEST


def end_fault(made: date, until: date) -> str:
    """Return why a signal muted on the day ``made`` cannot be muted until another day, "" where it can."""
    if first_end(made) <= until <= last_end(made):
        return ""
    wrong = "is not after" if until <= made else f"is more than {LONGEST.days // 7} weeks after"
    return (
        f"a mute until {until} {wrong} the day it is made, {made}; give a day from {first_end(made)} to "
        f"{last_end(made)}, after which the signal is looked at again"
    )
