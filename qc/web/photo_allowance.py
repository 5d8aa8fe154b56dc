"""How much of photos the server takes of one phone in a day: a lost phone or a looping app fills no disk.

Counted in memory: who starts the server anew begins anew, which no phone can.
"""

import threading
from collections import defaultdict, deque
from collections.abc import Callable

from qc.domain.words.problems import Problem, Refused

HOUR_MS = 3_600_000
MOST_BYTES = 1_000_000_000  # of one phone in 24 hours: all that it keeps to offer again after a restore, three times
BEGUN_BYTES = 100_000  # what each photo that is begun counts besides its own bytes, so that tiny ones are bounded too


class PhotoAllowance:
    """What each phone has sent in the last 24 hours. Thread-safe. clock: milliseconds, one that nobody sets back."""

    def __init__(self, clock: Callable[[], int], most: int = MOST_BYTES) -> None:
        self._clock, self._most = clock, most
        self._guard = threading.Lock()
        self._hours: dict[str, deque[tuple[int, int]]] = defaultdict(deque)  # by phone: hour, bytes sent in it

    def demand(self, phone: str, bytes_: int) -> None:
        """Raise Refused, 429 ``photos_bounded``, where a piece goes beyond what is taken of one phone in a day."""
        with self._guard:
            sent = sum(sent for _, sent in self._of_the_day(phone))
        if sent + bytes_ > self._most:
            words = (
                f"This phone has sent {self._most // 1_000_000} MB of photos in 24 hours, more is not taken of one "
                "phone. The photo is kept on the phone and sent later by itself. Tell the administrator if nobody took "
                "so many."
            )
            raise Refused(Problem("photos_bounded", words), 429)

    def count(self, phone: str, bytes_: int, begun: bool) -> None:
        """Count a piece that was taken. begun: it is a photo's first."""
        more = bytes_ + BEGUN_BYTES * begun
        with self._guard:
            hours = self._of_the_day(phone)
            hour = self._hour()
            before = hours.pop()[1] if hours and hours[-1][0] == hour else 0
            hours.append((hour, before + more))

    def _of_the_day(self, phone: str) -> deque[tuple[int, int]]:
        hours = self._hours[phone]
        while hours and hours[0][0] <= self._hour() - 24:
            hours.popleft()
        return hours

    def _hour(self) -> int:
        return self._clock() // HOUR_MS
