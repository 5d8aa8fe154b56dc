"""What is settled at the door and kept with the row, because no later reading of the journal could tell it.

When an operation happened by the server's clock, and whether it is let in or put in quarantine.
"""

from typing import Any

MINUTE_MS = 60_000
DAY_MS = 24 * 60 * MINUTE_MS
SUSPECT_MS = 10 * MINUTE_MS  # a clock ahead by more is told
FUTURE_MS = DAY_MS
LATE_MS = 60 * DAY_MS

REASONS = {
    "unverified_author": "nothing proves that its author made it on that device: it bears no signature of a key that "
    "the server certified for them; it is kept, without effect, until a manager looks at it",
    "unproved_signature": "a release is signed with the PIN or passphrase that the server checks at that moment, and "
    "this one bears no proof of it; it is kept, without effect: sign it anew",
    "author_not_known": "nobody of this record has its author's code, as where it went back to a backup of before they "
    "were added; it is kept, without effect, until a manager looks at it",
    "device_revoked": "the device was revoked; what it sends is kept, without effect, until a manager looks at it",
    "from_future": "the device's clock is more than a day ahead; kept, without effect: set the clock, record anew",
    "late": "it is more than 60 days old; it is kept, without effect: a manager must look at it",
    "sequence_reused": "the device used this sequence number before, as after being restored from a copy; it is kept, "
    "without effect: enrol the device anew and record it again",
}


def happened(wall_ms: Any, sent_ms: int, received_ms: int) -> tuple[int, bool, bool]:
    """Return when an operation happened by the server's clock, whether its clock is suspect, whether it is future.

    The device's claim is shifted by how far its clock stood from the server's at sending, and never later than
    receipt. A claim that is no number counts as receipt, suspect.
    """
    if not isinstance(wall_ms, int) or isinstance(wall_ms, bool) or wall_ms < 0:
        return received_ms, True, False
    claimed = wall_ms + received_ms - sent_ms
    if claimed < 0:
        return 0, True, False
    ahead = claimed - received_ms
    return min(claimed, received_ms), ahead > SUSPECT_MS, ahead > FUTURE_MS


def quarantine(happened_ms: int, received_ms: int, *, future: bool, reused: bool, revoked: bool, unproved: str) -> str:
    """Return why an operation is kept without effect, "" where it is let in. unproved: why its author is not, or ""."""
    if reused:
        return "sequence_reused"
    if revoked:
        return "device_revoked"
    if unproved:
        return unproved
    if future:
        return "from_future"
    return "late" if received_ms - happened_ms > LATE_MS else ""
