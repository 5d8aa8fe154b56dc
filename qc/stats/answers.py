"""The answer that there is too little data, with its reason; never NaN, never a silent None."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TooLittle:
    """Too little data for the question asked.

    what: the question; reason: why it has no answer yet, in words a page can print; have, need: how many of the
    thing that is short there are, and how many would do.
    """

    what: str
    reason: str
    have: int
    need: int
